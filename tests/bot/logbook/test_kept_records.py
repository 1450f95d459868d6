"""Records kept from look to look are those the logbook has, whatever was told, taken back or renamed since."""

from datetime import UTC, datetime, timedelta

import sqlalchemy as sa

from bot import logbook as lb
from bot.logbook import KeptRecords
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Reading, Sighting, SightingKind

NOW = datetime(2026, 11, 25, 16, 10, tzinfo=UTC)
DAY, GARDEN = timedelta(days=1), "Larkmoor"


def said(update_id: int | None) -> lb.Source:
    return lb.Source(garden=GARDEN, person="Rowan", update_id=update_id, noted_utc=NOW)


def closed(tree: str, at: datetime) -> Deed:
    return Deed(tree=tree, kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=at)


def test_what_is_kept_is_what_is_read_anew_after_every_change(c: sa.Connection) -> None:
    kept, since = KeptRecords(), NOW - 400 * DAY

    def same() -> bool:
        read = kept.read(c, GARDEN, since)
        kept.keep(c, GARDEN, since)
        whole = lb.read_records(c, GARDEN, since.replace(hour=0, minute=0))
        return read == kept.read(c, GARDEN, since) == whole

    assert same()
    first = lb.note_entry(c, said(1), closed("Porch fig", NOW))
    assert same()
    lb.note_entry(c, said(2), closed("Wall fig", NOW - 2 * DAY))  # told late: it comes before
    lb.note_entry(c, said(3), Sighting(tree="Kaki", sight=SightingKind.LEAVES_YELLOW, at_utc=NOW))
    lb.note_entry(c, said(None), Reading(tree="Kaki", air_c=-3.0, at_utc=NOW))  # a sensor's: not read here
    lb.note_entry(c, said(4), Reading(tree="Kaki", air_c=-3.5, at_utc=NOW))
    assert same()
    lb.undo(c, GARDEN, [first], NOW)
    assert same()
    lb.rename_tree_records(c, GARDEN, "Wall fig", "West fig")
    assert same()
    since += 399 * DAY
    assert same()
    assert [one.tree for one in kept.read(c, GARDEN, since).deeds] == []  # the one of two days ago is too old now


def test_what_is_read_in_a_transaction_that_is_taken_back_is_not_kept(c: sa.Connection) -> None:
    kept = KeptRecords()
    kept.keep(c, GARDEN, NOW - DAY)
    with c.begin_nested() as taken_back:
        lb.note_entry(c, said(1), closed("Porch fig", NOW))
        assert len(kept.read(c, GARDEN, NOW - DAY).deeds) == 1
        taken_back.rollback()
    lb.note_entry(c, said(2), closed("Wall fig", NOW))  # on SQLite it has the number of the one that is gone
    assert [one.tree for one in kept.read(c, GARDEN, NOW - DAY).deeds] == ["Wall fig"]
