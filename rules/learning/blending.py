"""Several services heard at once: each corrected by what was learned of it, weighed by how far off that leaves it.

Services look at one sky with models that resemble each other, so their errors hang together: two that agree are not
twice as sure. The weights are those of least variance under one correlation for all pairs, which is learned too.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import combinations
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.tree import Site
from rules.learning.forecast_error import LEAD_STEP_H, ForecastMiss, LearnedForecast, learn_forecast
from rules.weather.hourly import Forecast, HourlyWeather, Hours, night_hours
from rules.weather.members import ForecastError, lead_sigma_c

Floats = npt.NDArray[np.float64]

TOGETHER: Final = 0.7  # correlation of two services' errors before any night; assumed, no source
TOGETHER_NIGHTS: Final = 20.0  # that this assumption is worth; assumed
MOST_TOGETHER: Final = 0.95  # beyond it weights would fall below 0 for a difference of a tenth
LEAST_KNOWN: Final = 0.8  # of a night's hours: a service that knows fewer may not know its low. Assumed
DIFFER_SD: Final = 2.0  # from so many sd of a difference on, it is worth a word; common practice


@dataclass(frozen=True, kw_only=True, eq=False)
class LearnedServices:
    """What was learned of each service by its name, and the correlation of their errors."""

    by_name: Mapping[str, LearnedForecast]
    together: float = TOGETHER

    def of(self, service: str) -> LearnedForecast:
        """What was learned of one; as published where nothing was."""
        return self.by_name.get(service) or learn_forecast(())


@dataclass(frozen=True, kw_only=True, eq=False)
class Blend:
    """One forecast made of several, how far it is off, each service's share of tonight, and how far they differ."""

    forecast: Forecast
    error: ForecastError
    shares: Mapping[str, float]
    doubts: tuple[Doubt, ...] = ()


@dataclass(frozen=True, kw_only=True)
class _Night:
    """What several services make of one night: where the first has its low, the shift from there, and how sure [°C]."""

    at: int
    shift_c: float
    scale: float
    shares: Mapping[str, float]
    doubts: tuple[Doubt, ...]


def learn_services(misses: Mapping[str, Sequence[ForecastMiss]]) -> LearnedServices:
    """Each service by its own misses, and how much their errors hang together by the nights that two of them told."""
    found = {name: learn_forecast(own) for name, own in misses.items()}
    left = {name: _left(found[name], own) for name, own in misses.items()}
    products, squares = 0.0, 0.0
    for one, other in combinations(left, 2):
        both = left[one].keys() & left[other].keys()
        share = 1 / max(len({evening for evening, _ in both}), 1) if not both else _nights(both) / len(both)
        products += share * sum(left[one][key] * left[other][key] for key in both)
        squares += share * sum((left[one][key] ** 2 + left[other][key] ** 2) / 2 for key in both)
    together = (TOGETHER_NIGHTS * TOGETHER + products) / (TOGETHER_NIGHTS + squares)
    return LearnedServices(by_name=found, together=float(np.clip(together, 0.0, MOST_TOGETHER)))


def _nights(told: set[tuple[date, int]]) -> int:
    return len({evening for evening, _ in told})


