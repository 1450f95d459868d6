"""The words of a reply as what is learned knows them: in their order, and by stems, pairs and runs of letters."""

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Final, NamedTuple

from bot.replies.words.marking import Marked

_MARKS: Final = {"@": "TREE", "%": "TEMP", "~": "LEN", "&": "WHO"}
_STOPS: Final = frozenset(".,;:!-")
_ENDINGS: Final = ("ing", "ed", "es", "s", "ly")
SHORTEST: Final = 3  # letters of a stem; no source
RUN: Final = "·"  # marks a run of letters, which is no word
LETTERS: Final = (3, 4, 5)  # in a run; 3 to 5 did best on 5,600 sentences of writers who were left out


class Spoken(NamedTuple):
    """Some words in their order, trees and measures as one word each; and what of them is counted."""

    words: tuple[str, ...]
    counted: frozenset[str]


def spoken_of(line: Marked, start: int = 0, end: int | None = None) -> Spoken:
    """Some words of a reply; counted are their stems, pairs and runs of letters, by which a slip is still known."""
    return _spoken_of(tuple(line.words[start:end]), tuple(line.moments_said))


@lru_cache(maxsize=256)
def _spoken_of(words: tuple[str, ...], moments_said: tuple[str, ...]) -> Spoken:
    spoken = _spoken(words, moments_said)
    return Spoken(tuple(spoken), _counted([word for word in spoken if word not in _STOPS]))


def _counted(spoken: Sequence[str]) -> frozenset[str]:
    stems = ["^", *map(_stem, spoken), "$"]
    runs = (run for word in spoken if word.islower() for run in _runs(word))
    return frozenset({*stems[1:-1], *(f"{a} {b}" for a, b in pairwise(stems)), *runs})


@lru_cache(maxsize=2048)
def _runs(word: str) -> tuple[str, ...]:
    """The runs of letters of a word with its edges: Cavnar and Trenkle, N-gram-based text categorization (1994)."""
    edged = f" {word} "
    return tuple(f"{RUN}{edged[at : at + n]}" for n in LETTERS for at in range(len(edged) - n + 1))


def _spoken(marks: Sequence[str], moments_said: Sequence[str]) -> Sequence[str]:
    words: list[str] = []
    for word in marks:
        if word[0] == "#":
            said = moments_said[int(word[1:])].split()
            words += ["NUM" if any(sign.isdigit() for sign in one) else one for one in said]
        else:
            words.append(_MARKS.get(word[0]) or ("NUM" if word.isdigit() else word))
    return words


def _stem(word: str) -> str:
    """Without its ending: crude, but alike for what is learned and what is read."""
    if not word.islower():
        return word
    return next(
        (word[: -len(one)] for one in _ENDINGS if word.endswith(one) and len(word) - len(one) >= SHORTEST), word
    )
