"""What was said about a garden: deeds, sightings, readings, refusals, jobs, notes; undone, never deleted."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import sqlalchemy as sa

from bot.logbook.database.tables import records
from bot.logbook.garden.entries import ENTRY, KINDS, Entry, RecordKind, Refusal, columns_of, entry_of
from rules.garden.condition import ConditionTold
from rules.garden.records import Deed, Dieback, Reading, Records, Sighting
from rules.jobs import JobKind, JobMark, MarkState
from rules.learning import Forgotten, ThresholdAnswer


@dataclass(frozen=True, kw_only=True)
class Source:
    """Where a record comes from: the garden, who said it, in which update, and when we heard it.

    `person_id` is who it was, `person` the name to be read; `update_id` is None when it was not said in a chat (the
    command line, an import).
    """

    garden: str
    person: str
    person_id: int | None = None
    update_id: int | None
    noted_utc: datetime


# what is told of the season that is also one of the year's jobs done
SETTLES = {
    RecordKind.PRUNING: JobKind.PRUNE_TO_FIT,
    RecordKind.CUTTINGS: JobKind.TAKE_CUTTINGS,
    RecordKind.DIEBACK: JobKind.MEASURE_DIEBACK,
}

READING = RecordKind.READING.value
READ_BY_ROUNDS = [one.value for one in (RecordKind.DEED, RecordKind.SIGHTING, RecordKind.DIEBACK, RecordKind.CONDITION)]


@dataclass(frozen=True, kw_only=True)
class Batch:
    """All that one reply put into the logbook, with the record ids `undo` wants."""

    update_id: int | None
    person: str
    noted_utc: datetime
    record_ids: tuple[int, ...]
    entries: tuple[Entry, ...]


@dataclass(frozen=True, kw_only=True)
class Told:
    """One record with its number and who said it: the name to be read, and the id where it is known."""

    record_id: int
    person: str
    person_id: int | None
    entry: Entry


def note_entry(c: sa.Connection, source: Source, entry: Entry) -> int:
    """The id of what was said, just noted."""
    row = sa.insert(records).values(
        garden=source.garden,
        kind=KINDS[type(entry)].value,
        tree=entry.tree,
        at_utc=entry.at_utc,
        person=source.person,
        person_id=source.person_id,
        update_id=source.update_id,
        noted_utc=source.noted_utc,
        **columns_of(entry),
    )
    return int(c.execute(row.returning(records.c.id)).scalar_one())


def read_learning(c: sa.Connection, garden: str) -> list[Forgotten | ThresholdAnswer]:
    """All words about what was learned, oldest first."""
    rows = _of_kinds(c, garden, None, (RecordKind.FORGOTTEN, RecordKind.THRESHOLD))
    return [e for row in rows if isinstance(e := entry_of(row), Forgotten | ThresholdAnswer)]


def undo(c: sa.Connection, garden: str, record_ids: Sequence[int], now: datetime) -> int:
    """How many of these records now count as never said; those of other gardens are not touched."""
    standing = _standing(garden), records.c.id.in_(record_ids)
    return c.execute(sa.update(records).where(*standing).values(undone_utc=now)).rowcount


_STANDING: Final = records.c.garden == sa.bindparam("garden"), records.c.undone_utc.is_(None)
_SAID_LAST: Final = (
    sa.select(records.c.update_id)
    .where(*_STANDING, records.c.update_id.is_not(None))
    .order_by(records.c.id.desc())
    .limit(1)
    .correlate(None)
    .scalar_subquery()
)
_LAST_SAID: Final = sa.select(records).where(*_STANDING, records.c.update_id == _SAID_LAST).order_by(records.c.id)


def last_said(c: sa.Connection, garden: str) -> Batch | None:
    """All that the last reply put in that still stands; None where that is nothing.

    What came without a reply is no part of it: a sensor's reading is not what a person means by "undo".
    """
    rows = c.execute(_LAST_SAID, {"garden": garden}).all()
    return _batch(rows) if rows else None


def records_of_update(c: sa.Connection, garden: str, update_id: int) -> Batch | None:
    """All that one reply put in and that still stands, however long ago; None where that is nothing."""
    of_update = sa.select(records).where(_standing(garden), records.c.update_id == update_id)
    rows = c.execute(of_update.order_by(records.c.id)).all()
    return _batch(rows) if rows else None


def _batch(rows: Sequence[sa.Row[tuple[object, ...]]]) -> Batch:
    first = rows[0]
    return Batch(
        update_id=first.update_id,
        person=first.person,
        noted_utc=first.noted_utc,
        record_ids=tuple(row.id for row in rows),
        entries=tuple(entry_of(row) for row in rows),
    )


def read_records(c: sa.Connection, garden: str, since_utc: datetime | None = None) -> Records:
    """What a round reads: deeds, sightings and readings in the order they happened, undone ones left out.

    Of readings those that somebody said; what sensors told may be thousands, see `read_readings`.
    """
    return as_records([entry for *_, entry in read_entries(c, garden, since_utc)])


# what stands of a garden, of readings those that somebody said
SAID: Final = (
    *_STANDING,
    sa.or_(records.c.kind.in_(READ_BY_ROUNDS), records.c.update_id.is_not(None) & (records.c.kind == READING)),
)


def read_entries(
    c: sa.Connection, garden: str, since_utc: datetime | None, after: int = 0
) -> list[tuple[datetime, int, Entry]]:
    """The same one by one, each with its time and number, of those numbered higher than `after`."""
    columns, since = (*ENTRY, records.c.id), records.c.at_utc >= since_utc if since_utc else sa.true()
    asked = sa.select(*columns).where(*SAID, since, records.c.id > after)
    rows = c.execute(asked.order_by(records.c.at_utc, records.c.id), {"garden": garden})
    return [(row.at_utc, row.id, entry_of(row)) for row in rows]


def as_records(entries: Sequence[Entry]) -> Records:
    """The entries sorted by what they are."""
    return Records(
        deeds=[e for e in entries if isinstance(e, Deed)],
        sightings=[e for e in entries if isinstance(e, Sighting)],
        readings=[e for e in entries if isinstance(e, Reading)],
        diebacks=[e for e in entries if isinstance(e, Dieback)],
        conditions=[e for e in entries if isinstance(e, ConditionTold)],
    )


def read_readings(c: sa.Connection, garden: str, since_utc: datetime, tree: str | None = None) -> list[Reading]:
    """All readings, of sensors and tables too, oldest first; of one tree where it is named."""
    read = records.c.kind == RecordKind.READING.value
    read = read if tree is None else sa.and_(read, records.c.tree == tree)
    return [e for e in _entries(c, garden, since_utc, read) if isinstance(e, Reading)]


def readings_mark(c: sa.Connection, garden: str, since_utc: datetime) -> tuple[int, int]:
    """How many readings stand since then, and the last one's id: another after a new reading and after an undo."""
    standing = _standing(garden), records.c.kind == RecordKind.READING.value, records.c.at_utc >= since_utc
    row = c.execute(sa.select(sa.func.count(), sa.func.max(records.c.id)).where(*standing)).one()
    return int(row[0]), int(row[1] or 0)


