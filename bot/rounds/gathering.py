"""Gather: the forecasts kept, the past and the records from the logbook, as plain values."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from bot.forecasts import TOO_LATE_H
from bot.logbook import (
    Connection,
    KeptRecords,
    latest_forecast,
    open_nudges,
    past_weather,
    read_learning,
    read_refusals,
    read_state,
)
from bot.nudges import COLD_JOBS, Stage
from bot.rounds.learning.garden import Learner
from bot.rounds.presence import away_days
from bot.rounds.weather.kept_forecast import forecast_of, read_beside
from bot.rounds.weather.past_winters import past_winters
from bot.settings import Garden
from bot.weather_services import SERVICES
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.records import Records
from rules.garden.tree import Site
from rules.learning import LearnedCover, LearnedHardiness, LearnedOffset, LearnedServices, accepted_of, blended
from rules.weather.daily_minima import DailyMinima
from rules.weather.hourly import Forecast, HourlyWeather
from rules.weather.members import PUBLISHED, ForecastError
from rules.wood.season import season_place

PAST_KEPT: Final = timedelta(days=120)  # what covers and ground remember, and more; no source
RECORDS_READ: Final = timedelta(days=400)  # this winter and the one before it
STALE_AFTER: Final = timedelta(hours=12)
RANG: Final = (Stage.TODAY, Stage.LAST_CALL)
LATER: Final = "later"  # a refusal that only puts off


@dataclass(frozen=True, kw_only=True, eq=False)
class RoundInputs:
    """All that a decision rests on; the same inputs give the same advice.

    `climate` is past winters by day, `away` the days on which nobody is there. `learned` is what thermometers taught
    of the air at each tree that has one, `inside` of the covers with one inside; `accepted` is what was accepted of the
    trees' winters. `forecast` is made of all that were `heard`, which need not be read again while they are held here,
    corrected by what `services` learned of each, with its `shares` of tonight; `service` is how far it is off still.
    `asked` are the trees whose cover was asked for today, aloud, and whose people did not answer; `refused` those that
    cannot be tended, each with until when.
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
    heard: Sequence[Forecast] = ()
    asked: frozenset[str] = frozenset()
    refused: tuple[tuple[str, datetime], ...] = ()


def gather(
    c: Connection,
    garden: Garden,
    now: datetime,
    weather_of: str = "",
    learner: Learner | None = None,
    records: Records | None = None,
) -> RoundInputs:
    """The inputs of a round as the logbook has them; `weather_of` names weather that is not the garden's own.

    `learner` spares the work of learning again what it has learned already, `records` of reading what was read.
    """
    weather_of = weather_of or garden.name
    row = latest_forecast(c, weather_of)
    asked = json.loads(read_state(c, weather_of, "asked") or "{}")
    forecast = forecast_of(row)
    doubts = [Doubt(**{**one, "kind": DoubtKind(one["kind"])}) for one in asked.get("doubts", [])]
    records = KeptRecords().read(c, garden.name, now - RECORDS_READ) if records is None else records
    words = read_learning(c, garden.name)
    told = row.forecast_id if row else None, forecast
    learned = (learner or Learner()).learned(c, garden, weather_of, words, records.deeds, told, now)
    beside = _fresh_beside(c, garden, weather_of, forecast, now)
    heard = tuple(one for one in (forecast, *beside) if one is not None)
    blend = blended((forecast, *beside), learned.services, garden.site, now) if forecast else None
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
        heard=heard,
        asked=_asked_today(c, garden, now),
        refused=_refused(c, garden, now),
    )


def _refused(c: Connection, garden: Garden, now: datetime) -> tuple[tuple[str, datetime], ...]:
    """Trees that nobody can tend until then: no work is planned at them, and no time is kept for it."""
    cannot = [row for row in read_refusals(c, garden.name, now) if row.ask != LATER and row.until_utc > now]
    every = [tree.name for tree in garden.trees]
    return tuple(sorted((tree, row.until_utc) for row in cannot for tree in ([row.tree] if row.tree else every)))


def _asked_today(c: Connection, garden: Garden, now: datetime) -> frozenset[str]:
    """Trees to be covered before tonight by an ask that rang and stands open."""
    today = now.astimezone(garden.site.zone).date()
    stand = [row for row in open_nudges(c, garden.name) if row.ask in COLD_JOBS and row.night == today]
    rang = [row for row in stand if row.stage in RANG and not json.loads(row.numbers).get("silent")]
    return frozenset(tree for row in rang for tree in row.trees)


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


def _silent(garden: Garden, heard: Sequence[Forecast]) -> tuple[Doubt, ...]:
    """The services that should be heard together and are not."""
    wanted, spoke = garden.services if garden.services_together and heard else (), {one.service for one in heard}
    gone = (SERVICES[one].title for one in wanted if one not in spoke)
    return tuple(Doubt(kind=DoubtKind.SERVICE_SILENT, subject=title) for title in gone)


def _with_age(doubts: list[Doubt], forecast: Forecast | None, now: datetime) -> tuple[Doubt, ...]:
    """The doubts of the last look, with the forecast's age as it is now."""
    rest = [d for d in doubts if d.kind not in (DoubtKind.STALE_FORECAST, DoubtKind.NO_FORECAST)]
    if forecast is None:
        return (Doubt(kind=DoubtKind.NO_FORECAST), *rest)
    age = now - forecast.known_since_utc
    stale = Doubt(kind=DoubtKind.STALE_FORECAST, subject=forecast.service, amount=age / timedelta(hours=1))
    return (stale, *rest) if age > STALE_AFTER else tuple(rest)
