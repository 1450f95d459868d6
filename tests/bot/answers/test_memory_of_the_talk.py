"""The memory of the talk: a typed word picks a choice, a correction edits the last record, one message answers."""

from datetime import UTC, datetime, timedelta

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
        ("wrong fig. it was wall", [WALL]),
        ("wall too", [PORCH, WALL]),
        ("actually I didn't", []),
    ],
)
def test_a_correction_edits_the_last_record(phone: Phone, correction: str, trees: list[str]) -> None:
    phone.say("wrapped porch, top shut")
    assert [tree for tree, kind in deeds(phone) if kind is DeedKind.WRAPPED] == [PORCH]
    assert len(phone.send(text=correction)) == 1
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


def test_what_was_not_taken_in_is_told_beside_what_was_noted(phone: Phone) -> None:
    assert 'I left out "radio is on".' in phone.say("closed porch. radio is on")
    assert deeds(phone) == [(PORCH, DeedKind.CLOSED)]


@pytest.mark.parametrize(("tap", "kept"), [("no", 0), (None, 1)])
def test_a_reading_beside_words_that_may_matter_is_kept_by_one_tap(phone: Phone, tap: str | None, kept: int) -> None:
    (asked,) = phone.send(text="-6.5 at porch, i think")
    keep = next(button.label for button in asked.buttons if button.label == "Porch fig −6.5 °C")
    with phone.logbook.begin() as c:
        assert not read_records(c, phone.garden.name).readings
    phone.tap_under(asked, tap or keep)
    with phone.logbook.begin() as c:
        assert len(read_records(c, phone.garden.name).readings) == kept


def test_a_denial_of_what_was_noted_takes_it_back_by_one_tap(phone: Phone) -> None:
    quiet = Phone(larkmoor(PORCH, WALL), MORNING)
    quiet.say("closed porch and wall")
    (asked,) = quiet.send(text="wall's gaping still, couldn't reach")
    assert len(deeds(quiet)) == 2
    quiet.tap_under(asked, asked.buttons[0].label)
    assert deeds(quiet) == [(PORCH, DeedKind.CLOSED)]


def test_hearsay_is_asked_back_and_a_tap_keeps_it(phone: Phone) -> None:
    phone.say("closed porch and wall")
    phone.say("undo")
    (asked,) = phone.send(text="my wife says she closed porch")
    assert deeds(phone) == []
    phone.tap_under(asked, asked.buttons[0].label)
    assert deeds(phone) == [(PORCH, DeedKind.CLOSED)]


def test_what_was_told_days_ago_is_undone_only_after_a_tap(phone: Phone) -> None:
    phone.say("closed porch")
    phone.now += timedelta(days=2)
    (asked,) = phone.send(text="undo")
    assert "Undo it?" in asked.text
    assert deeds(phone) == [(PORCH, DeedKind.CLOSED)]
    phone.tap_under(asked, "Undo it")
    assert deeds(phone) == []


def test_a_top_opened_and_shut_again_in_one_message_stands_shut(phone: Phone) -> None:
    phone.say("closed porch")
    phone.now += timedelta(minutes=12)
    phone.say("opened porch for a bit and then panicked and shut it again")
    assert [kind for _, kind in deeds(phone)] == [DeedKind.CLOSED, DeedKind.VENTED, DeedKind.CLOSED]


def test_of_a_tree_left_open_on_purpose_nothing_is_told_of_the_one_just_shut(phone: Phone) -> None:
    phone.say("porch lid's down. wall can take it, fully dormant, i'm leaving that one open on purpose")
    assert (PORCH, DeedKind.CLOSED) in deeds(phone)
    assert (PORCH, DeedKind.VENTED) not in deeds(phone)
