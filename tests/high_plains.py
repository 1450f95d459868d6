"""37 real winters: daily minima and maxima on the high plains, 1982 to 2018 (see tests/data/README.md).

Weather data from aquacrop 3.1.0 (T. Foster and others), champion_climate.txt, Apache-2.0/MIT.
"""

import gzip
from datetime import date
from functools import cache
from pathlib import Path

from rules.weather.daily_minima import DailyMinima, daily_minima

FILE = Path(__file__).parent / "data" / "high_plains_daily_1982_2018.txt.gz"


def days() -> list[tuple[date, float, float]]:
    """Every day with its minimum and maximum [°C]."""
    with gzip.open(FILE, "rt") as text:
        rows = [line.split() for line in text.read().splitlines()[1:]]
    return [
        (date(int(year), int(month), int(day)), float(low), float(high)) for day, month, year, low, high, *_ in rows
    ]


def minima(some: list[tuple[date, float, float]]) -> DailyMinima:
    """Some of the days as the rules want them."""
    return daily_minima([day for day, _, _ in some], [low for _, low, _ in some], [high for _, _, high in some])


@cache
def high_plains() -> DailyMinima:
    """The whole record."""
    return minima(days())
