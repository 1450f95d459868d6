"""The weather services asked when it is time, and what they told kept."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any, Final

import numpy as np

from bot.forecasts import Gathered, KeptAnswer, dump_forecast, fetch_first_good, fetch_together
from bot.logbook import (
    AnswerRow,
    Connection,
    latest_forecast,
    note_forecast,
    note_kept_answer,
    note_past_hours,
    note_state,
    read_kept_answers,
    read_state,
)
from bot.logbook.programs.last_heard import Outside, note_heard
from bot.logbook.weather import no_forecast_is_from_the_future
from bot.rounds.learning.told_lows import note_told_lows
from bot.rounds.setting import Setting
from bot.rounds.weather.kept_forecast import forecast_of, note_beside
from bot.rounds.weather.past_files import bring_past
from rules.weather.hourly import Forecast, HourlyWeather, fallen_alone
from rules.weather.timeline import sliced

ASK_EVERY: Final = timedelta(hours=1)  # the politest pace all services ask for
ASK_AGAIN: Final = timedelta(minutes=10)  # after a round in which all of them failed


def refresh_forecast(setting: Setting, now: datetime) -> bool:
    """Whether a new look at the services was taken; at most once an hour, ten minutes after a failure.

    The network is asked outside any transaction; what came is kept in one.
    """
    with setting.logbook.begin() as c:
        bring_past(c, setting, now)
        if not _is_due(read_state(c, setting.weather_of, "asked"), now):
            return False
        kept = _kept(c, _cell(setting))
    site = setting.weather_site or setting.garden.site
    fetch = fetch_together if setting.garden.services_together else fetch_first_good
    found = fetch(setting.garden.services, site, setting.transport, now, kept)
    with setting.logbook.begin() as c:
        _keep(c, setting, found, now)
    return True


def next_ask_utc(c: Connection, setting: Setting, now: datetime) -> datetime:
    """When the services are to be asked next."""
    asked = read_state(c, setting.weather_of, "asked")
    if asked is None or _is_due(asked, now):
        return now
    last = json.loads(asked)
    return datetime.fromisoformat(last["at"]) + (ASK_EVERY if last["found"] else ASK_AGAIN)


def _is_due(asked: str | None, now: datetime) -> bool:
    if asked is None:
        return True
    last = json.loads(asked)
    at = datetime.fromisoformat(last["at"])
    # a last look in the future is a clock that was set back: look again rather than wait for it
    return now < at or now - at >= (ASK_EVERY if last["found"] else ASK_AGAIN)


def _keep(c: Connection, setting: Setting, found: Gathered, now: datetime) -> None:
    for answer in found.kept.values():
        note_kept_answer(c, _cell(setting), AnswerRow(**_plain(answer)))
    if found.kept:
        note_heard(c, Outside.WEATHER, now)
    if found.forecast is not None:
        forecast = found.forecast
        no_forecast_is_from_the_future(c, setting.weather_of, now)
        body = _told(forecast)
        _keep_fallen(c, setting, forecast.weather, now)
        note_forecast(c, setting.weather_of, body, forecast.service, forecast.issued_utc, forecast.fetched_utc)
        note_past_hours(c, setting.weather_of, forecast.weather, forecast.known_since_utc, now)
        if setting.garden.services_together:
            note_beside(c, setting.weather_of, found.beside, now)
            note_told_lows(c, setting.weather_of, (forecast, *found.beside), setting.garden.site.zone, now)
    doubts = [{"kind": d.kind, "subject": d.subject, "amount": d.amount} for d in found.doubts]
    asked = {"at": now.astimezone(UTC).isoformat(), "found": found.forecast is not None, "doubts": doubts}
    note_state(c, setting.weather_of, "asked", json.dumps({**asked, "tried": found.tried}))


def _keep_fallen(c: Connection, setting: Setting, new: HourlyWeather, now: datetime) -> None:
    """Keep what the forecast before this one said of the rain and snow of hours gone by since.

    A service whose answer begins now tells what falls in the hours ahead, and never again of what has fallen.
    """
    row = latest_forecast(c, setting.weather_of)
    before = forecast_of(row)
    if row is None or before is None or _tells_of_rain(new, row.fetched_utc):
        return
    old = before.weather
    first, stop = max(0, old.index_of(row.fetched_utc)), old.index_of(now) + 1
    if first < min(stop, old.hours):
        note_past_hours(c, setting.weather_of, fallen_alone(sliced(old, first, stop)), row.fetched_utc, now)


def _tells_of_rain(weather: HourlyWeather, since_utc: datetime) -> bool:
    at = weather.index_of(since_utc)
    return 0 <= at < weather.hours and bool(np.isfinite(weather.precipitation_mm[at]))


def _cell(setting: Setting) -> str:
    garden = setting.garden
    return setting.cell or f"{garden.site.latitude_deg:.4f},{garden.site.longitude_deg:.4f}"


def _plain(answer: KeptAnswer) -> dict[str, Any]:
    """Its fields as the logbook keeps them: a mark that was not there is empty."""
    return {**vars(answer), "last_modified": answer.last_modified or "", "etag": answer.etag or ""}


def _told(forecast: Forecast) -> str:
    """What a service told, without when we heard it: the same word heard again is not a new forecast."""
    document = json.loads(dump_forecast(forecast))
    del document["fetched_utc"]
    return json.dumps(document)


def _kept(c: Connection, cell: str) -> Mapping[str, KeptAnswer]:
    return {
        row.service: KeptAnswer(**{**vars(row), "last_modified": row.last_modified or None, "etag": row.etag or None})
        for row in read_kept_answers(c, cell)
    }
