"""The open field as it was told, over the nights of some readings."""

from datetime import datetime, timedelta
from typing import Final

from bot.logbook import Connection, past_weather
from rules.weather.hourly import Forecast, HourlyWeather
from rules.weather.timeline import joined_weather, until

LOOKS_BACK: Final = timedelta(days=500)  # two winters; older readings are of another service's field. Assumed
NIGHT_ENDS: Final = timedelta(hours=6)  # so far ahead the forecast tells the rest of a night whose low is told already
BEFORE: Final = timedelta(days=2)  # the first reading: its night begins the noon before


def recorded_weather(
    c: Connection,
    weather_of: str,
    first: datetime,
    forecast: Forecast | None,
    now: datetime,
    before: timedelta = BEFORE,
) -> HourlyWeather | None:
    """The field from `before` the first reading to the end of the present night; None where nothing is known of it."""
    past = past_weather(c, weather_of, max(first - before, now - LOOKS_BACK))
    gone = until(past, now) if past is not None else None
    whole = joined_weather(forecast.weather, gone) if forecast and gone else forecast.weather if forecast else gone
    return until(whole, now + NIGHT_ENDS) if whole is not None else None
