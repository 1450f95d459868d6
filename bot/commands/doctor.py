"""`bedstraw doctor`: what is wrong with a garden's bot and what to do about it, in sentences. Changes nothing."""

import json
import shutil
import stat
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from bot.commands.opening import logbook_place, transport_of
from bot.commands.serving.one_garden import utc_now
from bot.hosting.weather_cells import cell_name
from bot.logbook import Connection, Logbook, LogbookError, latest_forecast, list_people, open_logbook, read_state
from bot.logbook.programs.vital_signs import VitalSigns, vital_signs
from bot.rounds import Setting
from bot.settings import (
    Garden,
    GardenError,
    Secrets,
    SecretsError,
    doubtful,
    problems_in_words,
    read_garden,
    read_secrets,
)
from bot.upkeep.alarm import last_look_utc, round_ended_utc, started_utc

ROOM_NEEDED_BYTES: Final = 100_000_000  # some months of one garden; no source
LATE: Final = timedelta(minutes=15)
SILENT: Final = timedelta(hours=2)
STALE: Final = timedelta(hours=12)
SETTLED: Final = timedelta(minutes=5)  # after a start: three services asked three times each; no source beyond it
JUST_STARTED: Final = "The bot has only just started; ask again in five minutes whether it sees the weather."

Findings = Iterator[str]


def doctor(path: Path, now: datetime | None = None) -> tuple[str, int]:
    """The findings, one to a line, and the exit status: 0 where nothing is wrong, 1 where something is."""
    found = list(_findings(path, now or utc_now()))
    if not found:
        return f"All is well with {path.name}.", 0
    if found == [JUST_STARTED]:
        return f"All is well so far with {path.name}. {JUST_STARTED}", 0
    return "\n".join(f"- {sentence}" for sentence in found), 1


def _findings(path: Path, now: datetime) -> Findings:
    try:
        garden = read_garden(path)
    except GardenError as error:
        yield f"The garden file cannot be used. {problems_in_words(error)}"
        return
    yield from (f"{problem.sentence[:1].upper()}{problem.sentence[1:]}" for problem in doubtful(garden))
    try:
        secrets = read_secrets(None, path)
        secrets.token_needed  # noqa: B018 - raises where there is none
    except SecretsError as error:
        yield str(error)
        try:
            secrets = read_secrets({}, path)
        except SecretsError:
            return
    yield from secrets.unknown
    yield from _of_logbook(garden, secrets, now)


def _of_logbook(garden: Garden, secrets: Secrets, now: datetime) -> Findings:
    place = logbook_place(secrets)
    if isinstance(place, Path):
        if not place.exists():
            yield f"There is no logbook at {place} yet. Start the bot: bedstraw serve GARDEN."
            return
        yield from _of_file(place)
    try:
        logbook = open_logbook(place)
    except LogbookError as error:
        yield f"{str(error)[:1].upper()}{str(error)[1:]}."
        return
    try:
        yield from _inside(logbook, garden, secrets, now)
    except LogbookError as error:
        yield f"{str(error)[:1].upper()}{str(error)[1:]}."
    finally:
        logbook.close()


def _of_file(place: Path) -> Findings:
    if stat.S_IMODE(place.stat().st_mode) & 0o077:
        yield f"Others can read the logbook. Run: chmod 600 {place}"
    free = shutil.disk_usage(place.parent).free
    if free < ROOM_NEEDED_BYTES:
        yield f"Only {free // 1_000_000} MB are free on the disk of {place}. Make room before nothing can be noted."


def _inside(logbook: Logbook, garden: Garden, secrets: Secrets, now: datetime) -> Findings:
    if damage := logbook.damage():
        yield f"The logbook is damaged ({damage}). Stop the bot and put the newest backup in its place."
        return
    with logbook.begin() as c:
        signs = vital_signs(c, now)
        yield from _of_people(c, garden)
        setting = _setting(c, logbook, garden, secrets)
        if _is_settling(c, setting, now):
            yield JUST_STARTED
            return
        yield from _of_rounds(c, setting, now)
        yield from _of_messages(signs, now)


