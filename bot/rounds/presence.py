"""Who is there: people who want no nudges, people who are away, and who gets what falls due meanwhile."""

import json
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from bot.logbook import Connection, Person, list_people, note_state, read_state

OPEN_END: Final = timedelta(days=28)  # how far ahead an absence without an end is planned for; no source
OPEN: Final = "open"


def mute(c: Connection, person: Person, *, muted: bool) -> None:
    """Send this chat no nudges any more, or send them again; its questions are answered all the same."""
    note_state(c, person.garden, f"muted {person.chat_id}", json.dumps(muted))


def is_muted(c: Connection, person: Person) -> bool:
    """Whether this chat asked for no nudges."""
    return json.loads(read_state(c, person.garden, f"muted {person.chat_id}") or "false") is True


def go_away(c: Connection, person: Person, until_utc: datetime | None) -> None:
    """This person is away until a time; None is until they say that they are back."""
    end = until_utc.astimezone(UTC).isoformat() if until_utc else OPEN
    note_state(c, person.garden, f"away {person.chat_id}", json.dumps(end))


def come_back(c: Connection, person: Person, now: datetime) -> bool:
    """Whether this person was away; from now on they are not."""
    was_away = away_until(c, person, now) is not None
    note_state(c, person.garden, f"away {person.chat_id}", json.dumps(None))
    return was_away


def away_until(c: Connection, person: Person, now: datetime) -> datetime | None:
    """When an absence that holds now ends; one without an end is taken to last four weeks more. None: there."""
    kept = json.loads(read_state(c, person.garden, f"away {person.chat_id}") or "null")
    if kept is None:
        return None
    end = now + OPEN_END if kept == OPEN else datetime.fromisoformat(kept)
    return end if end > now else None


def listeners(c: Connection, garden: str, now: datetime) -> list[Person]:
    """Who gets the nudges: everyone reached and not muted who is there; those who are away only if nobody is."""
    hearing = _hearing(c, garden)
    return [person for person in hearing if away_until(c, person, now) is None] or hearing


def away_days(c: Connection, garden: str, zone: ZoneInfo, now: datetime) -> tuple[tuple[date, date], ...]:
    """The local days on which nobody at all is there, for the plan; empty while somebody is.

    They begin tomorrow, so that what today's light still allows is asked for before people leave, and end on the day
    before the first one is back.
    """
    ends = [away_until(c, person, now) for person in _hearing(c, garden)]
    there: Sequence[datetime] = [end for end in ends if end is not None]
    if not there or len(there) < len(ends):
        return ()
    first = now.astimezone(zone).date() + timedelta(days=1)
    last = min(there).astimezone(zone).date() - timedelta(days=1)
    return ((first, last),) if first <= last else ()


def _hearing(c: Connection, garden: str) -> list[Person]:
    return [person for person in list_people(c, garden) if person.is_reachable and not is_muted(c, person)]
