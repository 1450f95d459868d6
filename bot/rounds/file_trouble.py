"""The word to a garden's owners that one of their files is not as it should be: once a day for each trouble."""

import json
from datetime import datetime, timedelta
from typing import Final
from zlib import crc32

from bot.logbook import Connection, Person, enqueue, list_people, note_state, read_state
from bot.messages import Outgoing
from bot.settings import Role

LASTS: Final = timedelta(days=2)  # how long the word is of use; no source
LONGEST: Final = 600  # letters of it: a few lines on a phone; no source
NOBODYS: Final = ""  # the state belongs to no garden
OF_FILE: Final = "garden in file "


def tell_of_trouble(c: Connection, garden: str, words: str, now: datetime) -> bool:
    """Whether the owners are being told; the same trouble is told once a day."""
    text = words if len(words) <= LONGEST else f"{words[: LONGEST - 1]}…"
    told = [
        enqueue(
            c,
            Outgoing(
                key=f"trouble:{garden}:{now:%Y-%m-%d}:{crc32(words.encode()):08x}:{person.chat_id}",
                chat_id=person.chat_id,
                text=text,
                due_utc=now,
                expires_utc=now + LASTS,
                silent=True,
            ),
            garden,
        )
        for person in owners_of(c, garden)
    ]
    return any(told)


def note_garden_of_file(c: Connection, file: str, garden: str) -> None:
    """Which garden a file describes, so that its owners can be told when it can't be read any more."""
    if garden_of_file(c, file) != garden:
        note_state(c, NOBODYS, f"{OF_FILE}{file}", json.dumps(garden))


def garden_of_file(c: Connection, file: str) -> str | None:
    """The garden a file described when it could last be read; None for one that never could."""
    told = read_state(c, NOBODYS, f"{OF_FILE}{file}")
    return str(json.loads(told)) if told else None


def file_changed_badly(words: str) -> str:
    """What to say of a garden file that cannot be used while its garden goes on."""
    return f"Your garden file was changed and I can't use it. I go on with it as it was before.\n{words}"


def file_left_out(words: str) -> str:
    """What to say of a garden file that cannot be used at the start."""
    return f"I can't use your garden file, so until it is mended I look after nothing in it.\n{words}"


def owners_of(c: Connection, garden: str) -> list[Person]:
    """The owners that can be reached; where none can, whoever else is let in."""
    reached = [person for person in list_people(c, garden) if person.is_reachable]
    return [person for person in reached if person.role == Role.OWNER] or reached