def _is_settling(c: Connection, setting: Setting, now: datetime) -> bool:
    """Whether a program started a moment ago and has not ended a round since: what is old is the backup's age."""
    started, ended = started_utc(c), last_look_utc(c, setting)
    return started is not None and timedelta(0) <= now - started < SETTLED and (ended is None or ended < started)


def _setting(c: Connection, logbook: Logbook, garden: Garden, secrets: Secrets) -> Setting:
    """The garden as its bot has it: alone, or with its cell's weather where it is one of many."""
    alone = Setting(garden=garden, logbook=logbook, transport=transport_of(garden, secrets))
    among_many = Setting(garden=garden, logbook=logbook, transport=alone.transport, cell=cell_name(garden))
    looked, together = last_look_utc(c, alone), last_look_utc(c, among_many)
    return among_many if together is not None and (looked is None or looked < together) else alone


def _of_people(c: Connection, garden: Garden) -> Findings:
    people = list_people(c, garden.name)
    if not people:
        yield "Nobody has been let in yet, so nobody hears anything. Run: bedstraw let-in GARDEN."
    for person in people:
        if not person.is_reachable:
            yield f"{person.name} cannot be reached: they blocked the bot or left. They must write to it again."


def _of_rounds(c: Connection, setting: Setting, now: datetime) -> Findings:
    looked = last_look_utc(c, setting)
    if looked is None:
        yield "The weather was never asked for. Is the bot running? Start it: bedstraw serve GARDEN."
        return
    if looked - now > LATE:
        yield f"The last look at the weather lies {_span(looked - now)} ahead: the clock was set back. Set it right."
    if now - looked > SILENT:
        yield (
            f"The last look at the weather was {_span(now - looked)} ago: the bot is not running, or hangs. "
            "Look at its log, then restart it: systemctl restart bedstraw."
        )
    ended = round_ended_utc(c, setting)
    if ended is not None and now - ended > SILENT >= now - looked:
        yield (
            f"The weather is looked at, but no round has ended for {_span(now - ended)}: something in it fails. "
            "Its log says what. Nobody is told of cold meanwhile."
        )
    kept = latest_forecast(c, setting.weather_of)
    since = (kept.issued_utc or kept.fetched_utc) if kept else None
    if since is None or now - since > STALE:
        age = f"is {_span(now - since)} old" if since else "is missing"
        yield f"The forecast {age}. {_why_no_forecast(c, setting)}"


def _why_no_forecast(c: Connection, setting: Setting) -> str:
    asked = json.loads(read_state(c, setting.weather_of, "asked") or "{}")
    tried = " ".join(sentence for _, sentence in asked.get("tried", []))
    return tried or "Name another service beside it in the garden file."


def _of_messages(signs: VitalSigns, now: datetime) -> Findings:
    if signs.oldest_due_utc is not None and now - signs.oldest_due_utc > LATE:
        yield (
            f"{signs.waiting} messages wait to be sent, the first for {_span(now - signs.oldest_due_utc)}: "
            "the messenger cannot be reached, or the bot is not running."
        )
    if signs.oldest_unread_utc is not None and now - signs.oldest_unread_utc > LATE:
        yield f"{signs.unread} messages of yours wait to be read, the first for {_span(now - signs.oldest_unread_utc)}."
    if signs.failed:
        yield f"{signs.failed} messages could not be understood by the program in the last day; its log says why."
    if signs.dead or signs.unclear:
        yield (
            f"In the last day {signs.dead} messages could not be sent and {signs.unclear} may not have arrived. "
            f"The last reason: {signs.last_error or 'unknown'}."
        )


def _span(time: timedelta) -> str:
    hours = time / timedelta(hours=1)
    return f"{hours:.0f} hours" if hours >= 2 else f"{time / timedelta(minutes=1):.0f} minutes"
