"""The memory of the talk: a typed word picks a choice, a correction edits the last record, one message answers."""

from datetime import UTC, datetime

import pytest

from bot.logbook import read_records
from rules.garden.records import DeedKind
from tests.bot.phone import Phone, larkmoor

MORNING = datetime(2026, 1, 14, 16, tzinfo=UTC)
PORCH, WALL = "Porch fig", "Wall fig"


@pytest.fixture
def phone() -> Phone:
    phone = Phone(larkmoor(PORCH, WALL), MORNING)
    phone.tick()
    return phone


def deeds(phone: Phone) -> list[tuple[str, DeedKind]]:
    with phone.logbook.begin() as c:
        return [(deed.tree, deed.kind) for deed in read_records(c, phone.garden.name).deeds]


@pytest.mark.parametrize(
    ("correction", "trees"),
    [
        ("no wait, wall not porch", [WALL]),
        ("it was wall, not porch", [WALL]),
        ("wall too", [PORCH, WALL]),
        ("actually I didn't", []),
    ],
)
def test_a_correction_edits_the_last_record(phone: Phone, correction: str, trees: list[str]) -> None:
    phone.say("wrapped porch, top shut")
    assert [tree for tree, kind in deeds(phone) if kind is DeedKind.WRAPPED] == [PORCH]
    assert len(phone.send({"text": correction, "kind": "text"})) == 1
    assert sorted({tree for tree, _ in deeds(phone)}) == trees


def test_only_one_of_two_trees_takes_the_other_back(phone: Phone) -> None:
    phone.say("closed porch and wall")
    phone.say("only wall")
    assert deeds(phone) == [(WALL, DeedKind.CLOSED)]


@pytest.mark.parametrize(("typed", "kinds"), [("yes", [DeedKind.CLOSED]), ("no", []), ("1", [DeedKind.CLOSED])])
def test_a_typed_word_picks_the_choice_that_was_offered(phone: Phone, typed: str, kinds: list[DeedKind]) -> None:
    phone.say("i think i closed porch")
    assert deeds(phone) == []
    phone.say(typed)
    assert [kind for _, kind in deeds(phone)] == kinds


@pytest.mark.parametrize(("typed", "kind"), [("tops open", DeedKind.VENTED), ("shut", DeedKind.CLOSED)])
def test_a_word_answers_how_the_tops_stand(phone: Phone, typed: str, kind: DeedKind) -> None:
    quiet = Phone(larkmoor(PORCH, WALL), MORNING)
    quiet.say("wrapped porch")
    quiet.say(typed)
    assert deeds(quiet)[-1] == (PORCH, kind)
