"""What the logbook keeps of a season, who may let in whom, and what is left after delete-my-data; on both databases."""

from datetime import UTC, date, datetime, timedelta

import sqlalchemy as sa

from bot import logbook as lb
from bot.logbook.database.tables import metadata
from bot.messages import Outgoing
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Dieback
from rules.garden.season_records import Cuttings, Gift, Harvest, Photo, Pruning, SeasonEntry
from rules.jobs import JobKind, JobMark, MarkState

NOW = datetime(2026, 4, 20, 16, 10, tzinfo=UTC)
HOUR = timedelta(hours=1)
GARDEN, OTHER = "Larkmoor", "Heron Yard"
ENTRIES: list[SeasonEntry] = [
    Dieback(tree="Porch fig", at_utc=NOW, length_m=0.3, whole_m=1.5),
    Dieback(tree="Wall fig", at_utc=NOW, share=1 / 3),
    Harvest(tree="Porch fig", count=12, at_utc=NOW),
    Pruning(tree="Wall fig", text="by a third", at_utc=NOW),
    Cuttings(tree="Wall fig", count=4, text="for Juniper", at_utc=NOW),
    Gift(tree="Olive", to="Juniper", at_utc=NOW),
    Photo(tree="Kaki", file_id="AgADBAAD", file=None, text="first leaf", at_utc=NOW),
]


def said(update_id: int, person: str = "Rowan", garden: str = GARDEN) -> lb.Source:
    return lb.Source(garden=garden, person=person, person_id=update_id, update_id=update_id, noted_utc=NOW)


def test_the_season_comes_back_as_it_was_told_and_each_word_can_be_undone(c: sa.Connection) -> None:
    for number, entry in enumerate(ENTRIES):
        lb.note_entry(c, said(number), entry)
    assert [told.entry for told in lb.read_told(c, GARDEN)] == ENTRIES
    assert lb.read_records(c, GARDEN).diebacks == ENTRIES[:2]
    for left in range(len(ENTRIES) - 1, -1, -1):
        batch = lb.last_said(c, GARDEN)
        assert batch is not None
        assert batch.entries == (ENTRIES[left],)
        lb.undo(c, GARDEN, batch.record_ids, NOW)
    assert lb.read_told(c, GARDEN) == []


def test_a_photo_is_wanted_until_it_is_kept_and_its_file_goes_when_it_is_undone(c: sa.Connection) -> None:
    record_id = lb.note_entry(c, said(1), ENTRIES[-1])
    assert [photo.record_id for photo in lb.wanted_photos(c, GARDEN, NOW - HOUR)] == [record_id]
    lb.note_photo_file(c, GARDEN, record_id, "2026-04-20_kaki_1.jpg")
    assert lb.wanted_photos(c, GARDEN, NOW - HOUR) == []
    lb.undo(c, GARDEN, [record_id], NOW)
    assert lb.take_undone_photos(c, GARDEN) == ["2026-04-20_kaki_1.jpg"]
    assert lb.take_undone_photos(c, GARDEN) == []


def test_a_renamed_tree_takes_its_records_along(c: sa.Connection) -> None:
    for number, garden in enumerate((GARDEN, OTHER)):
        lb.note_entry(c, said(number, garden=garden), Harvest(tree="Kaki", count=3, at_utc=NOW))
    lb.rename_tree_records(c, GARDEN, "Kaki", "Old kaki")
    assert [told.entry.tree for told in lb.read_told(c, GARDEN)] == ["Old kaki"]
    assert [told.entry.tree for told in lb.read_told(c, OTHER)] == ["Kaki"]


def test_an_owners_code_lets_an_owner_in_but_never_a_whole_group(c: sa.Connection) -> None:
    codes = [lb.make_let_in_code(c, GARDEN, NOW, HOUR, "owner") for _ in range(2)]
    one, group = (
        lb.use_code_hash(c, lb.hash_of_code(codes[0]), 5, "Rowan", NOW),
        lb.use_code_hash(c, lb.hash_of_code(codes[1]), -5, "House", NOW),
    )
    assert one is not None
    assert group is not None
    assert (one.role, group.role) == ("owner", "household")


