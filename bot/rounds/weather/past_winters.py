"""Past winters as daily minima: the grower's own file, else the weather archive, asked once and kept in the logbook."""

import json
import logging
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Final
from weakref import WeakValueDictionary

import numpy as np

from bot.forecasts import KeptAnswer, Transport, WeatherServiceError, fetch_past_days, parse_past_days
from bot.logbook import (
    AnswerRow,
    Connection,
    Logbook,
    kept_answer_times,
    note_kept_answer,
    note_state,
    read_kept_answers,
    read_state,
)
from bot.settings import Garden, Service
from rules.garden.tree import Site
from rules.weather.daily_minima import DailyMinima, RefusedDay, Rejection, daily_minima
from rules.weather.minima_table import parse_daily_minima

ASK_AGAIN: Final = timedelta(hours=12)  # after the archive could not be asked; no source
KEPT_DIGIT_C: Final = 0.05  # half the last digit the archive gives
CHECKED: Final = "checked winters"  # beside the archive's answer: its days with the bad ones set aside

_HELD: WeakValueDictionary[tuple[str, datetime], DailyMinima] = WeakValueDictionary()

log = logging.getLogger(__name__)


def past_winters(c: Connection, garden: Garden, weather_of: str = "") -> DailyMinima | None:
    """Daily minima of past winters as far as they are at hand; None where nobody knows them.

    `weather_of` names the weather cell, where gardens share one. A file that cannot be read is told in the log and
    taken as unknown: the nudges must not wait for it.
    """
    try:
        return _of_file(garden.past_winters) if garden.past_winters else _of_logbook(c, _cell(garden, weather_of))
    except (ValueError, OSError, WeatherServiceError) as error:
        log.warning("past winters of %s: %s", garden.name, error)
        return None


def refresh_past_winters(
    garden: Garden,
    logbook: Logbook,
    transport: Transport,
    now: datetime,
    weather_of: str = "",
    weather_site: Site | None = None,
) -> bool:
    """Whether the archive was asked: once for a garden or its weather cell, again half a day after it was out of reach.

    Only where the grower named Open-Meteo among the services and gave no file of their own. Outside any transaction
    and without a second try, so that nothing waits for it.
    """
    if garden.past_winters is not None or Service.OPEN_METEO not in garden.services:
        return False
    cell, asker = _cell(garden, weather_of), weather_of or garden.name
    with logbook.begin() as c:
        if _is_kept(c, cell) or not _is_due(read_state(c, asker, "winters asked"), now):
            return False
        note_state(c, asker, "winters asked", json.dumps(now.astimezone(UTC).isoformat()))
    try:
        answer = fetch_past_days(weather_site or garden.site, replace(transport, retries=0), now)
    except WeatherServiceError as error:
        log.warning("past winters of %s: %s", garden.name, error)
        return True
    with logbook.begin() as c:
        note_kept_answer(c, cell, _row(answer))
        _keep_checked(c, cell, answer.body, answer.fetched_utc)
    return True


def _is_kept(c: Connection, cell: str) -> bool:
    """Whether the winters are kept, with what came of checking them: an older bedstraw kept none of that."""
    known = kept_answer_times(c, cell)
    if known and CHECKED not in known:
        archive = read_kept_answers(c, cell)[0]
        _keep_checked(c, cell, archive.body, archive.fetched_utc)
    return bool(known)


def _keep_checked(c: Connection, cell: str, body: str, fetched_utc: datetime) -> None:
    """The winters as they are reckoned with: checking thirty years of days takes a good part of a round."""
    try:
        checked = _packed(_of_archive(body))
    except (ValueError, WeatherServiceError) as error:
        log.warning("past winters cannot be read: %s", error)
        return
    note_kept_answer(c, cell, AnswerRow(service=CHECKED, body=checked, fetched_utc=fetched_utc))


def _is_due(asked: str | None, now: datetime) -> bool:
    return asked is None or abs(now - datetime.fromisoformat(json.loads(asked))) >= ASK_AGAIN


def _cell(garden: Garden, weather_of: str) -> str:
    """Their own cell: the forecasts' answers are read at each round and need not be unpacked beside it."""
    site = garden.site
    shared = weather_of not in ("", garden.name)
    return f"{weather_of if shared else f'{site.latitude_deg:.4f},{site.longitude_deg:.4f}'} winters"


def _row(answer: KeptAnswer) -> AnswerRow:
    return AnswerRow(**{**vars(answer), "last_modified": answer.last_modified or "", "etag": answer.etag or ""})


def _of_file(path: Path) -> DailyMinima:
    return _of_table(path, path.stat().st_mtime_ns)


@lru_cache(maxsize=4)
def _of_table(path: Path, _: int) -> DailyMinima:
    """Read anew only when the file was changed."""
    return parse_daily_minima(path.read_text(encoding="utf-8"))


def _of_logbook(c: Connection, cell: str) -> DailyMinima | None:
    """One object for all gardens of a cell, as long as one of them holds it: a round can tell that it is the same."""
    known = kept_answer_times(c, cell)
    if not known:
        return None
    key = cell, max(known.values())
    found = _HELD.get(key)
    if found is None:
        bodies = {one.service: one.body for one in read_kept_answers(c, cell)}
        checked = bodies.get(CHECKED)
        found = _unpacked(checked) if checked else _of_archive(next(iter(bodies.values())))
        _HELD[key] = found
    return found


def _of_archive(body: str) -> DailyMinima:
    days = parse_past_days(body)
    return daily_minima(days.dates, days.min_c, days.max_c, half_unit_c=KEPT_DIGIT_C)


def _packed(minima: DailyMinima) -> str:
    highs = None if minima.max_c is None else minima.max_c.tolist()
    refused = [[one.day.isoformat(), one.min_c, one.why] for one in minima.refused]
    document = {"first": minima.first.isoformat(), "min_c": minima.min_c.tolist(), "max_c": highs}
    return json.dumps({**document, "half_unit_c": minima.half_unit_c, "refused": refused})


def _unpacked(body: str) -> DailyMinima:
    document = json.loads(body)
    highs = document["max_c"]
    return DailyMinima(
        first=date.fromisoformat(document["first"]),
        min_c=np.array(document["min_c"]),
        max_c=None if highs is None else np.array(highs),
        half_unit_c=document["half_unit_c"],
        refused=tuple(
            RefusedDay(day=date.fromisoformat(day), min_c=low, why=Rejection(why))
            for day, low, why in document["refused"]
        ),
    )
