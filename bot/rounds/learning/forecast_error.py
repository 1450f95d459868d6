"""What readings taught of the weather services: how far their forecasts were off at this garden."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, time, timedelta
from typing import Final

from bot.logbook import Connection, forecasts_of_half_days
from bot.rounds.learning.recorded_weather import recorded_weather
from bot.rounds.learning.told_lows import read_told_lows
from bot.rounds.weather.kept_forecast import forecast_of
from rules.garden.records import Reading
from rules.garden.tree import Site
from rules.learning import (
    LearnedForecast,
    LearnedOffset,
    LearnedServices,
    field_minima,
    forecast_misses,
    learn_forecast,
    learn_services,
    misses_of,
    observed_minima,
)
from rules.weather.hourly import Forecast, HourlyWeather

MOST_NIGHTS: Final = 40  # of the latest with a low that are looked back on; from there on a sigma changes slowly
LONGEST_LEAD_DAYS: Final = 5  # to keep the forecasts to be read to some hundreds


def learn_service(
    c: Connection,
    site: Site,
    weather_of: str,
    service: str,
    readings: Sequence[Reading],
    air: Mapping[str, LearnedOffset],
    past: HourlyWeather,
) -> LearnedForecast:
    """The error of one service at this garden, from its kept forecasts against the lows that thermometers had.

    Parameters
    ----------
    readings
        Those that count.
    air
        What they taught of the air at each tree.
    past
        The open field as it was told over all of them.
    """
    lows_c = field_minima(readings, air, past, site)
    evenings = sorted(lows_c)[-MOST_NIGHTS:]
    if not evenings:
        return learn_forecast(())
    days = {evening - timedelta(days=lead) for evening in evenings for lead in range(LONGEST_LEAD_DAYS + 1)}
    kept = forecasts_of_half_days(c, weather_of, service, days)
    told = [forecast for one in kept if (forecast := forecast_of(one)) is not None]
    return learn_forecast(forecast_misses(told, {evening: lows_c[evening] for evening in evenings}, site.zone))


def learn_together(
    c: Connection,
    site: Site,
    weather_of: str,
    readings: Sequence[Reading],
    air: Mapping[str, LearnedOffset],
    forecast: Forecast | None,
    now: datetime,
) -> LearnedServices:
    """The errors of all services heard together, by the lows that each told.

    What came is what thermometers had, and in nights without a reading what the first service itself says of the hours
    gone by: its analysis, which knows the measurements of the region.
    """
    told = read_told_lows(c, weather_of)
    evenings = [low.evening for own in told.values() for low in own]
    first = datetime.combine(min(evenings), time(), UTC) if evenings else None
    past = recorded_weather(c, weather_of, first, forecast, now) if first else None
    if past is None:
        return LearnedServices(by_name={})
    came_c = observed_minima(past, site.zone) | (field_minima(readings, air, past, site) if readings else {})
    return learn_services({name: misses_of(own, came_c) for name, own in told.items()})
