"""Past winters as daily minima: one value a day, the bad ones set aside and kept, the gaps left open."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.doubt import Doubt, DoubtKind

Days = npt.NDArray[np.float64]
Booleans = npt.NDArray[np.bool_]

BELIEVABLE_C: Final = (-60.0, 58.0)  # as hourly air: records of the earth's surface, narrowed to where fruit is grown
# Durre et al. 2010, J. Appl. Meteor. Climatol. 49:1615, from memory; their biweight here replaced by median and MAD.
WINDOW_DAYS: Final = 15
LEAST_IN_WINDOW: Final = 100
OUTLIER_SD: Final = 6.0
SPIKE_C: Final = 25.0
MAD_TO_SD: Final = 1.4826  # of a normal distribution
LEAST_SD_C: Final = 1.0  # a station that reports one value through a month must not refuse the next; assumed


class Rejection(StrEnum):
    """Why a day's values were set aside."""

    UNBELIEVABLE = "outside the believable range"
    SWAPPED = "minimum above maximum"
    REPEATED = "two different values for one date"
    OUT_OF_SEASON = "too far from the same weeks of all years"
    SPIKE = "too far from both neighbouring days"


@dataclass(frozen=True, kw_only=True)
class RefusedDay:
    """One day set aside, with the minimum as it was given [°C], so that nothing is lost."""

    day: date
    min_c: float
    why: Rejection


@dataclass(frozen=True, kw_only=True, eq=False)
class DailyMinima:
    """Daily minima in the open field, day after day; build it through `daily_minima`, which sets bad days aside.

    Parameters
    ----------
    first
        Date of the first entry.
    min_c
        Minimum of each day [°C], shape (days,); NaN is a day without a value.
    max_c
        Maximum of each day [°C], same shape; None where no maxima are known.
    half_unit_c
        Half the last digit the record was rounded to [°C]: 28 °F stored as -2.22 must count as 28 °F.
    refused
        The days set aside.

    Raises
    ------
    ValueError
        Unequal lengths, a value that is not believable, or a minimum above its maximum.
    """

    first: date
    min_c: Days
    max_c: Days | None = None
    half_unit_c: float = 0.005
    refused: tuple[RefusedDay, ...] = ()

    def __post_init__(self) -> None:
        if self.min_c.ndim != 1 or (self.max_c is not None and self.max_c.shape != self.min_c.shape):
            raise ValueError(f"min_c and max_c must be days of one length, min_c has shape {self.min_c.shape}")
        if not 0 <= self.half_unit_c <= 1:
            raise ValueError(f"half_unit_c is {self.half_unit_c:g} °C, believable is 0 to 1")
        wrong = _unbelievable(self.min_c) | _swapped(self.min_c, self.max_c)
        if wrong.any():
            at = int(np.argmax(wrong))
            raise ValueError(
                f"min_c {self.min_c[at]:g} °C of {self.first + timedelta(at)} is outside "
                f"{BELIEVABLE_C[0]:g} to {BELIEVABLE_C[1]:g} °C or above its maximum"
            )

    @property
    def last(self) -> date:
        """Date of the last entry."""
        return self.first + timedelta(len(self.min_c) - 1)

    @property
    def mean_c(self) -> Days | None:
        """Mean of the two extremes [°C]; None without maxima."""
        return None if self.max_c is None else (self.min_c + self.max_c) / 2

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """What was set aside, as a doubt; empty when nothing was."""
        if not self.refused:
            return ()
        return (Doubt(kind=DoubtKind.VALUE_REFUSED, subject="past winters", amount=float(len(self.refused))),)

    def minima_between(self, first: date, last: date) -> Days:
        """Minima from `first` to `last`, both included [°C]; NaN outside the record."""
        return _between(self.min_c, self.first, first, last)

    def means_between(self, first: date, last: date) -> Days:
        """Means of the extremes from `first` to `last` [°C]; NaN outside the record and without maxima."""
        means = np.full(1, np.nan) if self.mean_c is None else self.mean_c
        return _between(means, self.first, first, last)


def _between(values: Days, begins: date, first: date, last: date) -> Days:
    asked = np.arange((last - first).days + 1) + (first - begins).days
    inside = (asked >= 0) & (asked < len(values))
    return np.where(inside, values[np.clip(asked, 0, len(values) - 1)], np.nan)


