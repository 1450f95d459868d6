"""Rounds leased to workers where one deployment tends many gardens; gardens of one weather cell go together.

A lease is a row, never remembered in memory: of a worker that dies, its gardens are looked at again when the lease
ends, and a round made twice writes nothing twice.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa

from bot.logbook.database.tables import along_the_index, insert_into, turns

LOST_AT_MOST = 5  # cells in a row that another worker claimed first, before this one rests; no source
FAR_OFF = timedelta(hours=2)  # a turn or a lease further off than any we give is of a clock that was set back


def enrol(c: sa.Connection, cells: Mapping[str, str], now: datetime) -> None:
    """Give every garden its turn, at once for a new one, and drop those that are not listed (cell by garden)."""
    known = {row.garden: row.cell for row in c.execute(sa.select(turns.c.garden, turns.c.cell))}
    for gone in known.keys() - cells.keys():
        c.execute(sa.delete(turns).where(turns.c.garden == gone))
    for garden, cell in cells.items():
        if known.get(garden) != cell:
            row = insert_into(c, turns).values(garden=garden, cell=cell, due_utc=now)
            c.execute(row.on_conflict_do_update(index_elements=["garden"], set_={"cell": cell}))


def lease_cell(
    c: sa.Connection, who: str, now: datetime, lease: timedelta, cell: str | None = None
) -> tuple[str, list[str]] | None:
    """A weather cell with the gardens of it that are due, leased to `who`; None where nothing is due.

    With `cell` that one and no other. A cell of which a garden is being looked at waits, so that no two workers ask a
    weather service the same question at once.
    """
    along_the_index(c)
    lost: list[str] = []
    while len(lost) < LOST_AT_MOST and (first := c.scalar(_first_due(now, cell, lost))) is not None:
        if _only_us(c, first) and not c.scalar(_leased_gardens(first, now)):
            mine = sa.update(turns).where(turns.c.cell == first, _due(now))
            leased = mine.values(lease_by=who, lease_until_utc=now + lease).returning(turns.c.garden)
            return first, sorted(c.scalars(leased))
        lost.append(first)
    return None


def _first_due(now: datetime, cell: str | None, lost: Sequence[str]) -> sa.Select[Any]:
    busy = turns.alias("busy")
    at_work = sa.exists().where(busy.c.cell == turns.c.cell, _leased(busy, now))
    due = sa.select(turns.c.cell).where(_due(now), ~at_work, turns.c.cell.not_in(lost))
    if cell is not None:
        due = due.where(turns.c.cell == cell)
    return due.order_by(turns.c.due_utc).limit(1).with_for_update(skip_locked=True)


def _leased_gardens(cell: str, now: datetime) -> sa.Select[Any]:
    """How many: another worker may have been quicker between our looks, and a later look sees it."""
    return sa.select(sa.func.count()).where(turns.c.cell == cell, _leased(turns, now))


def _due(now: datetime) -> sa.ColumnElement[bool]:
    return sa.or_(turns.c.due_utc <= now, turns.c.due_utc > now + FAR_OFF)


def _leased(table: sa.FromClause, now: datetime) -> sa.ColumnElement[bool]:
    return sa.and_(table.c.lease_until_utc > now, table.c.lease_until_utc <= now + FAR_OFF)


def _only_us(c: sa.Connection, cell: str) -> bool:
    """Whether no other transaction is claiming this cell; SQLite lets in one writer at a time anyway."""
    if c.dialect.name != "postgresql":
        return True
    return bool(c.scalar(sa.select(sa.func.pg_try_advisory_xact_lock(sa.func.hashtextextended(f"cell:{cell}", 0)))))


def end_lease(c: sa.Connection, garden: str, who: str, due_utc: datetime) -> bool:
    """Whether the lease was still ours; the next round comes at `due_utc`, or at once if it was called meanwhile."""
    mine = sa.update(turns).where(turns.c.garden == garden, turns.c.lease_by == who)
    again = sa.case((turns.c.called_utc.is_not(None), turns.c.called_utc), else_=due_utc)
    ended = {"lease_by": None, "lease_until_utc": None, "due_utc": again, "called_utc": None}
    return c.execute(mine.values(**ended)).rowcount == 1


def ask_for_round(c: sa.Connection, garden: str, now: datetime) -> None:
    """Something changed in this garden: its next round is at once, also if one is under way."""
    idle = sa.update(turns).where(turns.c.garden == garden, turns.c.lease_by.is_(None))
    if c.execute(idle.values(due_utc=now)).rowcount == 0:
        c.execute(sa.update(turns).where(turns.c.garden == garden).values(called_utc=now))


def cells_due(c: sa.Connection, now: datetime, limit: int | None = None) -> list[str]:
    """The weather cells with a garden that is due and not being looked at, those that wait longest first."""
    free = sa.or_(turns.c.lease_until_utc.is_(None), turns.c.lease_until_utc <= now)
    waiting = sa.select(turns.c.cell).where(turns.c.due_utc <= now, free).group_by(turns.c.cell)
    return list(c.scalars(waiting.order_by(sa.func.min(turns.c.due_utc), turns.c.cell).limit(limit)))


def oldest_due_utc(c: sa.Connection) -> datetime | None:
    """Since when the garden that waits longest has been due; None where there are no gardens."""
    first = sa.select(turns.c.due_utc).order_by(turns.c.due_utc).limit(1)
    return c.scalar(first)
