"""A garden's records kept in memory, so that a round or a reply reads only what was told since."""

from collections.abc import Sequence
from datetime import datetime, time
from typing import Final

import sqlalchemy as sa

from bot.logbook.database.tables import records
from bot.logbook.garden.entries import Entry
from bot.logbook.garden.records import SAID, as_records, read_entries
from rules.garden.records import Records

Mark = tuple[tuple[str | None, int, int, int], ...]
Rows = Sequence[tuple[datetime, int, Entry]]


class KeptRecords:
    """The records of one garden as the last look found them; what was undone or renamed since is read in full.

    Only `keep` keeps: what is read inside an answer's own transaction may be taken back with it.
    """

    def __init__(self) -> None:
        self._kept: tuple[datetime | None, Mark, Rows, Records] = None, (), (), Records()

    def read(self, c: sa.Connection, garden: str, since_utc: datetime) -> Records:
        """The records as `read_records` gives them, since the beginning of that day."""
        return self._found(c, garden, since_utc)[-1]

    def keep(self, c: sa.Connection, garden: str, since_utc: datetime) -> Records:
        """The same, kept: outside any transaction that tells more itself."""
        self._kept = self._found(c, garden, since_utc)
        return self._kept[-1]

    def _found(self, c: sa.Connection, garden: str, since_utc: datetime) -> tuple[datetime | None, Mark, Rows, Records]:
        since_utc = datetime.combine(since_utc.date(), time(), since_utc.tzinfo)
        mark, kept = records_mark(c, garden, since_utc), self._kept
        if (since_utc, mark) == kept[:2]:
            return kept
        held = [row for row in kept[2] if row[0] >= since_utc] if kept[0] and kept[0] <= since_utc else []
        last = max((number for _, number, _ in held), default=0)
        rows = _in_order([*held, *read_entries(c, garden, since_utc, last)])
        if _mark_of(rows) != mark:
            rows = read_entries(c, garden, since_utc)
        return since_utc, mark, rows, as_records([entry for *_, entry in rows])


_NUMBER: Final = records.c.id
_TOLD: Final = (
    sa.select(records.c.tree, sa.func.count(), sa.func.sum(_NUMBER), sa.func.max(_NUMBER))
    .where(*SAID, records.c.at_utc >= sa.bindparam("since"))
    .group_by(records.c.tree)
)


def records_mark(c: sa.Connection, garden: str, since_utc: datetime) -> Mark:
    """Of each tree how many records stand since then, the sum of their numbers and the last: any change shows."""
    rows = c.execute(_TOLD, {"garden": garden, "since": since_utc})
    return tuple(sorted((tree or "", int(count), int(total), int(last)) for tree, count, total, last in rows))


def _mark_of(rows: Rows) -> Mark:
    numbers: dict[str, list[int]] = {}
    for _, number, entry in rows:
        numbers.setdefault(getattr(entry, "tree", "") or "", []).append(number)
    return tuple(sorted((tree, len(own), sum(own), max(own)) for tree, own in numbers.items()))


def _in_order(rows: Rows) -> Rows:
    return sorted(rows, key=lambda row: row[:2])
