"""What one row of the records table tells: deeds, sightings, readings, refusals, jobs, notes, what was learned."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from enum import StrEnum
from typing import Final

import sqlalchemy as sa

from bot.logbook.database.tables import records
from bot.logbook.garden.conditions import condition_columns, condition_of
from bot.logbook.garden.thresholds import threshold_columns, threshold_of
from rules.garden.condition import ConditionTold
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Dieback, Place, Reading, Sighting, SightingKind
from rules.garden.season_records import Cuttings, Gift, Harvest, Photo, Pruning, SeasonEntry
from rules.jobs import JobKind, JobMark, MarkState
from rules.learning import Forgotten, ThresholdAnswer

SENSOR, TABLE = "a sensor", "a table"  # who tells readings that nobody typed
UNSAID: Final = (SENSOR, TABLE)
NOON: Final = time(12)


class RecordKind(StrEnum):
    """The kinds of record."""

    DEED = "deed"
    SIGHTING = "sighting"
    READING = "reading"
    REFUSAL = "refusal"  # "can't"
    NOTE = "note"
    DIEBACK = "dieback"
    HARVEST = "harvest"
    PRUNING = "pruning"
    CUTTINGS = "cuttings"
    GIFT = "gift"
    PHOTO = "photo"
    JOB = "job"  # what became of one of the year's jobs
    CONDITION = "condition"  # what befell a cover or its tree, or was put right
    FORGOTTEN = "forgotten"  # what a tree taught up to then does not count
    THRESHOLD = "threshold"  # yes or no to what a tree is held to be safe to


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """Someone can't do what was asked, at one tree (or at all: ""), until a time."""

    tree: str
    ask: str
    at_utc: datetime
    until_utc: datetime


@dataclass(frozen=True, kw_only=True)
class Note:
    """Free words about a tree, or about the garden: ""."""

    tree: str
    text: str
    at_utc: datetime


Entry = Deed | ConditionTold | Sighting | Reading | Refusal | Note | SeasonEntry | JobMark | Forgotten | ThresholdAnswer

# no more: three winters are read at each reply
COLUMNS = "kind tree what cover_state air_c is_minimum at_utc until_utc text number share length_m whole_m file"
ENTRY = [records.c[name] for name in COLUMNS.split()]

KINDS: Final[dict[type[Entry], RecordKind]] = {
    Deed: RecordKind.DEED, ConditionTold: RecordKind.CONDITION, Sighting: RecordKind.SIGHTING,
    Reading: RecordKind.READING, Refusal: RecordKind.REFUSAL, Note: RecordKind.NOTE, Dieback: RecordKind.DIEBACK,
    Harvest: RecordKind.HARVEST, Pruning: RecordKind.PRUNING, Cuttings: RecordKind.CUTTINGS, Gift: RecordKind.GIFT,
    Photo: RecordKind.PHOTO, JobMark: RecordKind.JOB, Forgotten: RecordKind.FORGOTTEN,
    ThresholdAnswer: RecordKind.THRESHOLD,
}  # fmt: skip


def columns_of(entry: Entry) -> dict[str, object]:
    """The columns of the records table that hold what this entry has of its own; `entry_of` reads them."""
    match entry:
        case Deed():
            return {"what": entry.kind.value, "cover_state": entry.state.value}
        case Sighting():
            return {"what": entry.sight.value}
        case ConditionTold():
            return condition_columns(entry)
        case Reading():
            return {"what": entry.place.value, "air_c": entry.air_c, "is_minimum": entry.is_minimum}
        case Refusal():
            return {"what": entry.ask, "until_utc": entry.until_utc}
        case Note() | Pruning():
            return {"text": entry.text}
        case Dieback():
            return {"share": entry.share, "length_m": entry.length_m, "whole_m": entry.whole_m}
        case Harvest():
            return {"number": entry.count}
        case Cuttings():
            return {"number": entry.count, "text": entry.text}
        case Gift():
            return {"text": entry.to}
        case JobMark():
            until = datetime.combine(entry.until, NOON, UTC) if entry.until else None  # a day, wherever the garden lies
            return {"what": entry.kind.value, "text": entry.state.value, "until_utc": until}
        case Forgotten():
            return {}
        case ThresholdAnswer():
            return threshold_columns(entry)
        case Photo():
            return {"what": entry.file_id, "file": entry.file, "text": entry.text}


def entry_of(row: sa.Row[tuple[object, ...]]) -> Entry:
    """What one row of the records table tells."""
    match RecordKind(row.kind):
        case RecordKind.DEED:
            state = CoverState(row.cover_state)
            return Deed(tree=row.tree, kind=DeedKind(row.what), state=state, at_utc=row.at_utc)
        case RecordKind.SIGHTING:
            return Sighting(tree=row.tree, sight=SightingKind(row.what), at_utc=row.at_utc)
        case RecordKind.CONDITION:
            told = {"what": row.what, "text": row.text, "layer": row.cover_state}
            return condition_of(row.tree, row.at_utc, size_m=row.length_m, place=row.file, **told)
        case RecordKind.READING:
            place, low = Place(row.what), row.is_minimum
            return Reading(tree=row.tree, air_c=row.air_c, at_utc=row.at_utc, place=place, is_minimum=low)
        case RecordKind.REFUSAL:
            return Refusal(tree=row.tree, ask=row.what, at_utc=row.at_utc, until_utc=row.until_utc)
        case RecordKind.NOTE:
            return Note(tree=row.tree, text=row.text, at_utc=row.at_utc)
        case RecordKind.DIEBACK:
            sizes = {"share": row.share, "length_m": row.length_m, "whole_m": row.whole_m}
            return Dieback(tree=row.tree, at_utc=row.at_utc, **sizes)
        case RecordKind.HARVEST:
            return Harvest(tree=row.tree, count=row.number, at_utc=row.at_utc)
        case RecordKind.PRUNING:
            return Pruning(tree=row.tree, text=row.text, at_utc=row.at_utc)
        case RecordKind.CUTTINGS:
            return Cuttings(tree=row.tree, count=row.number, text=row.text, at_utc=row.at_utc)
        case RecordKind.GIFT:
            return Gift(tree=row.tree, to=row.text, at_utc=row.at_utc)
        case RecordKind.JOB:
            until: date | None = row.until_utc.date() if row.until_utc else None
            job, became = JobKind(row.what), MarkState(row.text)
            return JobMark(kind=job, tree=row.tree, state=became, at_utc=row.at_utc, until=until)
        case RecordKind.FORGOTTEN:
            return Forgotten(tree=row.tree, at_utc=row.at_utc)
        case RecordKind.THRESHOLD:
            return threshold_of(row.tree, row.at_utc, row.what, row.text)
        case RecordKind.PHOTO:
            return Photo(tree=row.tree, file_id=row.what or "", file=row.file, text=row.text or "", at_utc=row.at_utc)
