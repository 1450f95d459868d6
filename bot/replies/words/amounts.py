"""Amounts as people tell them: counts, lengths with their unit, shares of a whole."""

import re
from typing import Final

from rules.garden.units import CM_PER_INCH, M_PER_FOOT

_WORDS: Final = {
    "zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15,
    "a": 1, "an": 1, "another": 1, "the first": 1, "first": 1, "a couple": 2, "a couple of": 2, "half a dozen": 6,
    "a dozen": 12, "dozen": 12,
    "two dozen": 24, "twenty": 20,
    "thirty": 30, "forty": 40, "fifty": 50, "a hundred": 100,
}  # fmt: skip
_LONGEST_FIRST: Final = "|".join(sorted(_WORDS, key=len, reverse=True))
NUMBER: Final = rf"(?:\d+(?:[.,]\d+)?|\b(?:{_LONGEST_FIRST})\b)"
_PER_M: Final = {
    "m": 1.0, "metre": 1.0, "meter": 1.0, "metres": 1.0, "meters": 1.0, "cm": 0.01, "centimetres": 0.01,
    "centimeters": 0.01, "mm": 0.001, "in": CM_PER_INCH / 100, "inch": CM_PER_INCH / 100, "inches": CM_PER_INCH / 100,
    "ft": M_PER_FOOT, "foot": M_PER_FOOT, "feet": M_PER_FOOT,
}  # fmt: skip
UNIT: Final = rf"(?:{'|'.join(sorted(_PER_M, key=len, reverse=True))})\b"
_FRACTIONS: Final = {
    "half": 1 / 2, "third": 1 / 3, "thirds": 1 / 3, "quarter": 1 / 4, "quarters": 1 / 4, "fifth": 1 / 5,
    "fifths": 1 / 5, "tenth": 1 / 10, "tenths": 1 / 10,
}  # fmt: skip


def number_of(words: str) -> float:
    """A number in figures or words.

    >>> number_of("a dozen"), number_of("2,5")
    (12.0, 2.5)
    """
    return float(_WORDS[words]) if words in _WORDS else float(words.replace(",", "."))


def length_m(number: str, unit: str | None, *, inches: bool) -> float:
    """A length [m]; without a unit it is in the grower's own: inches or centimetres.

    >>> length_m("30", "cm", inches=True), length_m("10", None, inches=True)
    (0.3, 0.254)
    """
    per_m = _PER_M[unit] if unit else _PER_M["in" if inches else "cm"]
    return round(number_of(number) * per_m, 6)


_LENGTH: Final = re.compile(rf"(?<![\w.,:@#%-])(?P<number>\d+(?:[.,]\d+)?|\ba) ?(?P<unit>{UNIT})(?![@#])")
_OUT: Final = re.compile(r"\d (?:out|outside)\b")
_IN: Final = re.compile(r"\s*(?:$|[.,!;]|of\b|from\b|out\b|lost\b|dead\b)")


def mark_lengths(text: str) -> tuple[str, list[float], list[float]]:
    """The text with each length that has its unit replaced by `~n`, the lengths [m] and their units [m].

    >>> mark_lengths("died back 12 in of 5 ft")[0]
    'died back ~0 of ~1'
    """
    found: list[float] = []
    units: list[float] = []

    def mark(match: re.Match[str]) -> str:
        number, unit = match["number"], match["unit"]
        unclear = unit in ("in", "m") and not _IN.match(text, match.end())  # "2 in the garden", "5 m ago"
        unclear |= unit == "in" and bool(_OUT.search(text))  # "22 out, 31 in"
        if unclear or (number == "a" and unit not in ("foot", "metre", "meter")):
            return match[0]
        found.append(length_m(number, unit, inches=False))
        units.append(_PER_M[unit])
        return f"~{len(found) - 1}"

    return _LENGTH.sub(mark, text), found, units


def share_of_words(words: str) -> float:
    """The share [0-1] that words tell; may be above 1 where people err.

    >>> round(share_of_words("two thirds"), 2), share_of_words("1 out of 4"), share_of_words("20 percent")
    (0.67, 0.25, 0.2)
    """
    parts = words.split()
    if parts[-1] == "percent":
        return number_of(parts[0]) / 100
    if parts[-1] in _FRACTIONS:
        return (number_of(" ".join(parts[:-1])) if parts[1:] else 1.0) * _FRACTIONS[parts[-1]]
    return number_of(parts[0]) / max(1.0, number_of(parts[-1]))