def daily_minima(
    dates: Sequence[date],
    min_c: npt.ArrayLike,
    max_c: npt.ArrayLike | None = None,
    *,
    half_unit_c: float = 0.005,
) -> DailyMinima:
    """Daily minima in order of date, with bad days set aside and absent days left open.

    Parameters
    ----------
    dates
        Dates in any order. A date given twice with the same values counts once, with different values not at all.
    min_c, max_c
        Extremes of each date [°C], shape (dates,); NaN is missing.
    half_unit_c
        Half the last digit of the record [°C].

    Returns
    -------
    DailyMinima
        `refused` names each day set aside: unbelievable, swapped with its maximum, given twice, more than 6 robust sd
        from the same 15 days of all years, or 25 °C from both neighbours (after Durre et al. 2010, from memory).

    Raises
    ------
    ValueError
        No dates, or lengths that differ.

    >>> daily_minima([date(2024, 1, 2), date(2024, 1, 1)], [-3.0, -2.0]).min_c.tolist()
    [-2.0, -3.0]
    """
    low = np.asarray(min_c, float)
    high = np.full(low.shape, np.nan) if max_c is None else np.asarray(max_c, float)
    if not dates or low.shape != (len(dates),) or high.shape != low.shape:
        raise ValueError(f"{len(dates)} dates need as many min_c and max_c, got shapes {low.shape} and {high.shape}")
    first = min(dates)
    place = np.array([(day - first).days for day in dates])
    refused = _repeated(dates, low, high)
    lows, highs = (np.full(int(place.max()) + 1, np.nan) for _ in range(2))
    lows[place], highs[place] = low, high
    for day in refused:
        lows[(day.day - first).days] = np.nan
    refused += _set_aside(first, lows, highs)
    highs[np.isnan(lows)] = np.nan
    return DailyMinima(
        first=first,
        min_c=lows,
        max_c=None if max_c is None else highs,
        half_unit_c=half_unit_c,
        refused=tuple(refused),
    )


def _repeated(dates: Sequence[date], low: Days, high: Days) -> list[RefusedDay]:
    seen: dict[date, str] = {}
    refused: dict[date, RefusedDay] = {}
    for day, lowest, highest in zip(dates, low.tolist(), high.tolist(), strict=True):
        if seen.setdefault(day, f"{lowest} {highest}") != f"{lowest} {highest}":
            refused[day] = RefusedDay(day=day, min_c=lowest, why=Rejection.REPEATED)
    return list(refused.values())


def _set_aside(first: date, low: Days, high: Days) -> list[RefusedDay]:
    """Empty the bad days of `low` in place, crude faults before fine ones, and list them."""
    refused = []
    checks: dict[Rejection, Callable[[], Booleans]] = {
        Rejection.UNBELIEVABLE: lambda: _unbelievable(low) | _unbelievable(high),
        Rejection.SWAPPED: lambda: _swapped(low, high),
        Rejection.SPIKE: lambda: _spikes(low),
        Rejection.OUT_OF_SEASON: lambda: _out_of_season(first, low),
    }
    for why, bad in checks.items():
        for at in np.flatnonzero(bad()):
            refused.append(RefusedDay(day=first + timedelta(int(at)), min_c=float(low[at]), why=why))
            low[at] = np.nan
    return refused


def _unbelievable(values: Days) -> Booleans:
    return (values < BELIEVABLE_C[0]) | (values > BELIEVABLE_C[1])


def _swapped(low: Days, high: Days | None) -> Booleans:
    return np.zeros(low.shape, bool) if high is None else np.asarray(low > high)


def _spikes(low: Days) -> Booleans:
    """Days that stand 25 °C to the same side of both neighbours."""
    before, after = np.append(np.nan, low[:-1]), np.append(low[1:], np.nan)
    below = (before - low >= SPIKE_C) & (after - low >= SPIKE_C)
    above = (low - before >= SPIKE_C) & (low - after >= SPIKE_C)
    return np.asarray(below | above)


def _out_of_season(first: date, low: Days) -> Booleans:
    """Days more than 6 robust sd from the middle of the same 15 days of all years."""
    far = np.zeros(low.shape, bool)
    day_of_year = np.array([(first + timedelta(i)).timetuple().tm_yday for i in range(len(low))])
    for day in range(1, 367):
        apart = np.abs(day_of_year - day)
        window = low[np.minimum(apart, 366 - apart) <= WINDOW_DAYS // 2]
        window = window[~np.isnan(window)]
        if len(window) >= LEAST_IN_WINDOW:
            middle = np.median(window)
            spread = max(MAD_TO_SD * float(np.median(np.abs(window - middle))), LEAST_SD_C)
            far |= (day_of_year == day) & (np.abs(low - middle) > OUTLIER_SD * spread)
    return far
