"""Past weather from files beside the garden file: brought into the logbook once, or read without one."""

import json
import logging
from datetime import datetime
from pathlib import Path

from bot.forecasts import WeatherServiceError, parse_saved
from bot.logbook import Connection, note_past_hours, note_state, read_state
from bot.rounds.file_trouble import tell_of_trouble
from bot.rounds.setting import Setting
from bot.settings import Garden
from rules.weather.hourly import Forecast, HourlyWeather
from rules.weather.timeline import joined_weather, until

log = logging.getLogger(__name__)


def bring_past(c: Connection, setting: Setting, now: datetime) -> None:
    """Past weather from the garden file, brought in once; of files that can't be read the owners are told instead."""
    garden, path = setting.garden, setting.garden.past_weather
    if path is None or read_state(c, garden.name, "past brought") == json.dumps(str(path)):
        return
    try:
        past = _past_files(garden, now)
    except (WeatherServiceError, OSError) as error:
        _refuse_past(c, garden.name, path, str(error), now)
        return
    for old in past:
        note_past_hours(c, setting.weather_of, old.weather, old.known_since_utc, now)
    note_state(c, garden.name, "past brought", json.dumps(str(path)))


def _refuse_past(c: Connection, garden: str, path: Path, why: str, now: datetime) -> None:
    """Said once for each reason; the wood's past is then what was seen since."""
    if read_state(c, garden, "past refused") != json.dumps(why):
        note_state(c, garden, "past refused", json.dumps(why))
        log.warning("past weather of %s: %s", garden, why)
        tell_of_trouble(c, garden, f"I can't read {path.name}, your past weather, so I go on without it. {why}", now)


def _past_files(garden: Garden, now: datetime) -> list[Forecast]:
    """What is in the files of past weather; ForecastError where one of them is none."""
    path = garden.past_weather
    if path is None:
        return []
    files = sorted(path.glob("*.json")) if path.is_dir() else [path]
    return [parse_saved(file.read_text(encoding="utf-8", errors="replace"), now) for file in files]


def past_of_files(garden: Garden, now: datetime) -> HourlyWeather | None:
    """The hours up to `now` from the garden file's past weather, without a logbook; None where it names none."""
    joined: HourlyWeather | None = None
    for old in _past_files(garden, now):
        joined = joined_weather(joined, old.weather)
    return joined and until(joined, now)
