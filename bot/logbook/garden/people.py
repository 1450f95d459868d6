"""Who is let in: people, their chats, and the one-time codes that let a phone in."""

import hashlib
import re
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

import sqlalchemy as sa

from bot.logbook.database.tables import (
    chats,
    inbox,
    insert_into,
    invitations,
    let_in_codes,
    let_in_tries,
    outbox,
    people,
)

CODE_LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"  # none that look alike on paper
CODE_LENGTH = 12  # 59 bits: beyond guessing at 5 tries an hour
CODE_COLUMNS = (let_in_codes.c.garden, let_in_codes.c.role, let_in_codes.c.wish)
BOT_NAME = "bot name"  # under which the logbook keeps what the messenger calls us
OWNER, HOUSEHOLD = "owner", "household"
FIRST = "first"  # the owner's, if no phone is yet when it is used
WISH = re.compile(r"⟨code ([0-9a-f]{16})⟩")
TRIES_PER_HOUR = 5  # assumed, no source: enough for typing errors


@dataclass(frozen=True, kw_only=True)
class Person:
    """One person of one garden and the chat they are reached in."""

    garden: str
    chat_id: int
    name: str
    role: str
    is_reachable: bool = True


def note_person(c: sa.Connection, garden: str, chat_id: int, name: str, role: str) -> None:
    """Let a person in, or change their name and role."""
    row = insert_into(c, people).values(garden=garden, chat_id=chat_id, name=name, role=role)
    c.execute(row.on_conflict_do_update(index_elements=["garden", "chat_id"], set_={"name": name, "role": role}))


def forget_person(c: sa.Connection, garden: str, chat_id: int) -> None:
    """Let a chat out again; what they noted stays."""
    c.execute(sa.delete(people).where(people.c.garden == garden, people.c.chat_id == chat_id))


def list_people(c: sa.Connection, garden: str) -> list[Person]:
    """Everyone let in to a garden, oldest first."""
    return _read(c, _OF_GARDEN, garden=garden)


def garden_of_chat(c: sa.Connection, chat_id: int) -> Person | None:
    """The person behind a chat, in the garden they were let in to last; None for a stranger."""
    found = _read(c, _OF_CHAT, chat=chat_id)
    return found[-1] if found else None


_JOINED: Final = people.outerjoin(chats, chats.c.chat_id == people.c.chat_id)
_ALL: Final = sa.select(people, chats.c.unreachable_utc).select_from(_JOINED).order_by(people.c.id)
_OF_GARDEN: Final = _ALL.where(people.c.garden == sa.bindparam("garden"))
_OF_CHAT: Final = _ALL.where(people.c.chat_id == sa.bindparam("chat"))


def _read(c: sa.Connection, which: sa.Select[Any], **given: object) -> list[Person]:
    rows = c.execute(which, given)
    return [
        Person(garden=r.garden, chat_id=r.chat_id, name=r.name, role=r.role, is_reachable=r.unreachable_utc is None)
        for r in rows
    ]


def make_let_in_code(c: sa.Connection, garden: str, now: datetime, lasts: timedelta, role: str = HOUSEHOLD) -> str:
    """A new single-use code, like "k7mq-2xdp-9hwt"; only its hash is kept, so it can be shown just once.

    With the role `FIRST` it lets in the owner while no phone is the owner's, and a helper from then on.
    """
    return _made(c, garden=garden, expires_utc=now + lasts, role=role)


def wish_let_in_code(c: sa.Connection, garden: str, now: datetime, lasts: timedelta, role: str = HOUSEHOLD) -> str:
    """A mark for a message, in whose place a new code is put when the message leaves: so none is ever written down.

    A message sent twice has two codes; they are one wish, and using either uses up both.
    """
    wish = secrets.token_hex(8)
    row = {"code_hash": f"wish {wish}", "garden": garden, "expires_utc": now + lasts, "role": role, "wish": wish}
    c.execute(sa.insert(let_in_codes).values(**row))
    return f"⟨code {wish}⟩"


def with_codes(c: sa.Connection, text: str) -> str:
    """The text of a message that leaves now, with a new code in place of each mark."""
    return WISH.sub(lambda mark: _granted(c, mark[1]), text)


def _granted(c: sa.Connection, wish: str) -> str:
    row = c.execute(sa.select(let_in_codes).where(let_in_codes.c.code_hash == f"wish {wish}")).first()
    if row is None or row.used_utc is not None:
        return "(used up)"
    return _made(c, garden=row.garden, expires_utc=row.expires_utc, role=row.role, wish=wish)


