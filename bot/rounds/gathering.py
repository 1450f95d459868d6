"""Gather: the forecast from the services, the past and the records from the logbook, as plain values."""

import json
import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Final

import numpy as np

from bot.forecasts import (
    TOO_LATE_H,
    Gathered,
    KeptAnswer,
    Transport,
    dump_forecast,
    fetch_first_good,
    fetch_together,
    parse_saved,
)
from bot.forecasts import WeatherServiceError as Unreadable
from bot.logbook import (
    AnswerRow,
    Connection,
    KeptRecords,
    Logbook,
    latest_forecast,
    note_forecast,
    note_kept_answer,
    note_past_hours,
    note_state,
    past_weather,
    read_kept_answers,
    read_learning,
    read_state,
)
from bot.logbook.programs.last_heard import Outside, note_heard
from bot.logbook.weather import no_forecast_is_from_the_future
from bot.rounds.file_trouble import tell_of_trouble
from bot.rounds.kept_forecast import forecast_of, note_beside, read_beside
from bot.rounds.learning.garden import Learner
from bot.rounds.learning.told_lows import note_told_lows
from bot.rounds.past_winters import past_winters
from bot.rounds.presence import away_days
from bot.settings import Garden
from bot.weather_services import SERVICES
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.records import Records
from rules.garden.tree import Site
from rules.learning import LearnedCover, LearnedHardiness, LearnedOffset, LearnedServices, accepted_of, blended
from rules.weather.daily_minima import DailyMinima
from rules.weather.hourly import Forecast, HourlyWeather, fallen_alone
from rules.weather.members import PUBLISHED, ForecastError
from rules.weather.timeline import joined_weather, sliced, until
from rules.wood.season import season_place

ASK_EVERY: Final = timedelta(hours=1)  # the politest pace all services ask for
ASK_AGAIN: Final = timedelta(minutes=10)  # after a round in which all of them failed
PAST_KEPT: Final = timedelta(days=120)  # what covers and ground remember, and more; no source
RECORDS_READ: Final = timedelta(days=400)  # this winter and the one before it
STALE_AFTER: Final = timedelta(hours=12)

log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """How large a garden may grow by what is said in its chat: trees, and bytes of photos kept."""

    most_trees: int
    most_photo_bytes: int