def read_refusals(c: sa.Connection, garden: str, now: datetime) -> list[Refusal]:
    """The refusals that still hold at `now`, oldest first."""
    holds = sa.and_(records.c.kind == RecordKind.REFUSAL.value, records.c.until_utc > now)
    return [e for e in _entries(c, garden, None, holds) if isinstance(e, Refusal)]


def read_job_marks(c: sa.Connection, garden: str, since_utc: datetime | None = None) -> list[JobMark]:
    """The answers to the year's jobs, oldest first; who told of a pruning, cuttings or dieback has done that job."""
    rows = _of_kinds(c, garden, since_utc, (RecordKind.JOB, *SETTLES))
    return [_mark_of(RecordKind(row.kind), entry_of(row)) for row in rows]


def _mark_of(kind: RecordKind, entry: Entry) -> JobMark:
    if isinstance(entry, JobMark):
        return entry
    return JobMark(kind=SETTLES[kind], tree=entry.tree, state=MarkState.DONE, at_utc=entry.at_utc)


def read_told(c: sa.Connection, garden: str, since_utc: datetime | None = None) -> list[Told]:
    """Everything told of a garden, oldest first, with who told it; undone records left out."""
    rows = c.execute(_asked(garden, since_utc, columns=(*ENTRY, records.c.id, records.c.person, records.c.person_id)))
    return [Told(record_id=row.id, person=row.person, person_id=row.person_id, entry=entry_of(row)) for row in rows]


def rename_tree_records(c: sa.Connection, garden: str, old: str, new: str) -> int:
    """How many records of a tree now stand under its new name."""
    of_tree = sa.and_(records.c.garden == garden, records.c.tree == old)
    return c.execute(sa.update(records).where(of_tree).values(tree=new)).rowcount


def _entries(
    c: sa.Connection, garden: str, since_utc: datetime | None, also: sa.ColumnElement[bool] | None = None
) -> list[Entry]:
    return [entry_of(row) for row in c.execute(_asked(garden, since_utc, also))]


def _of_kinds(
    c: sa.Connection, garden: str, since_utc: datetime | None, kinds: Sequence[RecordKind]
) -> list[sa.Row[tuple[object, ...]]]:
    """Records of a few kinds, oldest first; asked one by one, since a question for all reads every record there is."""
    columns = (*ENTRY, records.c.id)
    asked = [_asked(garden, since_utc, records.c.kind == kind.value, columns) for kind in kinds]
    return sorted((row for one in asked for row in c.execute(one)), key=lambda row: (row.at_utc, row.id))


def _asked(
    garden: str,
    since_utc: datetime | None,
    also: sa.ColumnElement[bool] | None = None,
    columns: Sequence[sa.Column[Any]] = ENTRY,
) -> sa.Select[tuple[object, ...]]:
    asked = sa.select(*columns).where(_standing(garden))
    if since_utc is not None:
        asked = asked.where(records.c.at_utc >= since_utc)
    if also is not None:
        asked = asked.where(also)
    return asked.order_by(records.c.at_utc, records.c.id)


def _standing(garden: str) -> sa.ColumnElement[bool]:
    """A garden's records that nobody has undone."""
    return sa.and_(records.c.garden == garden, records.c.undone_utc.is_(None))
