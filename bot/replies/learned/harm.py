"""Whether what befalls covers is told of, or is gone, was looked for and not found, or is of other years."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

SEASONS: Final = frozenset(("winter", "year", "season", "autumn", "fall", "spring", "summer", "time", "november"))
YEARS: Final = frozenset(("winter", "winters", "year", "years", "season", "seasons", "summers"))
NONE_THERE: Final = frozenset((
    "never", "without", "against", "avoid", "prevent", "hope", "hoping", "hopefully", "usually", "sometimes", "afraid",
    "fear", "scared", "read", "trace", "must", "unless", "prone",
))  # fmt: skip
NONE_BY_TWO: Final = frozenset((("free", "of"), ("all", "clear"), ("worried", "about"), ("clear", "of")))
GONE: Final = frozenset(("fixed", "solved", "repaired", "mended", "patched"))
BEING: Final = frozenset(("is", "are", "was", "were", "all", "now", "finally", "it's", "they're"))
OF_COVER: Final = frozenset(("cap", "lid", "top", "hat", "straw", "fill", "cover"))
LOOKED: Final = frozenset(("checked", "looked", "searched", "inspected", "check", "looking", "checking", "listened"))


def is_none_there(words: Sequence[str]) -> bool:
    """Whether it is of other years, or looked for, feared, wished away, known of in general: "kaki is free of mice"."""
    pairs = set(pairwise(words))
    sought = any(a in LOOKED and b == "for" for a, b in pairs) or not NONE_BY_TWO.isdisjoint(pairs)
    return sought or is_of_other_years(words) or not NONE_THERE.isdisjoint(words)


def is_gone(words: Sequence[str]) -> bool:
    """ "Got rid of the mould at the kaki", "the mice are gone", "the hole in the film is fixed"; no cap, no straw."""
    went = any(a in BEING and b == "gone" for a, b in pairwise(words)) and words[-1] in ("gone", "now")
    rid = any((a, b) == ("rid", "of") for a, b in pairwise(words))
    return (went and not OF_COVER.intersection(words)) or rid or not GONE.isdisjoint(words)


def is_of_other_years(words: Sequence[str]) -> bool:
    """ "Closed porch and kaki last winter too", "two winters ago"."""
    return any((a in ("last", "every") and b in SEASONS) or (a in YEARS and b == "ago") for a, b in pairwise(words))
