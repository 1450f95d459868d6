"""The low of a night inside a cover: that of the night that made it, though a shut cover lags past noon.

By the clock a night goes from noon to noon. A shut cover is still at noon as cold as the night before left it, and
warms into the evening. So inside, a night begins when the wood has warmed as far as it will that afternoon, and lasts
until the next does; every hour belongs to one night, and no low is lost or told twice.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.weather.hourly import HourlyWeather, NightMinimum, night_hours, night_minima

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

BEFORE_NEXT_NOON_H: Final = 12  # by midnight the warmest hour is over, whatever the cover


def night_lows(inside_c: Floats, nights: Sequence[slice], covered: Flags | bool = True) -> tuple[Floats, Ints]:
    """Lowest temperature of each night [°C] and its hour mark, each shape (..., nights).

    Parameters
    ----------
    inside_c
        Shape (..., hours); NaN is an hour nobody knows.
    nights
        Hour marks of each night by the clock, one after the other.
    covered
        Whether a cover was on at each mark, shape broadcasting to that of `inside_c`; a bare tree keeps to the clock.
    """
    on = np.broadcast_to(np.asarray(covered), inside_c.shape)
    begins = [_begins(inside_c, night, on) for night in nights]
    known_c = np.where(np.isnan(inside_c), np.inf, inside_c)
    lows, marks = [], []
    for n, night in enumerate(nights):
        whole = slice(night.start, nights[n + 1].stop if n + 1 < len(nights) else night.stop)
        ends = begins[n + 1] if n + 1 < len(nights) else np.full(inside_c.shape[:-1], night.stop)
        at = np.arange(whole.start, whole.stop)
        own = (at >= begins[n][..., None]) & (at < ends[..., None])
        own_c = np.where(own, known_c[..., whole], np.inf)
        lows.append(own_c.min(axis=-1))
        marks.append(whole.start + own_c.argmin(axis=-1))
    return np.stack(lows, axis=-1), np.stack(marks, axis=-1)


def _begins(inside_c: Floats, night: slice, covered: Flags) -> Ints:
    """The mark at which each night begins inside, shape (...)."""
    last = max(night.start + 1, night.stop - BEFORE_NEXT_NOON_H)
    afternoon_c = inside_c[..., night.start : last]
    warmest = np.where(np.isnan(afternoon_c), -np.inf, afternoon_c).argmax(axis=-1)
    return np.asarray(night.start + np.where(covered[..., night.start], warmest, 0))


def wood_minima(weather: HourlyWeather, zone: ZoneInfo, wood_c: Floats, covered: Flags) -> list[NightMinimum]:
    """The same of one past, shape (hours,), with what is known of each night; as `night_minima` in the open."""
    by_clock = {low.evening: low for low in night_minima(weather, zone, air_c=wood_c)}
    spans = [(evening, hours) for evening, hours in night_hours(weather, zone) if evening in by_clock]
    if not spans:
        return []
    lows, marks = night_lows(wood_c, [hours for _, hours in spans], covered)
    times = weather.times_utc()
    return [
        replace(by_clock[evening], air_c=float(low), at_utc=times[int(mark)])
        for (evening, _), low, mark in zip(spans, lows, marks, strict=True)
        if np.isfinite(low)
    ]
