"""Delete-my-data: all rows of one person, or of a whole garden; what is left carries no name."""

from collections.abc import Collection

import sqlalchemy as sa

from bot.logbook.database.tables import (
    chats,
    inbox,
    kept_answers,
    let_in_tries,
    metadata,
    nudges,
    outbox,
    people,
    records,
    states,
)

NOBODY = "someone"
OF_GARDEN = [table for table in metadata.sorted_tables if "garden" in table.c]
OWN_WORDS = ("note", "photo")  # records that say more of a person than of a tree


def forget_all_of_person(c: sa.Connection, garden: str, chat_id: int, name: str) -> int:
    """How many records of a person went; deeds, readings and the like stay, without the name.

    The conversation goes too, and who they are. What was done to trees belongs to the household.
    """
    _overwrite(c)
    of_person = sa.and_(records.c.garden == garden, records.c.person == name)
    gone = c.execute(sa.delete(records).where(of_person, records.c.kind.in_(OWN_WORDS))).rowcount
    c.execute(sa.update(records).where(of_person).values(person=NOBODY))
    settled = sa.and_(nudges.c.garden == garden, nudges.c.settled_by == name)
    c.execute(sa.update(nudges).where(settled).values(settled_by=NOBODY))
    c.execute(sa.delete(people).where(people.c.garden == garden, people.c.chat_id == chat_id))
    c.execute(sa.delete(states).where(states.c.garden == garden, states.c.name.like(f"% {chat_id}")))
    c.execute(sa.delete(states).where(states.c.garden == garden, states.c.name.like(f"message {chat_id} %")))
    _forget_chats(c, [chat_id])
    return gone


def photos_of_person(c: sa.Connection, garden: str, name: str) -> list[str]:
    """The names of the photo files a person sent."""
    of_person = sa.and_(records.c.garden == garden, records.c.person == name, records.c.kind == "photo")
    return [file for file in c.scalars(sa.select(records.c.file).where(of_person)) if file]


def forget_garden(c: sa.Connection, garden: str, cell: str) -> int:
    """How many rows of a garden went: all there were, with its people's conversations.

    `cell` is the place under which raw answers of the weather services are kept.
    """
    _overwrite(c)
    c.execute(sa.delete(kept_answers).where(kept_answers.c.cell == cell))
    chat_ids = list(c.scalars(sa.select(people.c.chat_id).where(people.c.garden == garden)))
    gone = sum(c.execute(sa.delete(table).where(table.c.garden == garden)).rowcount for table in OF_GARDEN)
    _forget_chats(c, chat_ids)
    return gone


def _forget_chats(c: sa.Connection, chat_ids: Collection[int]) -> None:
    """What these chats said and were told, but for the very message that is being answered."""
    c.execute(sa.delete(outbox).where(outbox.c.chat_id.in_(chat_ids)))
    of_chats = inbox.c.chat_id.in_(chat_ids)
    last = sa.select(sa.func.max(inbox.c.id)).where(of_chats, inbox.c.state == "done").group_by(inbox.c.chat_id)
    kept = set(c.scalars(last))  # its id must be known for a while, or the server's repeat would be answered anew
    c.execute(sa.delete(inbox).where(of_chats, inbox.c.id.not_in(kept)))
    c.execute(sa.update(inbox).where(inbox.c.id.in_(kept)).values(raw="{}"))
    c.execute(sa.delete(let_in_tries).where(let_in_tries.c.chat_id.in_(chat_ids)))
    c.execute(sa.delete(chats).where(chats.c.chat_id.in_(chat_ids)))


def _overwrite(c: sa.Connection) -> None:
    """SQLite leaves deleted text in the file until the page is used again, unless told to wipe it."""
    if c.dialect.name == "sqlite":
        c.exec_driver_sql("PRAGMA secure_delete=ON")
