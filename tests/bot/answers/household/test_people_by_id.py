"""People are their ids: two of one name are two, and old rows are brought over only where it is sure whose they are."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import sqlalchemy as sa

from bot import logbook as lb
from bot.inbox import RawUpdate, store
from bot.logbook.database import migrations
from bot.logbook.database.tables import nudges, records
from tests.bot.household_phones import Phones, demo_garden
from tests.bot.talk import GROUP, JUNIPER, ROWAN

MORNING = datetime(2025, 11, 28, 9, 20, tzinfo=ZoneInfo("America/Denver"))
NOW = datetime(2026, 1, 10, 16, tzinfo=UTC)
GARDEN = "Larkmoor"


@pytest.fixture
def namesakes(tmp_path: Path) -> Iterator[Phones]:
    """An owner and a helper who are both called Rowan, and Juniper with a phone of the same figures."""
    phones = Phones(demo_garden(tmp_path, "Porch fig"), MORNING)
    with phones.logbook.begin() as c:
        lb.note_person(c, GARDEN, JUNIPER, "Rowan", "household")
    yield phones
    phones.close()


def notes(phones: Phones) -> list[tuple[str, str]]:
    with phones.logbook.begin() as c:
        told = [one for one in lb.read_told(c, GARDEN) if isinstance(one.entry, lb.Note)]
    return [(one.person, one.entry.text) for one in told if isinstance(one.entry, lb.Note)]


def test_a_helper_of_the_owners_name_takes_only_their_own_notes_along(namesakes: Phones) -> None:
    namesakes.say("note: mice in the straw of porch")
    namesakes.say("note: hung a thermometer", JUNIPER, person="Rowan")
    namesakes.say("delete my data", JUNIPER, person="Rowan")
    namesakes.tap("Delete", JUNIPER)
    assert "1 notes and photos are gone" in namesakes.tap("Yes, delete", JUNIPER)
    assert notes(namesakes) == [("Rowan", "mice in the straw of porch")]


def test_what_was_said_in_a_group_goes_with_who_said_it(namesakes: Phones) -> None:
    with namesakes.logbook.begin() as c:
        lb.note_person(c, GARDEN, GROUP, "The house", "household")
    namesakes.say("note: mice in the straw of porch", GROUP, sender=JUNIPER)
    namesakes.say("delete my data", JUNIPER)
    namesakes.tap("Delete", JUNIPER)
    namesakes.tap("Yes, delete", JUNIPER)
    assert notes(namesakes) == []


def test_the_deeds_of_two_people_of_one_name_are_counted_apart(namesakes: Phones) -> None:
    namesakes.say("closed porch")
    namesakes.say("opened porch", JUNIPER, person="Rowan")
    assert "Done at the covers: Rowan 1, Rowan 1." in namesakes.say("season")


def test_the_watch_is_handed_to_one_of_two_namesakes_only_when_it_is_said_to_which(namesakes: Phones) -> None:
    with namesakes.logbook.begin() as c:
        lb.note_person(c, GARDEN, 4711, "Rowan", "household")
    assert "2 people here are called Rowan. Which one?" in namesakes.say("hand over to Rowan until sunday")
    labels = [button.label for button in namesakes.heard[-1].buttons]
    assert labels == ["Rowan, household, chat 0008", "Rowan, household, chat 4711"]
    namesakes.tap(labels[1])
    assert [one.chat_id for one in namesakes.heard if one.key.startswith("handed:")] == [4711]


def old(place: Path | str) -> sa.Engine:
    """A logbook from before people were their ids, with a household in it."""
    engine = sa.create_engine(str(place) if "://" in str(place) else f"sqlite:///{place}")
    with engine.begin() as c:
        c.exec_driver_sql(migrations.STEPS_TABLE)
        for step in migrations.STEPS[: migrations.STEPS.index(migrations.PEOPLE_BY_ID)]:
            migrations.take_step(c, step)
    return engine


def note_old(c: sa.Connection, garden: str, person: str, update_id: int | None) -> None:
    row = {"garden": garden, "kind": "note", "tree": "", "person": person, "update_id": update_id}
    columns = [column for column in records.c if column.name not in ("id", "person_id")]
    insert = sa.insert(sa.table("records", *(sa.column(column.name, column.type) for column in columns)))
    c.execute(insert.values(**row, text="x", at_utc=NOW, noted_utc=NOW))


@pytest.fixture
def empty_place(request: pytest.FixtureRequest, tmp_path: Path, place: Path | str) -> Path | str:
    """A file that is not there, or a database without tables."""
    if isinstance(place, Path):
        return tmp_path / "old.logbook"
    make = request.getfixturevalue("new_database")
    return str(make("template0"))


def test_old_rows_get_the_id_of_whom_they_surely_are(empty_place: Path | str) -> None:
    engine = old(empty_place)
    with engine.begin() as c:
        for garden, chat_id, name in (
            (GARDEN, 5, "Rowan"), (GARDEN, 6, "Rowan"), (GARDEN, 7, "Juniper"), ("Heron", 8, "Linnet"),
            ("Heron", -9, "The house"),
        ):  # fmt: skip
            lb.note_person(c, garden, chat_id, name, "owner")
        store(c, [RawUpdate(41, "{}", NOW, 6), RawUpdate(42, "{}", NOW, -9)])
        told = {
            (GARDEN, "Juniper", 1): 7,  # the only one of that name
            (GARDEN, "Rowan", 2): None,  # one of two
            (GARDEN, "Rowan", 41): 6,  # the inbox still knows the chat
            (GARDEN, "Rowan", 1_795_622_400_000_000): 0,  # the terminal counts microseconds
            (GARDEN, "a sensor", None): None,
            ("Heron", "Linnet", 3): None,  # there is a group, in which somebody else may be called so
            ("Heron", "Linnet", 42): None,
        }
        for garden, person, update_id in told:
            note_old(c, garden, person, update_id)
        columns = [column for column in nudges.c if column.name not in ("id", "settled_by_id")]
        asked = sa.insert(sa.table("nudges", *(sa.column(column.name, column.type) for column in columns)))
        c.execute(asked.values(
            key="n", garden=GARDEN, stage="evening", ask="closed", trees="[]", night=NOW.date(), generation=0,
            opened_utc=NOW, expires_utc=NOW + timedelta(hours=1), state="answered", numbers="{}", settled_by="Juniper",
            settled_utc=NOW, settled_update_id=1,
        ))  # fmt: skip
    engine.dispose()
    logbook = lb.open_logbook(empty_place)
    with logbook.begin() as c:
        rows = c.execute(sa.select(records.c.garden, records.c.person, records.c.update_id, records.c.person_id))
        assert {(row[0], row[1], row[2]): row[3] for row in rows} == told
        assert c.scalar(sa.select(nudges.c.settled_by_id)) == 7
        assert lb.words_without_id(c, GARDEN, "Rowan") == 1
        assert lb.forget_all_of_person(c, GARDEN, 6) == 1  # and nothing of the other Rowan
    logbook.close()


def test_who_leaves_is_told_of_older_notes_that_may_be_somebody_elses(namesakes: Phones) -> None:
    source = lb.Source(garden=GARDEN, person="Rowan", update_id=1, noted_utc=NOW)
    with namesakes.logbook.begin() as c:
        lb.note_entry(c, source, lb.Note(tree="", text="from long ago", at_utc=NOW))
    namesakes.say("delete my data", JUNIPER)
    namesakes.tap("Delete", JUNIPER)
    assert "1 older notes under your name, which may be somebody else's" in namesakes.tap("Yes, delete", JUNIPER)
    assert notes(namesakes) == [("Rowan", "from long ago")]


def test_a_persons_photos_are_found_by_id(tmp_path: Path) -> None:
    phones = Phones(demo_garden(tmp_path, "Porch fig"), MORNING)
    phones.say("porch", photo_id="AgAD")
    with phones.logbook.begin() as c:
        (photo,) = lb.wanted_photos(c, GARDEN, MORNING - timedelta(hours=1))
        lb.note_photo_file(c, GARDEN, photo.record_id, "porch.jpg")
        assert lb.photos_of_person(c, GARDEN, ROWAN) == ["porch.jpg"]
        assert lb.photos_of_person(c, GARDEN, JUNIPER) == []
    phones.close()
