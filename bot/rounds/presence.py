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


def go_away(c: Connection, person: Person, until_utc: datetime | None, from_utc: datetime | None = None) -> None:
    """This person is away until a time, or until they say that they are back; from now on, or from a time ahead."""
    end = until_utc.astimezone(UTC).isoformat() if until_utc else OPEN
    kept = {"from": from_utc.astimezone(UTC).isoformat(), "until": end} if from_utc else end
    note_state(c, person.garden, f"away {person.chat_id}", json.dumps(kept))


def come_back(c: Connection, person: Person, now: datetime) -> bool:
    """Whether this person was away or about to go; from now on they are not."""
    was_away = _absence(read_state(c, person.garden, f"away {person.chat_id}"), now) is not None
    note_state(c, person.garden, f"away {person.chat_id}", json.dumps(None))
    return was_away


def away_until(c: Connection, person: Person, now: datetime) -> datetime | None:
    """When an absence that holds now ends; one without an end is taken to last four weeks more. None: there."""
    return _away_until(read_state(c, person.garden, f"away {person.chat_id}"), now)


def _away_until(body: str | None, now: datetime) -> datetime | None:
    absence = _absence(body, now)
    return absence[1] if absence is not None and absence[0] <= now else None


def _absence(body: str | None, now: datetime) -> tuple[datetime, datetime] | None:
    """From when until when somebody is away, at present or ahead."""
    kept = json.loads(body or "null")
    if kept is None:
        return None
    begins = datetime.fromisoformat(kept["from"]) if isinstance(kept, dict) else now
    end = kept["until"] if isinstance(kept, dict) else kept
    until = max(begins, now) + OPEN_END if end == OPEN else datetime.fromisoformat(end)
    return (begins, until) if until > now else None


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

    They begin on the day after the last one leaves, tomorrow at the earliest, so that what that day's light allows is
    asked for before, and end on the day before the first one is back.
    """
    told = _absences(c, garden, now)
    absences: Sequence[tuple[datetime, datetime]] = [one for _, one in told if one is not None]
    if not absences or len(absences) < len(told):
        return ()
    first = max(now, *(begins for begins, _ in absences)).astimezone(zone).date() + timedelta(days=1)
    last = min(until for _, until in absences).astimezone(zone).date() - timedelta(days=1)
    return ((first, last),) if first <= last else ()


def _hearing(c: Connection, garden: str, now: datetime) -> list[tuple[Person, datetime | None]]:
    """Everyone reached and not muted, and until when they are away."""
    told = _absences(c, garden, now)
    return [(one, absence[1] if absence and absence[0] <= now else None) for one, absence in told]


def _absences(c: Connection, garden: str, now: datetime) -> list[tuple[Person, tuple[datetime, datetime] | None]]:
    """Everyone reached and not muted, and their absence at present or ahead."""
    people = [person for person in list_people(c, garden) if person.is_reachable]
    kept = read_states(c, garden, [f"{what} {one.chat_id}" for one in people for what in ("muted", "away")])
    return [
        (one, _absence(kept.get(f"away {one.chat_id}"), now))
        for one in people
        if json.loads(kept.get(f"muted {one.chat_id}", "false")) is not True
    ]