def _left(learned: LearnedForecast, misses: Sequence[ForecastMiss]) -> dict[tuple[date, int], float]:
    """What is left of each miss after the correction, in sd of its lead, by night and half day of lead."""
    left = {}
    for one in misses:
        low_c, _ = learned.low_c(one.evening, one.lead_h, one.told_c) if math.isfinite(one.told_c) else (math.nan, 0.0)
        off = (low_c - one.told_c + one.error_c) / float(learned.sigma_c(one.lead_h))
        if math.isfinite(off):
            left[one.evening, int(one.lead_h // LEAD_STEP_H)] = float(np.clip(off, -3.0, 3.0))  # no wild one decides
    return left


def weights_of(sd_c: Floats, together: float) -> tuple[Floats, float]:
    """Shares of least variance, none below 0, and the sd of the mean they make [°C].

    >>> weights_of(np.array([2.0, 2.0]), 0.5)[0].round(6).tolist()
    [0.5, 0.5]
    """
    covariance = np.outer(sd_c, sd_c) * (together + (1 - together) * np.eye(len(sd_c)))
    shares, kept = np.zeros(len(sd_c)), np.arange(len(sd_c))
    while True:
        own = np.linalg.solve(covariance[np.ix_(kept, kept)], np.ones(len(kept)))
        if (own > 0).all() or len(kept) == 1:
            break
        kept = np.delete(kept, int(np.argmin(own)))
    shares[kept] = own / own.sum()
    return shares, float(np.sqrt(shares @ covariance @ shares))


def blended(forecasts: Sequence[Forecast], learned: LearnedServices, site: Site, now: datetime) -> Blend:
    """The forecasts of several services as one: the hours of the first, moved night by night to the low of them all.

    Members are those of the first service that gives any, about those hours. One service alone is corrected by what was
    learned of it.

    Parameters
    ----------
    forecasts
        At least one, in the grower's order.
    learned
        Of these services at this garden.
    now
        Hours up to it are left as they were told.
    """
    first = forecasts[0]
    alone = learned.of(first.service)
    if len(forecasts) == 1 and not alone.nights:
        return Blend(forecast=first, error=alone.error, shares={first.service: 1.0})
    nights = _nights_ahead(forecasts, learned, site, now)
    if not nights:
        return Blend(forecast=first, error=alone.error, shares={first.service: 1.0})
    weather = _moved(first.weather, nights, now)
    scale = float(np.sqrt(np.mean([one.scale**2 for one in nights])))
    counted = max(learned.of(one.service).nights for one in forecasts)
    return Blend(
        forecast=replace(
            first,
            weather=weather,
            members_air_c=_members(forecasts, weather),
            sigma_c=first.sigma_c if len(forecasts) == 1 else None,
            credit="; ".join(dict.fromkeys(one.credit for one in forecasts if one.credit)),
        ),
        error=alone.error if len(forecasts) == 1 else ForecastError(scale=scale, nights=counted),
        shares=nights[0].shares,
        doubts=nights[0].doubts,
    )


def _nights_ahead(forecasts: Sequence[Forecast], learned: LearnedServices, site: Site, now: datetime) -> list[_Night]:
    first = forecasts[0].weather
    begins = max(first.index_of(now) + 1, 0)
    found = []
    for evening, span in night_hours(first, site.zone):
        hours = range(max(span.start, begins), span.stop)
        if hours and np.isfinite(first.air_c[hours.start : hours.stop]).any():
            found.append(_night(forecasts, learned, evening, hours))
    return found


def _night(forecasts: Sequence[Forecast], learned: LearnedServices, evening: date, hours: range) -> _Night:
    """One night by the services that know of it; the first always does."""
    base = forecasts[0]
    begins = base.weather.start_utc + timedelta(hours=hours.start)
    others = ((one, _low(one, begins, len(hours))) for one in forecasts[1:])
    told = [(base, _lowest(base, hours)), *((one, found) for one, found in others if found is not None)]
    estimates = [learned.of(one.service).low_c(evening, lead_h, low_c) for one, (low_c, lead_h, _) in told]
    means_c, sd_c = (np.array(side) for side in zip(*estimates, strict=True))
    shares, spread_c = weights_of(sd_c, learned.together)
    return _Night(
        at=base.weather.index_of(told[0][1][2]),
        shift_c=float(shares @ means_c) - told[0][1][0],
        scale=spread_c / float(lead_sigma_c(told[0][1][1])),
        shares={one.service: float(share) for (one, _), share in zip(told, shares, strict=True)},
        doubts=_differing(means_c, sd_c, learned.together),
    )


def _lowest(forecast: Forecast, hours: range) -> tuple[float, float, datetime]:
    """Lowest air of some hours [°C], its lead [h] and its time."""
    at = hours.start + int(np.nanargmin(forecast.weather.air_c[hours.start : hours.stop]))
    moment = forecast.weather.start_utc + timedelta(hours=at)
    lead_h = (moment - forecast.known_since_utc) / timedelta(hours=1)
    return float(forecast.weather.air_c[at]), max(lead_h, 0.0), moment


def _low(forecast: Forecast, begins: datetime, count: int) -> tuple[float, float, datetime] | None:
    """The same over so many hours from a moment; None where the service does not know most of them."""
    start = round((begins - forecast.weather.start_utc) / timedelta(hours=1))
    hours = range(max(start, 0), min(start + count, forecast.weather.hours))
    known = np.isfinite(forecast.weather.air_c[hours.start : hours.stop]).sum() if hours else 0
    return _lowest(forecast, hours) if known >= max(LEAST_KNOWN * count, 1) else None


def _differing(means_c: Floats, sd_c: Floats, together: float) -> tuple[Doubt, ...]:
    """That two services differ, by how much, where that is more than chance makes of it."""
    for one, other in combinations(range(len(means_c)), 2):
        apart_c = abs(float(means_c[one] - means_c[other]))
        expected_c = math.sqrt(sd_c[one] ** 2 + sd_c[other] ** 2 - 2 * together * sd_c[one] * sd_c[other])
        if apart_c > DIFFER_SD * expected_c:
            return (Doubt(kind=DoubtKind.SERVICES_DIFFER, amount=apart_c),)
    return ()


def _moved(weather: HourlyWeather, nights: Sequence[_Night], now: datetime) -> HourlyWeather:
    """The hours ahead with each night's shift at its low, and in between what lies between two nights'."""
    marks = np.arange(weather.hours)
    shift_c = np.interp(marks, [one.at for one in nights], [one.shift_c for one in nights])
    return replace(weather, air_c=weather.air_c + np.where(marks > weather.index_of(now), shift_c, 0.0))


def _members(forecasts: Sequence[Forecast], weather: HourlyWeather) -> Floats | None:
    """Members of the first service that has them, on these hours and about their air; None where none has."""
    for one in forecasts:
        if one.members_air_c is not None:
            mean_c = one.members_air_c.mean(axis=0)
            off_c = np.stack([_on_hours(row - mean_c, one.weather, weather) for row in one.members_air_c])
            return np.asarray(off_c + weather.air_c)
    return None


def _on_hours(values: Hours, of: HourlyWeather, weather: HourlyWeather) -> Hours:
    placed = np.full(weather.hours, np.nan)
    shift = round((of.start_utc - weather.start_utc) / timedelta(hours=1))
    first, stop = max(shift, 0), min(shift + of.hours, weather.hours)
    if first < stop:
        placed[first:stop] = values[first - shift : stop - shift]
    return placed
