"""A forecast as the logbook kept it, read again."""

import json
import logging
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final
from weakref import WeakValueDictionary

import numpy as np

from bot.forecasts import WeatherServiceError, dump_forecast, parse_saved
from bot.logbook import Connection, KeptForecast, note_state, read_state
from bot.logbook.weather import SERIES
from rules.weather.hourly import Forecast
from rules.weather.timeline import sliced

BESIDE: Final = "beside"
WITHIN_C: Final = 0.05  # half a step of what services tell; and of wind and rain as many m/s and mm
WITHIN: Final = {"sun_w_m2": 5.0, "cloud_fraction": 0.02}
HELD_BEFORE: Final = timedelta(days=1)  # the night under way began so long ago at most

_HELD: WeakValueDictionary[tuple[str, datetime], Forecast] = WeakValueDictionary()

log = logging.getLogger(__name__)


def forecast_of(kept: KeptForecast | None) -> Forecast | None:
    """What was kept; None where nothing was, or where an older program kept what this one cannot read.

    The next answer of a service replaces it: until then we cannot see, and say so.
    """
    if kept is None:
        return None
    try:
        return _read(kept.body, kept.fetched_utc)
    except WeatherServiceError as error:
        log.error("the kept forecast %d cannot be read: %s", kept.forecast_id, error)  # noqa: TRY400 - it says it all
        return None


def _read(body: str, fetched_utc: datetime) -> Forecast:
    """One object for the same words as long as somebody holds it: each tick of each garden of a cell asks for it."""
    found = _HELD.get((body, fetched_utc))
    if found is None:
        found = _HELD[body, fetched_utc] = parse_saved(body, fetched_utc)
    return found


def note_beside(c: Connection, weather_of: str, forecasts: Sequence[Forecast], now: datetime) -> None:
    """Keep the forecasts of the services heard beside the first, in place of those before: the hours not yet gone."""
    kept = [
        {"fetched_utc": one.fetched_utc.isoformat(), "body": dump_forecast(_from(one, now - HELD_BEFORE))}
        for one in forecasts
    ]
    note_state(c, weather_of, BESIDE, json.dumps(kept))


def read_beside(c: Connection, weather_of: str) -> tuple[Forecast, ...]:
    """Those kept last."""
    kept = json.loads(read_state(c, weather_of, BESIDE) or "[]")
    return tuple(_read(one["body"], datetime.fromisoformat(one["fetched_utc"])) for one in kept)


def _from(forecast: Forecast, moment: datetime) -> Forecast:
    """A forecast without its hours long gone."""
    weather, members_c = forecast.weather, forecast.members_air_c
    first = min(max(weather.index_of(moment), 0), weather.hours - 1)
    return replace(
        forecast,
        weather=sliced(weather, first, weather.hours),
        members_air_c=None if members_c is None else members_c[:, first:],
        sigma_c=None if forecast.sigma_c is None else forecast.sigma_c[first:],
    )


def tells_the_same(one: Forecast | None, other: Forecast | None) -> bool:
    """Whether two words of a service, which reckons anew every few hours, differ by less than anybody would act on."""
    if one is None or other is None:
        return one is other
    told, before = one.weather, other.weather
    if (one.service, told.start_utc, told.hours) != (other.service, before.start_utc, before.hours):
        return False
    pairs = [(getattr(told, name), getattr(before, name), WITHIN.get(name, WITHIN_C)) for name in SERIES]
    members = [values for values in (one.members_air_c, other.members_air_c) if values is not None]
    if len(members) == 1 or (members and members[0].shape != members[1].shape):
        return False
    pairs += [(members[0], members[1], WITHIN_C)] if members else []
    return all(np.allclose(new, old, rtol=0.0, atol=within, equal_nan=True) for new, old, within in pairs)
