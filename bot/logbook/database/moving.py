"""A whole logbook carried to another place, between SQLite and PostgreSQL, without loss and without mixing."""

from collections.abc import Callable, Iterator
from typing import Any, Final

import sqlalchemy as sa

from bot.logbook.database.files import LogbookError
from bot.logbook.database.opening import Logbook
from bot.logbook.database.tables import doors, metadata, steps

ROWS_AT_ONCE: Final = 500
TABLES: Final = [table for table in metadata.sorted_tables if table is not steps]  # the new place took the same steps
MARK: Final = "logbook_move"  # a table that is there while a move is under way

Row = dict[str, Any]
Key = tuple[Any, ...]


def move_logbook(
    here: Logbook, there: Logbook, tell: Callable[[str, int], None] = lambda _name, _rows: None
) -> dict[str, int]:
    """How many rows of each table were carried to `there` and found the same there; `here` stays as it is.

    A move that was broken off goes on where it stopped: rows are carried in slices, each all or none, and what is
    there already is not carried again. No program may write to either logbook meanwhile. `tell` hears of each slice.

    Raises
    ------
    LogbookError
        The new place holds something that no move brought, or in the end the two differ.
    """
    _begin(here, there)
    for table in TABLES:
        for count in _carry(here, there, table):
            tell(table.name, count)
    _set_counters(there)
    moved = {table.name: _compare(here, there, table) for table in TABLES}
    with there.begin() as c:
        c.exec_driver_sql(f"DROP TABLE {MARK}")
    return moved


def _begin(here: Logbook, there: Logbook) -> None:
    if here.name == there.name:
        raise LogbookError(f"the logbook {here.name} can't be moved onto itself")
    with there.begin() as c:
        if sa.inspect(c).has_table(MARK):
            return  # an earlier move was broken off
        full = [table.name for table in TABLES if table is not doors and _count(c, table)]
        if full:
            raise LogbookError(f"{there.name} is not empty (table {full[0]}): move to a new, empty place")
        c.exec_driver_sql(f"CREATE TABLE {MARK} (name TEXT)")


def _count(c: sa.Connection, table: sa.Table) -> int:
    return c.scalar(sa.select(sa.func.count()).select_from(table)) or 0


def _slices(c: sa.Connection, table: sa.Table) -> Iterator[list[Row]]:
    """All rows, so many at a time, in the order of their key."""
    key = list(table.primary_key)
    wanted = sa.select(table).order_by(*key).limit(ROWS_AT_ONCE)
    rows = [dict(row) for row in c.execute(wanted).mappings()]
    while rows:
        yield rows
        last = [sa.literal(rows[-1][column.name], column.type) for column in key]
        rows = [dict(row) for row in c.execute(wanted.where(sa.tuple_(*key) > sa.tuple_(*last))).mappings()]


def _carry(here: Logbook, there: Logbook, table: sa.Table) -> Iterator[int]:
    with here.begin() as source:
        for rows in _slices(source, table):
            with there.begin() as c:
                if table is doors:  # a new logbook has them from the start
                    c.execute(sa.delete(doors))
                known = _same_keys(c, table, rows)
                new = [row for row in rows if _key(table, row) not in known]
                if new:
                    c.execute(sa.insert(table), new)
            yield len(rows)


def _same_keys(c: sa.Connection, table: sa.Table, rows: list[Row]) -> dict[Key, Row]:
    """The rows that have the keys of these, by key."""
    wanted = sa.tuple_(*table.primary_key).in_([_key(table, row) for row in rows])
    found = [dict(row) for row in c.execute(sa.select(table).where(wanted)).mappings()]
    return {_key(table, row): row for row in found}


def _key(table: sa.Table, row: Row) -> Key:
    return tuple(row[column.name] for column in table.primary_key)


def _set_counters(there: Logbook) -> None:
    """New rows shall get numbers above those that were carried; SQLite sees to that by itself."""
    if not there.is_server:
        return
    with there.begin() as c:
        for table in TABLES:
            if "id" in table.c:
                highest = c.scalar(sa.select(sa.func.max(table.c.id))) or 0
                sequence = sa.func.pg_get_serial_sequence(table.name, "id")
                c.execute(sa.select(sa.func.setval(sequence, highest + 1, False)))


def _compare(here: Logbook, there: Logbook, table: sa.Table) -> int:
    with here.begin() as one, there.begin() as two:
        ours, theirs = _count(one, table), _count(two, table)
        same = sum(
            _same_keys(two, table, rows) == {_key(table, row): row for row in rows} and len(rows)
            for rows in _slices(one, table)
        )
    if not ours == theirs == same:
        raise LogbookError(
            f"the move failed: of {ours} rows of table {table.name} {same} are the same in {there.name}, which has "
            f"{theirs}; the old logbook is whole"
        )
    return ours
