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


def forget_all_of_person(c: sa.Connection, garden: str, chat_id: int) -> int:
    """How many records of the person of a chat went; deeds, readings and the like stay, without name and id.

    The conversation goes too, and who they are. What was done to trees belongs to the household.
    """
    of_person = _of_person(garden, chat_id)
    gone = c.execute(sa.delete(records).where(of_person, records.c.kind.in_(OWN_WORDS))).rowcount
    c.execute(sa.update(records).where(of_person).values(person=NOBODY, person_id=None))
    settled = sa.and_(nudges.c.garden == garden, nudges.c.settled_by_id == chat_id)
    c.execute(sa.update(nudges).where(settled).values(settled_by=NOBODY, settled_by_id=None))
    c.execute(sa.delete(people).where(people.c.garden == garden, people.c.chat_id == chat_id))
    c.execute(sa.delete(states).where(states.c.garden == garden, states.c.name.like(f"% {chat_id}")))
    c.execute(sa.delete(states).where(states.c.garden == garden, states.c.name.like(f"message {chat_id} %")))
    _forget_chats(c, [chat_id])
    return gone


def photos_of_person(c: sa.Connection, garden: str, chat_id: int) -> list[str]:
    """The names of the photo files the person of a chat sent."""
    photos = sa.select(records.c.file).where(_of_person(garden, chat_id), records.c.kind == "photo")
    return [file for file in c.scalars(photos) if file]


def words_without_id(c: sa.Connection, garden: str, name: str) -> int:
    """How many notes and photos stand under a name alone, from before people were known by their ids."""
    unknown = records.c.garden == garden, records.c.person == name, records.c.person_id.is_(None)
    counted = sa.select(sa.func.count()).select_from(records).where(*unknown, records.c.kind.in_(OWN_WORDS))
    return c.scalar(counted) or 0


def _of_person(garden: str, chat_id: int) -> sa.ColumnElement[bool]:
    """What a person told: alone with us their chat has their own id; two of one name are two."""
    return sa.and_(records.c.garden == garden, records.c.person_id == chat_id)


def forget_garden(c: sa.Connection, garden: str, cell: str) -> int:
    """How many rows of a garden went: all there were, with its people's conversations.

    `cell` is the place under which raw answers of the weather services are kept.
    """
    c.execute(sa.delete(kept_answers).where(kept_answers.c.cell.in_((cell, f"{garden} seasons"))))
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
