"""Past winters as daily minima: the grower's own file, else the weather archive, asked once and kept in the logbook."""

import json
import logging
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Final

from bot.forecasts import ForecastError, KeptAnswer, Transport, fetch_past_days, parse_past_days
from bot.logbook import AnswerRow, Connection, Logbook, note_kept_answer, note_state, read_kept_answers, read_state
from bot.settings import Garden, Service
from rules.daily_minima import DailyMinima, daily_minima
from rules.minima_table import parse_daily_minima

ASK_AGAIN: Final = timedelta(hours=12)  # after the archive could not be asked; no source
KEPT_DIGIT_C: Final = 0.05  # half the last digit the archive gives

log = logging.getLogger(__name__)


def past_winters(c: Connection, garden: Garden) -> DailyMinima | None:
    """Daily minima of past winters as far as they are at hand; None where nobody knows them.

    A file that cannot be read is told in the log and taken as unknown: the nudges must not wait for it.
    """
    try:
        return _of_file(garden.past_winters) if garden.past_winters else _of_logbook(c, garden)
    except (ValueError, OSError, ForecastError) as error:
        log.warning("past winters of %s: %s", garden.name, error)
        return None


def refresh_past_winters(garden: Garden, logbook: Logbook, transport: Transport, now: datetime) -> bool:
    """Whether the archive was asked: once for a garden, again half a day after it could not be reached.

    Only where the grower named Open-Meteo among the services and gave no file of their own. Outside any transaction
    and without a second try, so that nothing waits for it.
    """
    if garden.past_winters is not None or Service.OPEN_METEO not in garden.services:
        return False
    with logbook.begin() as c:
        if read_kept_answers(c, _cell(garden)) or not _is_due(read_state(c, garden.name, "winters asked"), now):
            return False
        note_state(c, garden.name, "winters asked", json.dumps(now.astimezone(UTC).isoformat()))
    try:
        answer = fetch_past_days(garden.site, replace(transport, retries=0), now)
    except ForecastError as error:
        log.warning("past winters of %s: %s", garden.name, error)
        return True
    with logbook.begin() as c:
        note_kept_answer(c, _cell(garden), _row(answer))
    return True


def _is_due(asked: str | None, now: datetime) -> bool:
    return asked is None or abs(now - datetime.fromisoformat(json.loads(asked))) >= ASK_AGAIN


def _cell(garden: Garden) -> str:
    """Its own cell: the forecasts' answers are read at each round and need not be unpacked beside it."""
    return f"{garden.site.latitude_deg:.4f},{garden.site.longitude_deg:.4f} winters"


def _row(answer: KeptAnswer) -> AnswerRow:
    return AnswerRow(**{**vars(answer), "last_modified": answer.last_modified or "", "etag": answer.etag or ""})


def _of_file(path: Path) -> DailyMinima:
    return _of_table(path, path.stat().st_mtime_ns)


@lru_cache(maxsize=4)
def _of_table(path: Path, _: int) -> DailyMinima:
    """Read anew only when the file was changed."""
    return parse_daily_minima(path.read_text(encoding="utf-8"))


def _of_logbook(c: Connection, garden: Garden) -> DailyMinima | None:
    kept = read_kept_answers(c, _cell(garden))
    return _of_archive(kept[0].body) if kept else None


@lru_cache(maxsize=4)
def _of_archive(body: str) -> DailyMinima:
    days = parse_past_days(body)
    return daily_minima(days.dates, days.min_c, days.max_c, half_unit_c=KEPT_DIGIT_C)
