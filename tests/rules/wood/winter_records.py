"""Real and typical winters as daily extremes, laid out season by season (sources: tests/data/README.md)."""

import gzip
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.tree import Site
from rules.garden.units import c_from_f
from tests.high_plains import days as high_plains_days

Floats = npt.NDArray[np.float64]
Day = tuple[date, float, float, float]  # minimum, maximum, mean [°C]

DATA: Final = Path(__file__).parents[2] / "data"
SEASON_DAYS: Final = 300  # from 7 September to 3 July
TYPICAL: Final = 2026  # the year a typical year's autumn is laid into; its spring follows in the next


@dataclass(frozen=True, kw_only=True, eq=False)
class Record:
    """Whole seasons of one place: day 0 is 7 September; arrays (days, winters) [°C], NaN a day nobody knows."""

    site: Site
    first: date
    years: tuple[int, ...]
    min_c: Floats
    max_c: Floats
    mean_c: Floats

    @property
    def winters(self) -> int:
        """How many winters there are."""
        return len(self.years)


@cache
def record(place: str, warmer_c: float = 0.0) -> Record:
    """The winters of a place, every value `warmer_c` up; a KeyError names a place nobody has."""
    latitude_deg, longitude_deg, elevation_m, read = PLACES[place]
    site = Site(latitude_deg=latitude_deg, longitude_deg=longitude_deg, elevation_m=elevation_m, time_zone="UTC")
    known = {day: (low, high, mean) for day, low, high, mean in read()}
    years = [year for year in range(min(known).year, max(known).year + 1) if _whole(known, year)]
    table = np.array([[known.get(_day(year, i), (np.nan,) * 3) for year in years] for i in range(SEASON_DAYS)])
    low, high, mean = np.moveaxis(table + warmer_c, -1, 0)
    return Record(site=site, first=_day(years[0], 0), years=tuple(years), min_c=low, max_c=high, mean_c=mean)


def _day(year: int, day: int) -> date:
    return date(year, 9, 7) + timedelta(days=day)


def _whole(known: dict[date, tuple[float, float, float]], year: int) -> bool:
    """A season whose 1 November to 30 April is known but for a day or two."""
    return sum(_day(year, i) not in known for i in range(55, 235)) <= 2


def _daily(name: str) -> Callable[[], Iterable[Day]]:
    def read() -> Iterable[Day]:
        with gzip.open(DATA / name, "rt") as text:
            rows = [line.split(",") for line in text.read().splitlines()[1:]]
        return [_midway(date.fromisoformat(day), float(low), float(high)) for day, low, high in rows]

    return read


def _plains() -> Iterable[Day]:
    return [_midway(*row) for row in high_plains_days()]


def _midway(day: date, low: float, high: float) -> Day:
    return day, low, high, (low + high) / 2


def _by_day(hours: Iterable[tuple[datetime, float]]) -> list[Day]:
    days: dict[date, list[float]] = {}
    for moment, air_c in hours:
        days.setdefault(moment.date(), []).append(air_c)
    return [(day, min(air), max(air), sum(air) / len(air)) for day, air in days.items() if len(air) >= 18]


def _newark() -> Iterable[Day]:
    """Autumn 2013 with January to April of the same file behind it."""
    zone = ZoneInfo("America/New_York")
    with gzip.open(DATA / "newark_hourly_2013.csv.gz", "rt") as text:
        rows = [line.split(",") for line in text.read().splitlines()[1:]]
    hours = ((datetime.fromisoformat(row[0]).astimezone(zone), c_from_f(float(row[1]))) for row in rows)
    return _wrapped(_by_day(hours))


def _greensboro() -> Iterable[Day]:
    with gzip.open(DATA / "greensboro_typical_year.csv.gz", "rt") as text:
        rows = [line.split(",") for line in text.read().splitlines()[1:]]
    ends = ((datetime.strptime(day, "%m/%d/%Y").replace(tzinfo=UTC), int(time[:2]), air) for day, time, air in rows)
    return _wrapped(_by_day((day + timedelta(hours=hour - 1), float(air)) for day, hour, air in ends))


def _north_italy() -> Iterable[Day]:
    with gzip.open(DATA / "north_italy_typical_year.csv.gz", "rt") as text:
        rows = [line.split(",") for line in text.read().splitlines()[1:]]
    marks = ((datetime.strptime(time, "%Y%m%d:%H%M").replace(tzinfo=UTC), float(air)) for time, air in rows)
    return _wrapped(_by_day((mark + timedelta(hours=1), air) for mark, air in marks))


def _wrapped(days: Iterable[Day]) -> list[Day]:
    """The days of one calendar year as one season: its autumn, then its spring."""
    return [
        (day.replace(year=TYPICAL + (day.month < 9)), low, high, mean)
        for day, low, high, mean in days
        if (day.month, day.day) != (2, 29)
    ]


PLACES: Final[dict[str, tuple[float, float, float, Callable[[], Iterable[Day]]]]] = {
    "norfolk": (52.7, 1.2, 20, _daily("norfolk_daily_1991_2021.csv.gz")),
    "northumberland": (55.2, -1.9, 80, _daily("northumberland_daily_1991_2021.csv.gz")),
    "newark": (40.7, -74.2, 3, _newark),
    "greensboro": (36.1, -79.95, 273, _greensboro),
    "north italy": (45.0, 8.0, 250, _north_italy),
    "high plains": (40.4, -101.7, 1072, _plains),
    "cold valley": (40.4, -108.0, 1700, _daily("cold_valley_daily_1982_2018.csv.gz")),
}
