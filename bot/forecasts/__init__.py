"""Weather services: one file each in `services`, one order to ask them in, the last good copy."""

from bot.forecasts.asking import Transport
from bot.forecasts.falling_back import TOO_LATE_H, Gathered, fetch_first_good, fetch_together, parse_kept
from bot.forecasts.kept_answers import KeptAnswer, WeatherServiceError
from bot.forecasts.services.open_meteo_past import PastDays, fetch_elevation_m, fetch_past_days, parse_past_days
from bot.forecasts.services.saved_file import dump_forecast, file_name, parse_saved

__all__ = [
    "TOO_LATE_H",
    "Gathered",
    "KeptAnswer",
    "PastDays",
    "Transport",
    "WeatherServiceError",
    "dump_forecast",
    "fetch_elevation_m",
    "fetch_first_good",
    "fetch_past_days",
    "fetch_together",
    "file_name",
    "parse_kept",
    "parse_past_days",
    "parse_saved",
]
