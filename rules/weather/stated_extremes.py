"""Lows and highs that a service states for whole stretches of hours, and the curve of its hours that must reach them.

A service's hours are instants, in steps of up to six hours and in whole degrees; between them it may be colder than at
any of them. Where it states the lowest and the highest of a stretch, the curve goes there.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

import numpy as np

from rules.weather.gaps import COARSE_STEP_H
from rules.weather.hourly import HourlyWeather, Hours

LEAST_KNOWN: Final = 0.8  # of a stretch's hours: else its low may lie where the series does not reach. Assumed


@dataclass(frozen=True, kw_only=True)
class StatedExtremes:
    """Lowest and highest air [°C] from one moment to another, as a service states them; NaN where it does not."""

    start_utc: datetime
    end_utc: datetime
    min_c: float = float("nan")
    max_c: float = float("nan")


def reaching(weather: HourlyWeather, stated: Iterable[StatedExtremes]) -> HourlyWeather:
    """The same hours with air that reaches every stated low and high.

    An hour that is itself colder than the stated low, or warmer than the stated high, keeps what it says. A stretch
    that the series does not cover is passed over.
    """
    air_c = weather.air_c.copy()
    for one in stated:
        first, last = weather.index_of(one.start_utc), weather.index_of(one.end_utc)
        span = slice(max(first, 0), min(last + 1, weather.hours))
        if span.stop - span.start < 2:
            continue
        here = _between_ends(air_c[span], one)
        if np.isfinite(here).sum() >= LEAST_KNOWN * (last - first + 1):
            air_c[span] = -_down_to(-_down_to(here, one.min_c), -one.max_c)
    return replace(weather, air_c=air_c)


def _between_ends(air_c: Hours, one: StatedExtremes) -> Hours:
    """The hours of a step of which only the ends are known: a parabola through both down to the low, or up to the high.

    A straight line where neither lies beyond the ends; as they are where more is known, or less, or nothing is stated.
    """
    known = np.flatnonzero(np.isfinite(air_c))
    if len(air_c) > COARSE_STEP_H + 1 or known.tolist() != [0, len(air_c) - 1]:
        return air_c
    along = np.linspace(0.0, 1.0, len(air_c))
    if one.min_c < min(air_c[0], air_c[-1]):
        return _parabola(along, air_c[0], air_c[-1], one.min_c)
    if one.max_c > max(air_c[0], air_c[-1]):
        return -_parabola(along, -air_c[0], -air_c[-1], -one.max_c)
    return np.asarray(air_c[0] + (air_c[-1] - air_c[0]) * along) if np.isfinite([one.min_c, one.max_c]).all() else air_c


def _parabola(along: Hours, first_c: float, last_c: float, low_c: float) -> Hours:
    """Values from first to last with their lowest at low; the lowest lies nearer to the colder end."""
    left, right = np.sqrt(first_c - low_c), np.sqrt(last_c - low_c)
    return np.asarray(low_c + (left - (left + right) * along) ** 2)


def _down_to(air_c: Hours, low_c: float) -> Hours:
    """Hours with their lowest at a stated low where that is colder: the colder half is stretched down to it.

    Hours that are all alike do not say when: it is then the middle one.
    """
    lowest_c = float(np.nanmin(air_c))
    if not low_c < lowest_c:
        return air_c
    above_c = float(np.nanmean(air_c)) - lowest_c
    alike = np.sin(np.pi * np.linspace(0.0, 1.0, len(air_c) + 1 - len(air_c) % 2)[: len(air_c)])
    share = np.clip(1 - (air_c - lowest_c) / above_c, 0.0, 1.0) if above_c > 0 else alike
    return np.asarray(air_c - (lowest_c - low_c) * share)
