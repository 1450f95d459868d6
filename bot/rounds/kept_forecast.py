"""A forecast as the logbook kept it, read again."""

import logging

from bot.forecasts import ForecastError, parse_saved
from bot.logbook import KeptForecast
from rules.weather import Forecast

log = logging.getLogger(__name__)


def forecast_of(kept: KeptForecast | None) -> Forecast | None:
    """What was kept; None where nothing was, or where an older program kept what this one cannot read.

    The next answer of a service replaces it: until then we cannot see, and say so.
    """
    if kept is None:
        return None
    try:
        return parse_saved(kept.body, kept.fetched_utc)
    except ForecastError as error:
        log.error("the kept forecast %d cannot be read: %s", kept.forecast_id, error)  # noqa: TRY400 - it says it all
        return None