OWN: Final = Bounds(most_trees=500, most_photo_bytes=2_000_000_000)  # some years of photos; assumed
GUEST: Final = Bounds(most_trees=60, most_photo_bytes=300_000_000)  # of one that began by invitation; assumed


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What a garden's rounds stand on.

    `path` is the garden file, where there is one that the chat may change, within `bounds`. `cell` and `weather_site`
    are given where many gardens share one question to the weather services, and its answer.
    """

    garden: Garden
    logbook: Logbook
    transport: Transport
    path: Path | None = None
    cell: str = ""
    weather_site: Site | None = None
    bounds: Bounds = OWN

    @property
    def weather_of(self) -> str:
        """Under which name the logbook has this garden's weather: the garden's own, or that of its cell."""
        return self.cell or self.garden.name


@dataclass(frozen=True, kw_only=True, eq=False)
class RoundInputs:
    """All that a decision rests on; the same inputs give the same advice.

    `climate` is past winters by day, `away` the days on which nobody is there. `learned` is what thermometers taught
    of the air at each tree that has one, `inside` of the covers with one inside; `accepted` is what was accepted of the
    trees' winters. `forecast` is made of all that were heard, corrected by what `services` learned of each, with its
    `shares` of tonight; `service` is how far it is off still.
    """

    forecast: Forecast | None
    forecast_id: int | None
    past: HourlyWeather | None
    records: Records
    doubts: tuple[Doubt, ...]
    climate: DailyMinima | None = None
    away: tuple[tuple[date, date], ...] = ()
    learned: Mapping[str, LearnedOffset] = field(default_factory=dict)
    inside: Mapping[str, LearnedCover] = field(default_factory=dict)
    service: ForecastError = PUBLISHED
    services: LearnedServices = field(default_factory=lambda: LearnedServices(by_name={}))
    shares: Mapping[str, float] = field(default_factory=dict)
    accepted: Mapping[str, Sequence[LearnedHardiness]] = field(default_factory=dict)


def refresh_forecast(setting: Setting, now: datetime) -> bool:
    """Whether a new look at the services was taken; at most once an hour, ten minutes after a failure.

    The network is asked outside any transaction; what came is kept in one.
    """
    with setting.logbook.begin() as c:
        _bring_past(c, setting, now)
        if not _is_due(read_state(c, setting.weather_of, "asked"), now):
            return False
        kept = _kept(c, _cell(setting))
    site = setting.weather_site or setting.garden.site
    fetch = fetch_together if setting.garden.services_together else fetch_first_good
    found = fetch(setting.garden.services, site, setting.transport, now, kept)
    with setting.logbook.begin() as c:
        _keep(c, setting, found, now)
    return True


def gather(
    c: Connection,
    garden: Garden,
    now: datetime,
    weather_of: str = "",
    learner: Learner | None = None,
    kept: KeptRecords | None = None,
) -> RoundInputs:
    """The inputs of a round as the logbook has them; `weather_of` names weather that is not the garden's own.

    `learner` spares the work of learning again what it has learned already, `kept` of reading what was read.
    """
    weather_of = weather_of or garden.name
    row = latest_forecast(c, weather_of)
    asked = json.loads(read_state(c, weather_of, "asked") or "{}")
    forecast = forecast_of(row)
    doubts = [Doubt(**{**one, "kind": DoubtKind(one["kind"])}) for one in asked.get("doubts", [])]
    records = (kept or KeptRecords()).read(c, garden.name, now - RECORDS_READ)
    words = read_learning(c, garden.name)
    told = row.forecast_id if row else None, forecast
    learned = (learner or Learner()).learned(c, garden, weather_of, words, records.deeds, told, now)
    beside = _fresh_beside(c, garden, weather_of, forecast, now)
    blend = blended((forecast, *beside), learned.services, garden.site, now) if forecast else None
    heard = [forecast.service if forecast else "", *(one.service for one in beside)]
    return RoundInputs(
        forecast=blend.forecast if blend else None,
        forecast_id=told[0],
        past=past_weather(c, weather_of, _remembered_since(garden.site, now)),
        records=records,
        doubts=(*_with_age(doubts, forecast, now), *(blend.doubts if blend else ()), *_silent(garden, heard)),
        climate=past_winters(c, garden, weather_of),
        away=away_days(c, garden.name, garden.site.zone, now),
        learned=learned.air,
        inside=learned.inside,
        service=blend.error if blend else PUBLISHED,
        services=learned.services,
        shares=blend.shares if blend else {},
        accepted=accepted_of(words),
    )


def _remembered_since(site: Site, now: datetime) -> datetime:
    """From when on past weather counts: wood is what its whole season made it, from early September to the summer."""
    first = season_place(now.astimezone(site.zone).date(), site.latitude_deg).start
    return min(datetime.combine(first, time(), site.zone).astimezone(UTC), now - PAST_KEPT)


def _fresh_beside(
    c: Connection, garden: Garden, weather_of: str, first: Forecast | None, now: datetime
) -> tuple[Forecast, ...]:
    """The forecasts heard beside the first that are not too old to count."""
    if not garden.services_together or first is None:
        return ()
    oldest = now - timedelta(hours=TOO_LATE_H)
    kept = read_beside(c, weather_of)
    return tuple(one for one in kept if one.service != first.service and one.known_since_utc >= oldest)


def _silent(garden: Garden, heard: Sequence[str]) -> tuple[Doubt, ...]:
    """The services that should be heard together and are not."""
    wanted = garden.services if garden.services_together and any(heard) else ()
    gone = (SERVICES[one].title for one in wanted if one not in heard)
    return tuple(Doubt(kind=DoubtKind.SERVICE_SILENT, subject=title) for title in gone)


def _with_age(doubts: list[Doubt], forecast: Forecast | None, now: datetime) -> tuple[Doubt, ...]:
    """The doubts of the last look, with the forecast's age as it is now."""
    rest = [d for d in doubts if d.kind not in (DoubtKind.STALE_FORECAST, DoubtKind.NO_FORECAST)]
    if forecast is None:
        return (Doubt(kind=DoubtKind.NO_FORECAST), *rest)
    age = now - forecast.known_since_utc
    stale = Doubt(kind=DoubtKind.STALE_FORECAST, subject=forecast.service, amount=age / timedelta(hours=1))
    return (stale, *rest) if age > STALE_AFTER else tuple(rest)


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


def _bring_past(c: Connection, setting: Setting, now: datetime) -> None:
    """Past weather from the garden file, brought in once; of files that can't be read the owners are told instead."""
    garden, path = setting.garden, setting.garden.past_weather
    if path is None or read_state(c, garden.name, "past brought") == json.dumps(str(path)):
        return
    try:
        past = _past_files(garden, now)
    except (Unreadable, OSError) as error:
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
