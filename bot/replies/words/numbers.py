"""Numbers, ranges of numbers and temperatures in a short text."""

import re
from dataclasses import dataclass

from rules.garden.units import c_from_f

COLDEST_C, WARMEST_C = -60.0, 60.0  # outside this no garden thermometer is believed (assumed, no source)

_ONES = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"]
_TEENS = ["thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"]
NUMBER_WORDS: dict[str, float] = {
    **{word: float(i) for i, word in enumerate(_ONES)},
    **{word: float(i) for i, word in enumerate(_TEENS, start=13)},
    "twenty": 20.0,
    **{f"twenty {word}": 20.0 + i for i, word in enumerate(_ONES[1:10], start=1)},
    **{f"thirty {word}": 30.0 + i for i, word in enumerate(_ONES[1:10], start=1)},
    "thirty": 30.0,
    "forty": 40.0,
    "fourty": 40.0,
    "forty five": 45.0,
    "fifty": 50.0,
    "sixty": 60.0,
    "ninety": 90.0,
}
NUMBER_PATTERN = "|".join(sorted(NUMBER_WORDS, key=len, reverse=True)).replace(" ", r"\s")  # for a verbose pattern

_TEMPERATURE = re.compile(
    rf"""(?<![\w.,:@\#])
    (?:(?P<sign>-|minus|neg|negative|plus)\s?)?
    (?P<value>\d{{1,5}}(?:[.,]\d{{1,2}})?(?![.,:]?\d)|(?:(?<=minus\s)|(?<=negative\s))(?:{NUMBER_PATTERN})\b
      |\b(?:{NUMBER_PATTERN})(?=\sdegrees?\b))
    (?P<half>\s(?:and\sa\s)?half\b)?
    \s?(?P<degrees>°|degrees?\b|degs?\b)?\s?(?P<unit>°?\s?(?:celsius|centigrade|fahrenheit|[cf])\b)?
    (?:\s?\b(?P<below>below)(?:\s(?P<from>zero|freezing|0))?\b)?""",
    re.VERBOSE,
)
_COUNTED = r"(?:damage|loss|losses|die|dieback|dead|signs?|voles?|mice|fruits?|figs?)"  # "zero damage" is no reading
_RANGE = re.compile(r"(?<![\d.,:@#-])(\d{1,2}) ?(?:-|to|through|thru) ?(\d{1,2})(?![\d.,:]|\.\d| ?(?:°|deg|c\b|f\b|@))")
_PAIR = re.compile(r"(?<![\d.,:@#-])\d(?:,\d)+(?![\d.,:])")


@dataclass(frozen=True, kw_only=True)
class Temperature:
    """A temperature as written; `air_c` is None when no thermometer in a garden could have shown it."""

    air_c: float | None
    as_written: str


def number_of(word: str) -> float | None:
    """The value of digits or of a number word; None for anything else.

    >>> number_of("forty"), number_of("2.5"), number_of("figs")
    (40.0, 2.5, None)
    """
    if word in NUMBER_WORDS:
        return NUMBER_WORDS[word]
    return float(word) if re.fullmatch(r"\d+(?:\.\d+)?", word) else None


def spread_ranges(text: str, highest: int) -> str:
    """Ranges of item numbers written out: "1-3" → "1 2 3", as far as there are items of that number.

    >>> spread_ranges("wrapped 1-3", 5)
    'wrapped 1 2 3'
    """

    def spread(match: re.Match[str]) -> str:
        low, high = int(match[1]), int(match[2])
        return " ".join(map(str, range(low, high + 1))) if 1 <= low < high <= highest else match[0]

    return _RANGE.sub(spread, text)


def split_lists(text: str, highest: int) -> str:
    """Lists of item numbers without spaces: "1,2" → "1 2", as far as there are items of that number."""

    def split(match: re.Match[str]) -> str:
        items = match[0].split(",")
        return " ".join(items) if all(1 <= int(i) <= highest for i in items) else match[0]

    return _PAIR.sub(split, text)


def mark_temperatures(text: str, *, fahrenheit: bool) -> tuple[str, list[Temperature]]:
    """The text with each temperature that shows itself as one replaced by `%n`, and what each mark stands for.

    A sign, a degree, a unit, "below zero" or a decimal shows it; a bare whole number may be an item and stays.
    """
    found: list[Temperature] = []

    def mark(match: re.Match[str]) -> str:
        shown = match["sign"] or match["degrees"] or match["unit"] or match["below"] or not match["value"].isdigit()
        if not shown:
            return match[0]
        found.append(temperature(match, fahrenheit=fahrenheit))
        return f"%{len(found) - 1} "

    text = re.sub(rf"(?<!below )(?<!above )(?<!under )\bzero\b(?! {_COUNTED})", "0 degrees", text)
    return " ".join(_TEMPERATURE.sub(mark, text).split()), found


def temperature(match: re.Match[str], *, fahrenheit: bool) -> Temperature:
    """The temperature [°C] of one match; a unit that is written wins over the garden's own."""
    value = (number_of(match["value"].replace(",", ".")) or 0.0) + (0.5 if match["half"] else 0.0)
    unit = (match["unit"] or "").strip("° ")[:1]
    in_f = unit == "f" or (not unit and fahrenheit)
    if match["sign"] in ("-", "minus", "neg", "negative"):
        value = -value
    elif match["below"]:
        value = 32.0 - value if in_f and match["from"] == "freezing" else -value
    return believed(value, fahrenheit=in_f, as_written=match[0].strip())


def believed(value: float, *, fahrenheit: bool, as_written: str) -> Temperature:
    """A temperature in °C, or one without value where it lies beyond what is believed."""
    air_c = c_from_f(value) if fahrenheit else value
    return Temperature(air_c=air_c if COLDEST_C <= air_c <= WARMEST_C else None, as_written=as_written)
