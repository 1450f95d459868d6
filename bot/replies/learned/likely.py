"""How likely it is that words ask or tell, and what: by a regression over words, pairs and letters, and by their order.

Multinomial logistic regression on tf-idf weights of unit length; Bishop, Pattern Recognition and Machine Learning
(2006), 4.3.4; Manning, Raghavan and Schütze, Introduction to Information Retrieval (2008), 6.2. Runs of letters share
a few thousand places: Weinberger and others, Feature hashing for large scale multitask learning (2009). The two are
pooled by the root of their product: Genest and Zidek, Combining probability distributions (1986), logarithmic pool.
"""

from collections.abc import Iterable
from functools import cache, lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Final, NamedTuple
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from bot.replies.learned.encoder import Encoder
from bot.replies.learned.features import RUN, Spoken

WEIGHTS: Final = Path(__file__).with_name("weights.npz")
KEPT: Final = 64  # runs of words of one reply, each of which several readers weigh
RUNS: Final = 2**14  # places of runs of letters; twice as many did no better
BY_COUNT_ALONE: Final = 0.97  # from here on their order is not looked at: 99 of 100 are right as it is; no source
ASKED, TOLD, WHETHER = "asked", "told", "whether"  # the matters asked about, those told of, and which of the two


class Likely(NamedTuple):
    """A matter and how likely it is."""

    matter: str
    chance: float


class Words:
    """Where each word stands among the weights, and how much it counts by its rarity."""

    def __init__(self, words: Iterable[str], rarity: NDArray[np.float32]) -> None:
        self._place = {word: n for n, word in enumerate(words)}
        self.rarity = rarity
        self.placed_once = lru_cache(KEPT)(self.placed)  # two heads weigh the same words

    def placed(self, said: Iterable[str]) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
        """The places of what was said and what each counts; words and runs of letters are of unit length each."""
        known = np.array([self._place[one] for one in said if one in self._place], dtype=np.int64)
        runs = np.array(sorted({len(self._place) + run_place(one) for one in said if one[0] == RUN}), dtype=np.int64)
        return np.concatenate([known, runs]), np.concatenate([self._unit(known), self._unit(runs)])

    def _unit(self, places: NDArray[np.int64]) -> NDArray[np.float32]:
        rarity = self.rarity[places]
        return rarity / (float(np.linalg.norm(rarity)) or 1.0)


@lru_cache(maxsize=8192)
def run_place(run: str) -> int:
    """Which of the places of runs of letters is that of one."""
    return crc32(run.encode()) % RUNS


class Learned:
    """The weight of each word for each matter, as fitted."""

    def __init__(self, path: Path = WEIGHTS) -> None:
        with np.load(path) as kept:
            self.digest = bytes(kept["digest"]).decode()
            self._words = Words(bytes(kept["words"]).decode().split("\n"), kept["rarity"].astype(np.float32))
            self._heads = {
                head: (
                    bytes(kept[f"{head}_matters"]).decode().split("\n"),
                    kept[f"{head}_weights"],
                    kept[f"{head}_step"],
                    kept[f"{head}_base"],
                )
                for head in (ASKED, TOLD, WHETHER)
            }
        self.encoder = Encoder()
        self._likely = lru_cache(KEPT)(self._weighed)

    def likely(self, head: str, spoken: Spoken) -> list[Likely]:
        """Every matter of a head, the likeliest first; what no known word speaks of is as likely as any."""
        return list(self._likely(head, spoken))

    def _weighed(self, head: str, spoken: Spoken) -> tuple[Likely, ...]:
        matters = self._heads[head][0]
        chances = self._by_count(head, spoken.counted)
        if head != WHETHER and chances.max() < BY_COUNT_ALONE:
            chances = np.sqrt(chances * self.encoder.chances(head, spoken.words))
        chances = chances / chances.sum()
        order = np.argsort(-chances)
        return tuple(Likely(matters[n], float(chances[n])) for n in order)

    def _by_count(self, head: str, counted: frozenset[str]) -> NDArray[np.float32]:
        _, weights, step, base = self._heads[head]
        places, counts = self._words.placed_once(counted if head != WHETHER else without_runs(counted))
        scores = (counts @ weights[places].astype(np.float32)) * step + base
        chances = np.exp(scores - scores.max())
        return np.asarray(chances / chances.sum(), dtype=np.float32)

    def asks(self, spoken: Spoken) -> float:
        """How likely it is that words ask, and do not tell; letters say nothing of that."""
        return dict(self.likely(WHETHER, spoken))["asks"]


def without_runs(features: Iterable[str]) -> frozenset[str]:
    """The words and pairs of words without the runs of letters."""
    return frozenset(one for one in features if one[0] != RUN)


def digest(folder: Path) -> str:
    """What marks the sentences in a folder: weights of others than these are stale."""
    return sha256(b"".join((folder / f"{name}.tsv").read_bytes() for name in (ASKED, TOLD))).hexdigest()


@cache
def learned() -> Learned:
    """What was learned, read once."""
    return Learned()
