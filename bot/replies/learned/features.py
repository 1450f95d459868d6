"""The words of a reply as what is learned knows them: stems, and which two stand side by side."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from bot.replies.words.marking import Marked

_MARKS: Final = {"@": "TREE", "%": "TEMP", "~": "LEN", "&": "WHO"}
_STOPS: Final = frozenset(".,;:!-")
_ENDINGS: Final = ("ing", "ed", "es", "s", "ly")
SHORTEST: Final = 3  # letters of a stem; no source


def features(line: Marked, start: int = 0, end: int | None = None) -> set[str]:
    """The stems of some words of a reply and their pairs; trees and measures count as one word each."""
    stems = ["^", *(_stem(word) for word in _spoken(line, start, end) if word not in _STOPS), "$"]
    return {*stems[1:-1], *(f"{a} {b}" for a, b in pairwise(stems))}


def _spoken(line: Marked, start: int, end: int | None) -> Sequence[str]:
    words: list[str] = []
    for word in line.words[start:end]:
        if word[0] == "#":
            said = line.moments_said[int(word[1:])].split()
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
