"""Photos on record: those still to be fetched from the messenger, those kept, those whose file must go."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa

from bot.logbook.database.tables import inbox, insert_into, records, states


@dataclass(frozen=True, kw_only=True)
class WantedPhoto:
    """A photo that was sent to us and is not kept yet; `chat_id` is where whoever sent it hears of it, if known."""

    record_id: int
    tree: str
    file_id: str
    at_utc: datetime
    noted_utc: datetime
    chat_id: int | None


_OF_PHOTO = records.c.kind == "photo"
LOST = ""  # in place of a file's name: given up
ALL = ""  # in place of a garden's name: what the door asks of all gardens at once
FETCH = "fetch "  # and then the garden's name


def wanted_photos(c: sa.Connection, garden: str, since_utc: datetime) -> list[WantedPhoto]:
    """The photos noted since then that are to be fetched, oldest first."""
    return _waiting(c, garden, records.c.noted_utc >= since_utc)


def late_photos(c: sa.Connection, garden: str, before_utc: datetime) -> list[WantedPhoto]:
    """The photos noted before then that were never had, oldest first."""
    return _waiting(c, garden, records.c.noted_utc < before_utc)


def _waiting(c: sa.Connection, garden: str, which: sa.ColumnElement[bool]) -> list[WantedPhoto]:
    waits = sa.and_(_OF_PHOTO, records.c.file.is_(None), records.c.undone_utc.is_(None))
    came = sa.and_(inbox.c.door == "telegram", inbox.c.update_id == records.c.update_id)
    chat_id = sa.func.coalesce(sa.select(inbox.c.chat_id).where(came).scalar_subquery(), records.c.person_id)
    asked = sa.select(records, chat_id.label("chat_id")).where(records.c.garden == garden, waits, which)
    return [
        WantedPhoto(
            record_id=row.id,
            tree=row.tree,
            file_id=row.what,
            at_utc=row.at_utc,
            noted_utc=row.noted_utc,
            chat_id=row.chat_id,
        )
        for row in c.execute(asked.order_by(records.c.id))
    ]


def photos_since(c: sa.Connection, garden: str, person: str, since_utc: datetime) -> int:
    """How many photos somebody has sent to a garden since then, undone ones too: they were fetched all the same."""
    sent = sa.and_(records.c.garden == garden, _OF_PHOTO, records.c.person == person, records.c.noted_utc >= since_utc)
    return c.scalar(sa.select(sa.func.count()).select_from(records).where(sent)) or 0


def note_to_fetch(c: sa.Connection, garden: str) -> None:
    """Something sent to this garden is still with the messenger; so noted, the door need not ask every garden."""
    row = insert_into(c, states).values(garden=ALL, name=f"{FETCH}{garden}", body="true")
    c.execute(row.on_conflict_do_nothing(index_elements=["garden", "name"]))


def gardens_to_fetch(c: sa.Connection) -> list[str]:
    """The gardens to which something was sent that is still with the messenger."""
    rows = c.scalars(sa.select(states.c.name).where(states.c.garden == ALL, states.c.name.startswith(FETCH)))
    return [name.removeprefix(FETCH) for name in rows]


def nothing_to_fetch(c: sa.Connection, garden: str) -> None:
    """All that was sent to this garden is here, or given up."""
    c.execute(sa.delete(states).where(states.c.garden == ALL, states.c.name == f"{FETCH}{garden}"))


def note_photo_file(c: sa.Connection, garden: str, record_id: int, file: str) -> None:
    """The name under which a photo was kept; `LOST` where it never can be."""
    one = sa.and_(records.c.garden == garden, records.c.id == record_id, _OF_PHOTO)
    c.execute(sa.update(records).where(one).values(file=file))


def take_undone_photos(c: sa.Connection, garden: str) -> Sequence[str]:
    """The names of files whose photo was undone; from now on they are on record no more."""
    gone = sa.and_(records.c.garden == garden, _OF_PHOTO, records.c.undone_utc.is_not(None), records.c.file != LOST)
    names = list(c.scalars(sa.select(records.c.file).where(gone)))
    if names:
        c.execute(sa.update(records).where(gone).values(file=LOST))
    return names
