"""The word to a garden's owners that no round has ended for hours: silence must not be trusted then."""

import json
from datetime import datetime, time, timedelta
from typing import Final

from bot.logbook import Connection, Person, enqueue, note_state, read_state
from bot.messages import OnUnknown, Outgoing
from bot.rounds.file_trouble import owners_of
from bot.rounds.inputs import quiet_of
from bot.rounds.setting import Setting

SILENT_AFTER: Final = timedelta(hours=3)  # a look is due every hour, after a failure every ten minutes; no source
NOTED_EVERY: Final = timedelta(minutes=10)  # how exactly the end of a round is known; no source
ENDED: Final = "round ended"
STARTED: Final = "started"
EVERY_GARDEN: Final = ""  # under which name the logbook keeps what is true of the program, not of a garden
ENDS: Final = time(7)  # the night it warns of is over


def last_look_utc(c: Connection, setting: Setting) -> datetime | None:
    """When the services were last asked for this garden, with or without success; None where they never were."""
    asked = read_state(c, setting.weather_of, "asked")
    return datetime.fromisoformat(json.loads(asked)["at"]) if asked else None


def note_round_ended(c: Connection, setting: Setting, now: datetime) -> None:
    """A round has come to its end; written down once in ten minutes, since rounds are many and this is for an alarm."""
    before = round_ended_utc(c, setting)
    if before is None or not timedelta(0) <= now - before < NOTED_EVERY:
        note_state(c, setting.garden.name, ENDED, json.dumps(now.isoformat()))


def round_ended_utc(c: Connection, setting: Setting) -> datetime | None:
    """When a round of this garden last came to its end, to ten minutes; None where none ever did."""
    ended = read_state(c, setting.garden.name, ENDED)
    return datetime.fromisoformat(json.loads(ended)) if ended else None


def note_started(c: Connection, now: datetime) -> None:
    """The program has started: what it has not looked at yet is no sign that it hangs."""
    note_state(c, EVERY_GARDEN, STARTED, json.dumps(now.isoformat()))


def started_utc(c: Connection) -> datetime | None:
    """When a program last started on this logbook; None where none ever did."""
    started = read_state(c, EVERY_GARDEN, STARTED)
    return datetime.fromisoformat(json.loads(started)) if started else None


def tell_of_silence(c: Connection, setting: Setting, now: datetime) -> bool:
    """Whether the owners are being told that the rounds have stopped; once a day, never in the quiet hours."""
    garden, zone = setting.garden, setting.garden.site.zone
    times = [at for at in (last_look_utc(c, setting), round_ended_utc(c, setting)) if at is not None]
    at = min(times, default=None)  # a round that fails each time has asked the services, and says nothing all the same
    if at is None or now - at < SILENT_AFTER or quiet_of(garden).holds(now):
        return False
    local, last = now.astimezone(zone), at.astimezone(zone)
    until = datetime.combine(local.date() + timedelta(days=1), ENDS, zone)
    text = (
        f"I have not been able to look at the weather since {last:%A} {last:%H:%M}, so my silence means nothing. "
        "Please look at tonight's forecast yourself. On my machine, 'bedstraw doctor' says what is wrong."
    )
    told = [
        enqueue(c, _message(garden.name, person, text, local, now, until), garden.name)
        for person in owners_of(c, garden.name)
    ]
    return any(told)


def _message(garden: str, person: Person, text: str, local: datetime, now: datetime, until: datetime) -> Outgoing:
    return Outgoing(
        key=f"alarm:{garden}:{local.date()}:{person.chat_id}",
        chat_id=person.chat_id,
        text=text,
        due_utc=now,
        expires_utc=until,
        on_unknown=OnUnknown.RESEND,
    )
