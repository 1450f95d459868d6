"""What past winters say of nights to come: how often such nights were cold, and what is usual."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.tree import Site
from rules.weather.daily_minima import DailyMinima
from rules.weather.freeze_seasons import LEAST_WINTERS
from rules.weather.hourly import HourlyWeather, night_hours
from rules.weather.members import PUBLISHED, ForecastError

Floats = npt.NDArray[np.float64]

WINDOW_DAYS: Final = 15  # days of the year on either side whose lows count; assumed
SPREAD_BOUNDS: Final = (0.6, 1.6)  # of the spread a normal past would give: few winters say no more; assumed
MOST_MILDER: Final = 0.25  # errors by which a cold night may come out milder than a normal past has it; assumed
LEAST_ERROR_C: Final = 0.1  # a surer forecast picks single past lows, and needs no past
NEXT_DAY_H: Final = 24.0
SMOOTH_DAYS: Final = 14  # a usual minimum is the mean of so many days either way; assumed
LEAST_HOURS: Final = 12  # a night with fewer of its hours ahead does not say how far it is from the usual


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


def as_it_came(told_c: Floats, sigma_c: Floats, past_c: Floats) -> tuple[Floats, Floats]:
    """Mean and one sd of the lows that come when these are told, by how such nights came out in past winters.

    Of the lows of past winters round a day those near to what is told count most: each by how likely the forecast's own
    error makes it (Bayes' rule with the past as prior). So the season's own spread and its cold tail come with it: on
    nights told far below the usual what came was colder than the forecast leant to the usual by one spread has it.

    Parameters
    ----------
    told_c, sigma_c
        Lows told and the published error of such forecasts [°C], shapes that broadcast.
    past_c
        Lows of past winters round those days [°C], shape (..., lows) that broadcasts with a last axis added.

    Returns
    -------
    tuple
        Mean and sd [°C], shape as `told_c`. The mean is within one error of what a normal past makes of it, on cold
        nights hardly milder: a night told colder than any on record is not drawn to the record.
    """
    told, sigma = np.asarray(told_c, dtype=np.float64), np.broadcast_to(sigma_c, np.shape(told_c))
    nearness = -np.square((told[..., None] - past_c) / np.maximum(sigma, LEAST_ERROR_C)[..., None]) / 2.0
    weight = np.exp(nearness - nearness.max(axis=-1, keepdims=True))
    weight /= weight.sum(axis=-1, keepdims=True)
    mean = (weight * past_c).sum(axis=-1)
    spread = np.sqrt((weight * np.square(past_c - mean[..., None])).sum(axis=-1))
    past_sd = past_c.std(axis=-1)
    whole = np.maximum(np.hypot(past_sd, sigma), LEAST_ERROR_C)
    leant = told + np.square(sigma / whole) * (past_c.mean(axis=-1) - told)
    normal = past_sd * sigma / whole
    low, high = (bound * normal for bound in SPREAD_BOUNDS)
    milder = np.where(told < past_c.mean(axis=-1), MOST_MILDER, 1.0) * sigma
    return np.clip(mean, leant - sigma, leant + milder), np.clip(spread, low, high)


def read_by_the_past(
    told_c: Floats, sigma_c: Floats, next_day_c: Floats | float, past_c: Floats
) -> tuple[Floats, Floats]:
    """Mean and one sd of the lows that come when these are told: only the error that grows with the lead leans.

    What a forecast of the next day is off by is no boldness: counted ones lean too little by less than 0.1 of their
    distance from the usual (National Weather Service at ten valley cities, 24 h: said 0.5, came 0.4; said 0.9, came
    0.7, for -9.4 °C). So nothing is made milder on the nights that decide, and a night a week ahead is read as past
    winters say such nights came out.

    Parameters
    ----------
    told_c, sigma_c, past_c
        As for `as_it_came`.
    next_day_c
        Published error of the next day's forecast [°C].
    """
    grown_c = np.sqrt(np.maximum(np.square(sigma_c) - np.square(next_day_c), 0.0))
    mean, spread = as_it_came(told_c, grown_c, past_c)
    return mean, np.hypot(spread, np.minimum(sigma_c, next_day_c))


def nights_of_past_years(past: DailyMinima, first: date, days: int) -> Floats:
    """Minima of the same days in each past year that has nine in ten of them, shape (years, days)."""
    rows = []
    for year in range(past.first.year - 1, past.last.year + 1):
        begins = date(year, first.month, min(first.day, 28) if first.month == 2 else first.day)
        minima = past.minima_between(begins, begins + timedelta(days - 1))
        if np.isnan(minima).mean() <= 0.1:
            rows.append(minima)
    return np.array(rows).reshape(-1, days)


def nights_filled(past: DailyMinima, first: date, days: int) -> Floats | None:
    """The same nights of all years; a night nobody knows is the mean of the other years'.

    None where fewer than ten years are known.
    """
    known = nights_of_past_years(past, first, days)
    if len(known) < LEAST_WINTERS:
        return None
    return np.asarray(np.where(np.isnan(known), np.nanmean(known, axis=0), known))


def toward_usual(
    members_c: Floats,
    ahead: HourlyWeather,
    lead_h: Floats,
    climate: DailyMinima | None,
    site: Site,
    *,
    error: ForecastError = PUBLISHED,
    of_one: bool,
) -> Floats:
    """Members moved and stretched to what past winters say of nights so told, shape (members, hours) [°C].

    Night by night as `read_by_the_past` has it, and between the nights' coldest hours in step with both.

    Parameters
    ----------
    members_c, ahead
        Members of the open field's air, and its hour marks.
    lead_h
        Lead of each hour [h].
    climate
        Past winters; None, or fewer than ten of them, changes nothing.
    site
        For the local nights.
    error
        Of the service at this garden.
    of_one
        Whether the members were made from one forecast; the mean of an ensemble leans by itself, and keeps its place.
    """
    nights = [(day, span) for day, span in night_hours(ahead, site.zone) if span.stop - span.start >= LEAST_HOURS]
    past_c = None if climate is None or not nights else _lows_round(climate, [day for day, _ in nights])
    if past_c is None:
        return members_c
    mean_c, hour = members_c.mean(axis=0), np.arange(ahead.hours)
    coldest = [span.start + int(np.argmin(mean_c[span])) for _, span in nights]
    sigma_c = error.sigma_c(lead_h[coldest])
    best_c, spread_c = read_by_the_past(mean_c[coldest], sigma_c, error.sigma_c(NEXT_DAY_H), past_c)
    moved_c = np.interp(hour, coldest, best_c - mean_c[coldest]) if of_one else 0.0
    return np.asarray(mean_c + moved_c + np.interp(hour, coldest, spread_c / sigma_c) * (members_c - mean_c))


def _lows_round(climate: DailyMinima, evenings: Sequence[date]) -> Floats | None:
    """Past lows round the nights of these evenings, shape (nights, lows) [°C]; a night's minimum is of its morning."""
    begins = evenings[0] + timedelta(days=1 - WINDOW_DAYS)
    rows = nights_filled(climate, begins, (evenings[-1] - evenings[0]).days + 1 + 2 * WINDOW_DAYS)
    if rows is None:
        return None
    at = [(evening - evenings[0]).days for evening in evenings]
    return np.stack([rows[:, day : day + 2 * WINDOW_DAYS + 1].ravel() for day in at])
