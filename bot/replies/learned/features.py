"""The words of a reply as what is learned knows them: stems, and which two stand side by side."""

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Final

from bot.replies.words.marking import Marked

_MARKS: Final = {"@": "TREE", "%": "TEMP", "~": "LEN", "&": "WHO"}
_STOPS: Final = frozenset(".,;:!-")
_ENDINGS: Final = ("ing", "ed", "es", "s", "ly")
SHORTEST: Final = 3  # letters of a stem; no source


def features(line: Marked, start: int = 0, end: int | None = None) -> frozenset[str]:
    """The stems of some words of a reply and their pairs; trees and measures count as one word each."""
    return _features(tuple(line.words[start:end]), tuple(line.moments_said))


@lru_cache(maxsize=256)
def _features(words: tuple[str, ...], moments_said: tuple[str, ...]) -> frozenset[str]:
    stems = ["^", *(_stem(word) for word in _spoken(words, moments_said) if word not in _STOPS), "$"]
    return frozenset({*stems[1:-1], *(f"{a} {b}" for a, b in pairwise(stems))})


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
