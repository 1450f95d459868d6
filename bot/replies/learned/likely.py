"""How likely it is that words ask or tell, and what: a logistic regression over words and pairs of words.

Multinomial logistic regression on tf-idf weights of unit length; Bishop, Pattern Recognition and Machine Learning
(2006), 4.3.4; Manning, Raghavan and Schütze, Introduction to Information Retrieval (2008), 6.2.
"""

from collections.abc import Iterable
from functools import cache, lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

WEIGHTS: Final = Path(__file__).with_name("weights.npz")
KEPT: Final = 64  # runs of words of one reply, each of which several readers weigh
ASKED, TOLD, WHETHER = "asked", "told", "whether"  # the matters asked about, those told of, and which of the two


class Likely(NamedTuple):
    """A matter and how likely it is."""

    matter: str
    chance: float


class Learned:
    """The weight of each word for each matter, as fitted."""

    def __init__(self, path: Path = WEIGHTS) -> None:
        with np.load(path) as kept:
            self.digest = bytes(kept["digest"]).decode()
            words = bytes(kept["words"]).decode().split("\n")
            self._rarity: NDArray[np.float32] = kept["rarity"].astype(np.float32)
            self._heads = {
                head: (
                    bytes(kept[f"{head}_matters"]).decode().split("\n"),
                    kept[f"{head}_weights"],
                    kept[f"{head}_base"],
                )
                for head in (ASKED, TOLD, WHETHER)
            }
        self._place = {word: n for n, word in enumerate(words)}
        self._likely = lru_cache(KEPT)(self._weighed)

    def likely(self, head: str, features: Iterable[str]) -> list[Likely]:
        """Every matter of a head, the likeliest first; what no known word speaks of is as likely as any."""
        return list(self._likely(head, frozenset(features)))

    def _weighed(self, head: str, features: frozenset[str]) -> tuple[Likely, ...]:
        matters, weights, base = self._heads[head]
        places = [self._place[one] for one in features if one in self._place]
        rarity = self._rarity[places]
        length = float(np.linalg.norm(rarity)) or 1.0
        scores = (rarity / length) @ weights[places].astype(np.float32) + base
        chances = np.exp(scores - scores.max())
        chances /= chances.sum()
        order = np.argsort(-chances)
        return tuple(Likely(matters[n], float(chances[n])) for n in order)

    def asks(self, features: Iterable[str]) -> float:
        """How likely it is that words ask, and do not tell."""
        return dict(self.likely(WHETHER, features))["asks"]


def digest(folder: Path) -> str:
    """What marks the sentences in a folder: weights of others than these are stale."""
    return sha256(b"".join((folder / f"{name}.tsv").read_bytes() for name in (ASKED, TOLD))).hexdigest()


@cache
def learned() -> Learned:
    """What was learned, read once."""
    return Learned()