def everything_of(c: sa.Connection, word: str) -> list[str]:
    """The tables in which a word still stands."""
    tables = [t for t in metadata.sorted_tables if t.name != "logbook_steps"]
    return [t.name for t in tables if any(word in str(value) for row in c.execute(sa.select(t)) for value in row)]


def fill(c: sa.Connection) -> None:
    for garden, chat_id, name in ((GARDEN, 5, "Rowan"), (GARDEN, 6, "Juniper"), (OTHER, 7, "Linnet")):
        lb.note_person(c, garden, chat_id, name, "owner")
        deed = Deed(tree="Fig", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=NOW)
        lb.note_entry(c, said(chat_id, name, garden), deed)
        lb.note_entry(c, said(chat_id, name, garden), lb.Note(tree="Fig", text=f"{name} saw mice", at_utc=NOW))
        message = Outgoing(key=f"m{chat_id}", chat_id=chat_id, text=f"Hello {name}", due_utc=NOW, expires_utc=NOW)
        lb.enqueue(c, message, garden)


def test_a_person_who_leaves_takes_name_and_words_along_and_leaves_the_deeds(c: sa.Connection) -> None:
    fill(c)
    assert lb.forget_all_of_person(c, GARDEN, 6) == 1
    assert everything_of(c, "Juniper") == []
    assert [told.person for told in lb.read_told(c, GARDEN)] == ["Rowan", "Rowan", "someone"]
    assert [person.name for person in lb.list_people(c, GARDEN)] == ["Rowan"]


def test_a_deleted_garden_leaves_nothing_and_touches_no_other(c: sa.Connection) -> None:
    fill(c)
    lb.forget_garden(c, GARDEN, "39.0000,-109.0000")
    assert everything_of(c, GARDEN) == everything_of(c, "Rowan") == everything_of(c, "Juniper") == []
    assert {"people", "records", "outbox"} <= set(everything_of(c, OTHER))


def test_answers_to_jobs_come_back_as_they_were_said_and_go_when_undone(c: sa.Connection) -> None:
    marks = [
        JobMark(kind=JobKind.WATER, tree="Kaki", state=MarkState.DONE, at_utc=NOW),
        JobMark(kind=JobKind.MULCH, state=MarkState.PUT_OFF, at_utc=NOW + HOUR, until=date(2026, 5, 1)),
        JobMark(kind=JobKind.LOOK_FOR_VOLES, state=MarkState.REFUSED, at_utc=NOW + 2 * HOUR),
    ]
    for number, mark in enumerate(marks):
        lb.note_entry(c, said(number), mark)
    assert lb.read_job_marks(c, GARDEN) == marks
    assert lb.read_job_marks(c, GARDEN, NOW + HOUR) == marks[1:]
    assert lb.read_job_marks(c, OTHER) == []
    assert [told.entry for told in lb.read_told(c, GARDEN)] == marks
    batch = lb.last_said(c, GARDEN)
    assert batch is not None
    assert batch.entries == (marks[-1],)
    lb.undo(c, GARDEN, batch.record_ids, NOW)
    assert lb.read_job_marks(c, GARDEN) == marks[:-1]


def test_who_tells_of_cuttings_prunings_or_dieback_has_done_that_job(c: sa.Connection) -> None:
    for number, entry in enumerate(ENTRIES):
        lb.note_entry(c, said(number), entry)
    done = {(mark.kind, mark.tree, mark.state) for mark in lb.read_job_marks(c, GARDEN)}
    assert done == {
        (JobKind.MEASURE_DIEBACK, "Porch fig", MarkState.DONE),
        (JobKind.MEASURE_DIEBACK, "Wall fig", MarkState.DONE),
        (JobKind.PRUNE_TO_FIT, "Wall fig", MarkState.DONE),
        (JobKind.TAKE_CUTTINGS, "Wall fig", MarkState.DONE),
    }
