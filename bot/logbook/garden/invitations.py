"""Invitations to begin a garden: counted, expiring, revocable; and the gardens that began with one."""

import re
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import sqlalchemy as sa

from bot.logbook.database.tables import beginnings, insert_new, invitations, people, records, states
from bot.logbook.garden.people import OWNER, Person, hash_of_code, note_person, random_code

LONGEST_FIRST_NAME: Final = 30
BEGUN: Final = "begun_"  # begins the names of the files of gardens that began by invitation
MOST_NAMESAKES: Final = 100_000


@dataclass(frozen=True, kw_only=True)
class Invitation:
    """Who has its code may begin a garden, while it lasts and is not used up; the code itself is kept nowhere."""

    number: int
    expires_utc: datetime
    uses_left: int
    is_revoked: bool


def make_invitation(c: sa.Connection, now: datetime, lasts: timedelta, uses: int) -> tuple[int, str]:
    """The number of a new invitation and its code, which can be shown just once."""
    code = random_code()
    row = {"code_hash": hash_of_code(code), "expires_utc": now + lasts, "uses_left": uses}
    number = c.scalar(sa.insert(invitations).values(**row).returning(invitations.c.id))
    return int(number or 0), code


def list_invitations(c: sa.Connection) -> list[Invitation]:
    """All that were made and not let go yet, oldest first."""
    return [
        Invitation(
            number=row.id, expires_utc=row.expires_utc, uses_left=row.uses_left, is_revoked=row.revoked_utc is not None
        )
        for row in c.execute(sa.select(invitations).order_by(invitations.c.id))
    ]


def revoke_invitation(c: sa.Connection, number: int, now: datetime) -> bool:
    """Whether there was such an invitation to take back; gardens that began with it stay."""
    one = sa.and_(invitations.c.id == number, invitations.c.revoked_utc.is_(None))
    return c.execute(sa.update(invitations).where(one).values(revoked_utc=now)).rowcount > 0


def use_invitation(c: sa.Connection, code_hash: str, chat_id: int, name: str, now: datetime) -> Person | None:
    """The owner of a garden to be, let in by an invitation; None where the code is none that is good.

    A group begins no garden: nobody would be its owner. `now` is when the code reached us.
    """
    good = sa.and_(
        invitations.c.code_hash == code_hash,
        invitations.c.uses_left > 0,
        invitations.c.expires_utc > now,
        invitations.c.revoked_utc.is_(None),
    )
    if chat_id <= 0:
        return None
    used = sa.update(invitations).where(good).values(uses_left=invitations.c.uses_left - 1)
    number = c.scalar(used.returning(invitations.c.id))
    if number is None:
        return None
    garden = _reserved(c, name, number, now)
    note_person(c, garden, chat_id, name, OWNER)
    return Person(garden=garden, chat_id=chat_id, name=name, role=OWNER)


def _reserved(c: sa.Connection, person: str, number: int, now: datetime) -> str:
    """A name no other garden of this logbook has or had, kept for the new one."""
    first = " ".join(re.sub(r"[^\w' -]", "", person).split())[:LONGEST_FIRST_NAME] or "New"
    for n in range(1, MOST_NAMESAKES):
        garden = f"{first}'s garden" + (f" {n}" if n > 1 else "")
        if any(c.scalar(sa.select(one.c.garden).where(one.c.garden == garden).limit(1)) for one in (people, records)):
            continue
        row = {"garden": garden, "file": f"{BEGUN}{secrets.token_hex(6)}.toml", "invitation": number, "begun_utc": now}
        if insert_new(c, beginnings, ["garden"], **row):
            return garden
    raise ValueError(f"there are {MOST_NAMESAKES} gardens of {first} already")


def file_of_beginning(c: sa.Connection, garden: str) -> str | None:
    """The name of the file of a garden that began with an invitation; None for any other."""
    return c.scalar(sa.select(beginnings.c.file).where(beginnings.c.garden == garden))


def forget_beginning(c: sa.Connection, garden: str) -> None:
    """Nothing more of a garden that never came to be; the invitation may be used once more."""
    number = c.scalar(sa.delete(beginnings).where(beginnings.c.garden == garden).returning(beginnings.c.invitation))
    c.execute(sa.update(invitations).where(invitations.c.id == number).values(uses_left=invitations.c.uses_left + 1))
    for table in (people, states):
        c.execute(sa.delete(table).where(table.c.garden == garden))
