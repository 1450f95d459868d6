"""A forecast as the logbook kept it, read again."""

import logging
from datetime import datetime
from weakref import WeakValueDictionary

from bot.forecasts import WeatherServiceError, parse_saved
from bot.logbook import KeptForecast
from rules.weather.hourly import Forecast

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
