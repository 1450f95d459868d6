"""When each garden is next to be looked at, where one deployment tends many; gardens of one weather cell go together.

Only times, and which program made the last round and so has its outlook in memory: who is at which cell is the
queue's to say (`hosting/fan_out`). They stand here and not in the queue, so that the queue may be lost, and because it
searches all that waits in it for each job it gives out.
"""

from collections.abc import Collection, Mapping
from datetime import datetime, timedelta
from typing import Final

import sqlalchemy as sa

from bot.logbook.database.tables import insert_into, turns

FAR_OFF: Final = timedelta(hours=2)  # a turn further off than any we give is of a clock that was set back
HEAD_START: Final = timedelta(seconds=15)  # of the program that has a garden's outlook, before any other; no source
LEFT_LONG: Final = timedelta(minutes=5)  # from then on nobody's own come first; no source


def enrol(c: sa.Connection, cells: Mapping[str, str], now: datetime) -> None:
    """Give every garden its turn, at once for a new one, and drop those that are not listed (cell by garden)."""
    known = {row.garden: row.cell for row in c.execute(sa.select(turns.c.garden, turns.c.cell))}
    for gone in known.keys() - cells.keys():
        c.execute(sa.delete(turns).where(turns.c.garden == gone))
    for garden, cell in cells.items():
        if known.get(garden) != cell:
            row = insert_into(c, turns).values(garden=garden, cell=cell, due_utc=now)
            c.execute(row.on_conflict_do_update(index_elements=["garden"], set_={"cell": cell}))


def cells_due(c: sa.Connection, now: datetime) -> list[str]:
    """The weather cells with a garden that is due, whoever keeps it; those that wait longest first."""
    waiting = sa.select(turns.c.cell).where(_due(now)).group_by(turns.c.cell)
    return list(c.scalars(waiting.order_by(sa.func.min(turns.c.due_utc), turns.c.cell)))


def cells_for(
    c: sa.Connection, program: str, now: datetime, limit: int, but: Collection[str] = ()
) -> dict[str, bool]:  # fmt: skip
    """The cells due that a program may hand out, without those in `but`, and whether it keeps their outlook.

    Another's come after its own and nobody's, and not before that other one had a head start: so each garden stays with
    the program that has its outlook, unless that is dead or has too much to do.
    """
    theirs = sa.and_(turns.c.kept_by.is_not(None), turns.c.kept_by != program)
    may = sa.and_(_due(now), sa.or_(sa.not_(theirs), turns.c.due_utc <= now - HEAD_START, _far_off(now)))
    rank = sa.func.min(sa.case((sa.and_(theirs, turns.c.due_utc > now - LEFT_LONG), 1), else_=0))
    found = sa.select(turns.c.cell, sa.func.max(turns.c.kept_by).label("kept_by")).where(may, turns.c.cell.not_in(but))
    ordered = found.group_by(turns.c.cell).order_by(rank, sa.func.min(turns.c.due_utc), turns.c.cell).limit(limit)
    return {row.cell: row.kept_by == program for row in c.execute(ordered)}


def gardens_due(c: sa.Connection, cell: str, now: datetime) -> dict[str, datetime]:
    """Since when each garden of a cell is due, of those that are."""
    due = sa.select(turns.c.garden, turns.c.due_utc).where(turns.c.cell == cell, _due(now))
    return {row.garden: row.due_utc for row in c.execute(due.order_by(turns.c.garden))}


def end_turn(
    c: sa.Connection, garden: str, was_due_utc: datetime, due_utc: datetime, program: str | None = None
) -> None:  # fmt: skip
    """The next round comes at `due_utc`, unless the garden was called since it was seen to be due."""
    mine = sa.update(turns).where(turns.c.garden == garden, turns.c.due_utc == was_due_utc)
    c.execute(mine.values(due_utc=due_utc, kept_by=program))


def ask_for_round(c: sa.Connection, garden: str, now: datetime) -> None:
    """Something changed in this garden: its next round is at once, also if one is under way."""
    c.execute(sa.update(turns).where(turns.c.garden == garden).values(due_utc=now))


def _due(now: datetime) -> sa.ColumnElement[bool]:
    return sa.or_(turns.c.due_utc <= now, _far_off(now))


def _far_off(now: datetime) -> sa.ColumnElement[bool]:
    return turns.c.due_utc > now + FAR_OFF
