"""Past and forecast of the open field as one series around now."""

from dataclasses import dataclass, fields, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from rules.garden.doubt import Doubt
from rules.weather.gaps import filled
from rules.weather.hourly import HourlyWeather, Hours


@dataclass(frozen=True, kw_only=True, eq=False)
class Timeline:
    """Hours gone by and hours to come around one present hour mark.

    `past` ends and `ahead` begins at the mark at or before now. `past_known` says which past hours were told; the
    others are straight lines between them. `past` is None where nothing before now is known.
    """

    past: HourlyWeather | None
    past_known: npt.NDArray[np.bool_]
    ahead: HourlyWeather
    doubts: tuple[Doubt, ...]


def timeline(past: HourlyWeather | None, forecast: HourlyWeather, now: datetime) -> Timeline | None:
    """Past and forecast joined at `now`; None where no air is known from now on.

    Hours before `now` are taken from `past` where it has them, else from the forecast, which may start before now.
    The forecast is used up to its first gap of more than six hours.
    """
    whole = _joined(past, forecast, now)
    line, _ = filled(whole)
    at = line.index_of(now)
    known = ~np.isnan(line.air_c)
    if not 0 <= at < line.hours - 1 or not known[at:].any():
        return None
    at = at if known[at] else at + int(np.argmax(known[at:]))
    stop = at + (int(np.argmin(known[at:])) if not known[at:].all() else line.hours - at)
    if stop - at < 2:
        return None
    last = at + int(np.flatnonzero(known[at:])[-1])
    _, doubts = filled(sliced(whole, at, last + 1))  # gaps of the past are no gaps of the forecast
    told = ~np.isnan(whole.air_c[: at + 1])
    gone = sliced(line, 0, at + 1) if told[:-1].any() else None
    return Timeline(
        past=lines_through(gone) if gone else None, past_known=told, ahead=sliced(line, at, stop), doubts=doubts
    )


def _joined(past: HourlyWeather | None, forecast: HourlyWeather, now: datetime) -> HourlyWeather:
    """Up to now the past, where it is known; after now the forecast alone."""
    if past is None or past.start_utc >= now:
        return forecast
    gone = until(past, now)
    return joined_weather(forecast, gone) if gone else forecast


def joined_weather(old: HourlyWeather | None, new: HourlyWeather) -> HourlyWeather:
    """Two series as one; where both know an hour, `new` stands."""
    if old is None:
        return new
    start = min(old.start_utc, new.start_utc)
    hours = int((max(old.end_utc, new.end_utc) - start) / timedelta(hours=1)) + 1
    joined = {}
    for name in [field.name for field in fields(HourlyWeather)[1:]]:
        before, after = _laid_out(old, name, start, hours), _laid_out(new, name, start, hours)
        joined[name] = np.where(np.isnan(after), before, after)
    return HourlyWeather(start_utc=start, **joined)


def until(weather: HourlyWeather, now: datetime) -> HourlyWeather | None:
    """The hours up to `now`; None where there are none."""
    stop = min(weather.index_of(now) + 1, weather.hours)
    return sliced(weather, 0, stop) if stop > 0 else None


def _laid_out(weather: HourlyWeather, name: str, start: datetime, hours: int) -> Hours:
    values = np.full(hours, np.nan)
    at = int((weather.start_utc - start) / timedelta(hours=1))
    values[at : at + weather.hours] = getattr(weather, name)
    return values


def sliced(weather: HourlyWeather, first: int, stop: int) -> HourlyWeather:
    """Hour marks `first` to `stop` - 1 of a weather."""
    cut = {field.name: getattr(weather, field.name)[first:stop] for field in fields(HourlyWeather)[1:]}
    return HourlyWeather(start_utc=weather.start_utc + timedelta(hours=first), **cut)


def lines_through(weather: HourlyWeather) -> HourlyWeather:
    """Air without a gap, so that the heat balance can march through it; what lay in gaps stays marked unknown."""
    known = ~np.isnan(weather.air_c)
    marks = np.arange(weather.hours)
    return replace(weather, air_c=np.interp(marks, marks[known], weather.air_c[known]))
