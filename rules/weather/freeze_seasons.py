"""The last spring and first autumn freeze of each past season.

Seasons begin on 1 August and end on 31 July (National Climatic Data Center, from memory), south of the equator half a
year later: 1 February to 31 January. So a site whose last freeze falls in December still has one last freeze a season.
Day of the year counts from 1 = 1 January of the calendar year the spring or autumn lies in, as it stands: from March on
a leap year is one day ahead, days of the year before are 0 and less, days of the year after are 366 and more.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.weather.daily_minima import DailyMinima

Floats = npt.NDArray[np.float64]

LEAST_WINTERS: Final = 10  # below this nothing is said; assumed, no source
ENOUGH_WINTERS: Final = 30  # a climate normal's length (World Meteorological Organization); below it a doubt
MOST_MISSING_DAYS: Final = 9  # ten make a season void (Utah Climate Center's rule)


class WhichFreeze(StrEnum):
    """The freezes that bound a growing season."""

    LAST_IN_SPRING = "last in spring"
    FIRST_IN_AUTUMN = "first in autumn"


@dataclass(frozen=True, kw_only=True, eq=False)
class FreezeDays:
    """When each past season had its last or first night at or below a threshold.

    Parameters
    ----------
    which
        Last in spring or first in autumn.
    threshold_c
        The threshold at the tree [°C].
    years
        Calendar year of the spring or autumn of each usable season, oldest first.
    day_of_year
        The day in that year, shape (years,); NaN is a season that had no such night.
    void_years
        Seasons with ten or more missing days where the date could have hidden.
    """

    which: WhichFreeze
    threshold_c: float
    years: tuple[int, ...]
    day_of_year: Floats
    void_years: tuple[int, ...]


def first_of_season(year: int, which: WhichFreeze, latitude_deg: float) -> date:
    """First day of the season whose spring or autumn lies in `year`."""
    if latitude_deg < 0:
        return date(year, 2, 1)
    return date(year - 1 if which is WhichFreeze.LAST_IN_SPRING else year, 8, 1)


def last_of_season(year: int, which: WhichFreeze, latitude_deg: float) -> date:
    """Last day of the season whose spring or autumn lies in `year`."""
    return first_of_season(year + 1, which, latitude_deg) - timedelta(1)


def freeze_year(on: date, which: WhichFreeze, latitude_deg: float) -> int:
    """Calendar year of the spring or autumn whose season holds the date.

    >>> freeze_year(date(2026, 12, 24), WhichFreeze.LAST_IN_SPRING, 46.0)
    2027
    """
    years = (on.year - 1, on.year, on.year + 1)
    return next(year for year in years if on <= last_of_season(year, which, latitude_deg))


def day_of_year(on: date, year: int) -> int:
    """Day counted from 1 = 1 January of `year`; less than 1 before it, beyond 365 after it."""
    return (on - date(year, 1, 1)).days + 1


def date_of(day: float, year: int) -> date:
    """The date of a day of the year, the half day taken forward."""
    return date(year, 1, 1) + timedelta(int(np.floor(day + 0.5)) - 1)


def freeze_days(
    past: DailyMinima, threshold_c: float, which: WhichFreeze, latitude_deg: float, *, offset_c: float = 0.0
) -> FreezeDays:
    """The day of the last or first night at or below a threshold, season by season.

    Parameters
    ----------
    past
        Daily minima of the open field.
    threshold_c
        Threshold at the tree [°C]; a night half a unit of the record's rounding above it still counts.
    which
        Last in spring or first in autumn.
    latitude_deg
        Which half of the earth; below 0 the seasons are mirrored.
    offset_c
        How much warmer the tree's nights are than the open field's [°C].

    Returns
    -------
    FreezeDays
        One entry a usable season. A season is void when ten or more days are missing on the side where the true date
        could hide: before the first freeze of autumn, after the last of spring, anywhere when there was none.
    """
    years, days, void = [], [], []
    for year in range(past.first.year - 1, past.last.year + 2):
        first = first_of_season(year, which, latitude_deg)
        minima = past.minima_between(first, last_of_season(year, which, latitude_deg))
        if np.isnan(minima).all():
            continue
        at, missing = _freeze_of(minima, threshold_c - offset_c + past.half_unit_c, which)
        if missing > MOST_MISSING_DAYS:
            void.append(year)
            continue
        years.append(year)
        days.append(np.nan if at is None else day_of_year(first + timedelta(at), year))
    return FreezeDays(
        which=which,
        threshold_c=threshold_c,
        years=tuple(years),
        day_of_year=np.array(days, float),
        void_years=tuple(void),
    )


def _freeze_of(minima: Floats, limit_c: float, which: WhichFreeze) -> tuple[int | None, int]:
    """Place of the season's freeze, and how many missing days could hide a truer one."""
    cold = np.flatnonzero(minima <= limit_c)
    missing = np.isnan(minima)
    if not cold.size:
        return None, int(missing.sum())
    if which is WhichFreeze.LAST_IN_SPRING:
        return int(cold[-1]), int(missing[cold[-1] :].sum())
    return int(cold[0]), int(missing[: cold[0]].sum())
