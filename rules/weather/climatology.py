"""What past winters say of nights to come: how often such nights were cold, and what is usual."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.doubt import Doubt, DoubtKind
from rules.weather.daily_minima import DailyMinima
from rules.weather.freeze_seasons import ENOUGH_WINTERS, LEAST_WINTERS

Floats = npt.NDArray[np.float64]

SMOOTH_DAYS: Final = 14  # a usual minimum is the mean of so many days either way; assumed


def usual_minima(min_c: Floats) -> tuple[Floats, float]:
    """Mean minimum of each day over the winters, smoothed, and one sd of the minima about it [°C].

    Parameters
    ----------
    min_c
        Minima of the same days in several winters [°C], shape (winters, days).
    """
    day = np.arange(min_c.shape[1])
    near = np.abs(day[:, None] - day) <= SMOOTH_DAYS
    mean = near @ min_c.mean(axis=0) / near.sum(axis=1)
    return mean, float((min_c - mean).std())


def shrinkage(sigma_c: npt.ArrayLike, usual_sd_c: float) -> Floats:
    """How far the best estimate leans from a forecast toward the usual [0-1].

    A forecast that is the truth plus an error is too bold: on its coldest nights the truth is as a rule milder, as was
    counted of real ones (said 0.5, came 0.4; said 0.9, came 0.7, for -9.4 °C). The best estimate leans by the error's
    share of the whole variance, and its own variance is smaller by that share.

    >>> float(shrinkage(3.0, 3.0)), float(shrinkage(0.0, 3.0))
    (0.5, 0.0)
    """
    error_c2 = np.square(np.asarray(sigma_c, dtype=np.float64))
    return np.asarray(error_c2 / (error_c2 + usual_sd_c**2))


def told_last(min_c: Floats, usual_c: Floats, shrinks_by: float) -> Floats:
    """Minima as the last forecast before each night tells them [°C]: nearer to the usual, by what stays untold."""
    return np.asarray(usual_c + np.sqrt(1.0 - shrinks_by) * (min_c - usual_c))


@dataclass(frozen=True, kw_only=True)
class ColdNights:
    """How past years fared between two days of the calendar.

    `night` is the share of nights at or below the threshold, `year` the share of years with one such night or more
    [0-1]; both None where fewer than ten years are known.
    """

    night: float | None
    year: float | None
    years: int
    doubts: tuple[Doubt, ...]


def chance_of_night_below(
    past: DailyMinima | None, threshold_c: float, first: date, last: date, *, offset_c: float = 0.0
) -> ColdNights:
    """What past years say of the nights from `first` to `last`, for the time no forecast reaches.

    Parameters
    ----------
    past, threshold_c, offset_c
        Daily minima of the open field or None, threshold at the tree [°C], how much warmer the tree's nights are [°C].
    first, last
        The days asked for, at most a year; each past year is looked up from the same day and month on
        (29 February from the 28th).

    Raises
    ------
    ValueError
        `last` before `first` or more than a year after it.
    """
    days = (last - first).days + 1
    if not 1 <= days <= 366:
        raise ValueError(f"a window of 1 to 366 days was expected, got {first} to {last}")
    if past is None:
        return ColdNights(night=None, year=None, years=0, doubts=(Doubt(kind=DoubtKind.NO_PAST_WINTERS),))
    nights = nights_of_past_years(past, first, days)
    if len(nights) < LEAST_WINTERS:
        short = Doubt(kind=DoubtKind.NO_PAST_WINTERS, amount=float(len(nights)))
        return ColdNights(night=None, year=None, years=len(nights), doubts=(short, *past.doubts))
    cold = nights <= threshold_c - offset_c + past.half_unit_c
    few = (Doubt(kind=DoubtKind.FEW_PAST_WINTERS, amount=float(len(nights))),) if len(nights) < ENOUGH_WINTERS else ()
    share = float(cold.sum() / (~np.isnan(nights)).sum())
    return ColdNights(night=share, year=float(cold.any(axis=1).mean()), years=len(nights), doubts=few + past.doubts)


def nights_of_past_years(past: DailyMinima, first: date, days: int) -> Floats:
    """Minima of the same days in each past year that has nine in ten of them, shape (years, days)."""
    rows = []
    for year in range(past.first.year - 1, past.last.year + 1):
        begins = date(year, first.month, min(first.day, 28) if first.month == 2 else first.day)
        minima = past.minima_between(begins, begins + timedelta(days - 1))
        if np.isnan(minima).mean() <= 0.1:
            rows.append(minima)
    return np.array(rows).reshape(-1, days)


def nights_filled(past: DailyMinima, first: date, days: int, most: int | None = None) -> Floats | None:
    """The same nights of at most so many years, evenly taken; a night nobody knows is the mean of the other years'.

    None where fewer than ten years are known.
    """
    known = nights_of_past_years(past, first, days)
    if len(known) < LEAST_WINTERS:
        return None
    count = len(known) if most is None else min(most, len(known))
    few = known[np.linspace(0, len(known) - 1, count).round().astype(int)]
    return np.asarray(np.where(np.isnan(few), np.nanmean(few, axis=0), few))