def _made(c: sa.Connection, **row: object) -> str:
    code = random_code()
    c.execute(sa.insert(let_in_codes).values(code_hash=hash_of_code(code), **row))
    return code


def random_code() -> str:
    """Letters nobody can guess, in fours."""
    code = "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))
    return "-".join(code[i : i + 4] for i in range(0, CODE_LENGTH, 4))


def use_code_hash(c: sa.Connection, code_hash: str, chat_id: int, name: str, now: datetime) -> Person | None:
    """The person let in by the code of this hash; None if it is wrong, used, out of date, or guessed too often.

    A group is many people, so whatever the code says it is let in as household. `now` is when the code reached us: no
    other clock says whether it is out of date.
    """
    if let_in_tries_left(c, chat_id, now) == 0:
        return None
    good = sa.and_(let_in_codes.c.code_hash == code_hash, let_in_codes.c.used_utc.is_(None))
    used = sa.update(let_in_codes).where(good, let_in_codes.c.expires_utc > now)
    row = c.execute(used.values(used_utc=now, used_chat_id=chat_id).returning(*CODE_COLUMNS)).first()
    if row is None:
        c.execute(sa.insert(let_in_tries).values(chat_id=chat_id, at_utc=now))
        return None
    if row.wish is not None:
        c.execute(sa.update(let_in_codes).where(let_in_codes.c.wish == row.wish).values(used_utc=now))
    role = _role(c, row.garden, chat_id, row.role)
    note_person(c, row.garden, chat_id, name, role)
    return Person(garden=row.garden, chat_id=chat_id, name=name, role=role)


def _role(c: sa.Connection, garden: str, chat_id: int, role: str | None) -> str:
    if chat_id < 0 or role is None:
        return HOUSEHOLD
    if role != FIRST:
        return role
    has_owner = any(one.role == OWNER and one.chat_id > 0 for one in list_people(c, garden))
    return HOUSEHOLD if has_owner else OWNER


def is_code(c: sa.Connection, code_hash: str) -> bool:
    """Whether this is the hash of a code we made, whatever became of it."""
    tables = let_in_codes, invitations
    return any(c.scalar(sa.select(one.c.code_hash).where(one.c.code_hash == code_hash)) for one in tables)


def let_in_tries_left(c: sa.Connection, chat_id: int, now: datetime) -> int:
    """How many wrong codes this chat may still send within the hour."""
    since = let_in_tries.c.at_utc > now - timedelta(hours=1)
    failed = c.scalar(sa.select(sa.func.count()).where(let_in_tries.c.chat_id == chat_id, since))
    return max(0, TRIES_PER_HOUR - (failed or 0))


def hash_of_code(code: str) -> str:
    """What is kept of a code; how it was written, in fours or in capitals, does not matter."""
    plain = "".join(letter for letter in code.lower() if letter in CODE_LETTERS)
    return hashlib.sha256(plain.encode()).hexdigest()


def mark_unreachable(c: sa.Connection, chat_id: int, now: datetime) -> None:
    """Send nothing to this chat until it comes back; the garden and the person stay."""
    row = insert_into(c, chats).values(chat_id=chat_id, unreachable_utc=now)
    c.execute(row.on_conflict_do_update(index_elements=["chat_id"], set_={"unreachable_utc": now}))


def mark_reachable(c: sa.Connection, chat_id: int) -> None:
    """The chat is open to us again."""
    c.execute(sa.update(chats).where(chats.c.chat_id == chat_id).values(unreachable_utc=None))


def is_reachable(c: sa.Connection, chat_id: int) -> bool:
    """Whether we may send to this chat."""
    closed = chats.c.unreachable_utc.is_not(None)
    return c.scalar(sa.select(sa.func.count()).where(chats.c.chat_id == chat_id, closed)) == 0


def move_chat(c: sa.Connection, old: int, new: int) -> None:
    """A group got a new id from the messenger: change it everywhere."""
    taken = sa.select(people.c.garden).where(people.c.chat_id == new)
    c.execute(sa.delete(people).where(people.c.chat_id == old, people.c.garden.in_(taken)))
    for table in (people, outbox, inbox, let_in_tries):
        c.execute(sa.update(table).where(table.c.chat_id == old).values(chat_id=new))
    c.execute(sa.delete(chats).where(chats.c.chat_id == old))
