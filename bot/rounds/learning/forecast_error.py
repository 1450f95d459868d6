"""What readings taught of the weather service: how far its forecasts of two a day were off at this garden."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Final

from bot.logbook import Connection, forecasts_of_half_days
from bot.rounds.kept_forecast import forecast_of
from rules.garden.records import Reading
from rules.garden.tree import Site
from rules.learning import LearnedForecast, LearnedOffset, field_minima, forecast_misses, learn_forecast
from rules.weather.hourly import HourlyWeather

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
