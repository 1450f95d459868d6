"""Who is there: people who want no nudges, people who are away, and who gets what falls due meanwhile."""

import json
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from bot.logbook import Connection, Person, list_people, note_state, read_state, read_states

OPEN_END: Final = timedelta(days=28)  # how far ahead an absence without an end is planned for; no source
OPEN: Final = "open"
KEEPER: Final = "keeper"  # who has the watch while another is away


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
    return _away_until(read_state(c, person.garden, f"away {person.chat_id}"), now)


def _away_until(body: str | None, now: datetime) -> datetime | None:
    kept = json.loads(body or "null")
    if kept is None:
        return None
    end = now + OPEN_END if kept == OPEN else datetime.fromisoformat(kept)
    return end if end > now else None


def listeners(c: Connection, garden: str, now: datetime) -> list[Person]:
    """Who gets the nudges: who has the watch, else everyone reached and not muted who is there, else those away."""
    hearing = _hearing(c, garden, now)
    there = [person for person, away in hearing if away is None]
    keeper = _keeper(c, garden, now)
    return [one for one in there if one.chat_id == keeper] or there or [person for person, _ in hearing]


def hand_over(c: Connection, garden: str, keeper: Person, by: Person, until_utc: datetime | None) -> None:
    """From now on one person gets the nudges, until a time or until the other is back."""
    end = until_utc.astimezone(UTC).isoformat() if until_utc else OPEN
    note_state(c, garden, KEEPER, json.dumps({"chat_id": keeper.chat_id, "by": by.chat_id, "until": end}))


def take_back_watch(c: Connection, person: Person) -> None:
    """Who handed over and is back has the watch again."""
    kept = json.loads(read_state(c, person.garden, KEEPER) or "null")
    if kept is not None and kept["by"] == person.chat_id:
        note_state(c, person.garden, KEEPER, "null")


def _keeper(c: Connection, garden: str, now: datetime) -> int | None:
    kept = json.loads(read_state(c, garden, KEEPER) or "null")
    over = kept is None or (kept["until"] != OPEN and datetime.fromisoformat(kept["until"]) <= now)
    return None if over else int(kept["chat_id"])


def away_days(c: Connection, garden: str, zone: ZoneInfo, now: datetime) -> tuple[tuple[date, date], ...]:
    """The local days on which nobody at all is there, for the plan; empty while somebody is.

    They begin tomorrow, so that what today's light still allows is asked for before people leave, and end on the day
    before the first one is back.
    """
    ends = [away for _, away in _hearing(c, garden, now)]
    there: Sequence[datetime] = [end for end in ends if end is not None]
    if not there or len(there) < len(ends):
        return ()
    first = now.astimezone(zone).date() + timedelta(days=1)
    last = min(there).astimezone(zone).date() - timedelta(days=1)
    return ((first, last),) if first <= last else ()


def _hearing(c: Connection, garden: str, now: datetime) -> list[tuple[Person, datetime | None]]:
    """Everyone reached and not muted, and until when they are away."""
    people = [person for person in list_people(c, garden) if person.is_reachable]
    kept = read_states(c, garden, [f"{what} {one.chat_id}" for one in people for what in ("muted", "away")])
    return [
        (one, _away_until(kept.get(f"away {one.chat_id}"), now))
        for one in people
        if json.loads(kept.get(f"muted {one.chat_id}", "false")) is not True
    ]
