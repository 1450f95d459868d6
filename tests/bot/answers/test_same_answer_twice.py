"""A second tap, a second phone, the same words again, an edit: no record is turned round, and none is doubled."""

import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import sqlalchemy as sa

from bot.answers.said_before import said_before
from bot.logbook import Nudge, NudgeState, read_records, read_refusals
from bot.logbook.database.tables import nudges
from bot.messages import IncomingKind
from bot.outbox import Claimed
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, state_now
from tests.bot.household_phones import Phones, demo_garden
from tests.bot.talk import JUNIPER, ROWAN

ZONE = ZoneInfo("America/Denver")
MORNING = datetime(2025, 11, 28, 9, 20, tzinfo=ZONE)  # before a night of -11 °C
ASKED = ["Porch fig", "Wall fig"]


class House(Phones):
    """Two phones that were asked to wrap two figs with their caps shut."""

    def asked(self, chat_id: int) -> Claimed:
        return next(one for one in self.heard if one.chat_id == chat_id and one.text.startswith("Wrap Porch fig"))

    def deeds(self) -> list[Deed]:
        with self.logbook.begin() as c:
            return list(read_records(c, "Larkmoor").deeds)

    def stands(self, tree: str) -> CoverState | None:
        with self.logbook.begin() as c:
            return state_now(read_records(c, "Larkmoor"), tree, self.now)

    def edit(self, message_id: int, text: str) -> str:
        came = self.send(ROWAN, text=text, kind=IncomingKind.EDITED, message_id=message_id)
        return "\n".join(one.text for one in came)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    one = House(demo_garden(tmp_path, "Porch fig", "Wall fig", "Kaki"), MORNING)
    one.tick()
    yield one
    one.close()


def test_wrapped_tapped_twice_and_on_two_phones_is_one_record_with_the_caps_as_asked(house: House) -> None:
    assert "cap shut" in house.tap_under(house.asked(ROWAN), "Wrapped")
    first = house.deeds()
    for phone in (ROWAN, JUNIPER):
        said = house.tap_under(house.asked(phone), "Wrapped")
        assert "Already noted, once: Porch fig and Wall fig wrapped, cap shut" in said
    assert "Already noted" in house.say("done", quoted_id=house.asked(ROWAN).row_id)
    assert "Already noted" in house.say("wrapped porch", JUNIPER)
    assert house.deeds() == first
    assert [house.stands(tree) for tree in ASKED] == [CoverState.CLOSED] * 2


def test_a_late_tap_on_a_settled_question_says_nothing_of_how_the_cover_stands_now(house: House) -> None:
    house.tap_under(house.asked(ROWAN), "Wrapped")
    house.now += timedelta(hours=20)
    house.say("opened porch")
    told = house.tap_under(house.asked(JUNIPER), "Wrapped")
    assert "Since then opened" in told
    assert 'Say "Porch fig wrapped"' in told
    assert house.stands("Porch fig") is CoverState.VENTED
    house.now += timedelta(hours=8)
    assert "cap open" in house.say("wrapped porch")  # news, a day on; and the cap is left as it is
    assert house.stands("Porch fig") is CoverState.VENTED


def test_who_wraps_unasked_is_asked_about_the_cap_in_one_tap_and_open_is_only_reckoned_with(house: House) -> None:
    told = house.say("wrapped kaki")
    assert "Noted: Kaki wrapped at" in told
    assert "Is the cap of Kaki open or shut?" in told
    assert [button.label for button in house.heard[-1].buttons] == ["Cap shut", "Cap open", "Undo"]
    assert house.stands("Kaki") is CoverState.VENTED
    assert "Kaki closed" in house.tap("Cap shut")
    assert "Already noted" in house.say("wrapped kaki")
    assert house.stands("Kaki") is CoverState.CLOSED


def test_two_messages_that_asked_for_the_cap_otherwise_are_asked_about_and_a_tap_is_as_its_own_message(
    house: House,
) -> None:
    with house.logbook.begin() as c:
        row = c.execute(sa.select(nudges).where(nudges.c.ask == DeedKind.WRAPPED.value)).mappings().one()
        told = {**json.loads(row["numbers"]), "stands": dict.fromkeys(ASKED, CoverState.VENTED.value)}
        older = {**row, "key": "an older one", "numbers": json.dumps(told)}
        del older["id"]
        c.execute(sa.insert(nudges).values(older))
    assert "open or shut" in house.say("wrapped porch and wall")
    house.say("undo")
    assert "cap shut" in house.tap_under(house.asked(ROWAN), "Wrapped")


def test_who_says_how_the_cap_stands_is_not_asked(house: House) -> None:
    assert "open or shut" not in house.say("wrapped kaki and closed it")
    assert house.stands("Kaki") is CoverState.CLOSED


def test_trees_told_one_by_one_answer_the_question_for_both(house: House) -> None:
    house.say("wrapped porch at 9:10. wrapped wall at 9:15")
    settled = {one.text for one in house.heard if one.text.startswith("Settled")}
    assert settled == {"Settled: wrap Porch fig and Wall fig. Wrapped by Rowan at 09:20."}
    assert [(deed.tree, deed.kind) for deed in house.deeds()] == [(tree, DeedKind.WRAPPED) for tree in ASKED]


def test_a_deed_said_twice_in_one_breath_is_one_record(house: House) -> None:
    assert "Already" not in house.say("closed porch. closed porch")
    assert [(deed.tree, deed.kind) for deed in house.deeds()] == [("Porch fig", DeedKind.CLOSED)]


def test_cannot_on_two_phones_is_one_refusal_a_tree(house: House) -> None:
    house.tap_under(house.asked(ROWAN), "Can't")
    house.tap_under(house.asked(JUNIPER), "Can't")
    with house.logbook.begin() as c:
        assert [one.tree for one in read_refusals(c, "Larkmoor", house.now)] == ASKED


def test_an_undone_answer_can_be_given_again(house: House) -> None:
    house.tap_under(house.asked(ROWAN), "Wrapped")
    house.say("undo")
    assert house.deeds() == []
    assert "Noted: Porch fig and Wall fig wrapped, cap shut" in house.tap_under(house.asked(JUNIPER), "Wrapped")


def test_an_edit_takes_back_what_the_old_text_did_and_says_so_however_much_was_said_since(house: House) -> None:
    house.say("closed porch", message_id=100)
    for turn in range(11):
        house.say(f"{('opened', 'closed')[turn % 2]} kaki")
    told = house.edit(100, "closed wall")
    assert told.startswith("You changed your message, so I took back: Porch fig closed. Noted: Wall fig closed")
    assert house.stands("Porch fig") is None
    assert house.edit(100, "thanks").startswith("You changed your message, so I took back: Wall fig closed.")
    assert house.stands("Wall fig") is None


def test_an_edit_takes_back_what_a_tap_on_its_choice_put_in_and_the_choice_with_it(house: House) -> None:
    house.say("closed fig", message_id=100)
    asked = house.heard[-1]
    assert "Which tree?" in asked.text
    house.tap_under(asked, asked.buttons[0].label)
    assert house.stands("Porch fig") is CoverState.CLOSED
    assert "I took back: Porch fig closed" in house.edit(100, "closed kaki")
    house.tap_under(asked, asked.buttons[1].label)
    assert [deed.tree for deed in house.deeds()] == ["Kaki"]


def test_the_undo_under_a_deed_of_long_ago_takes_back_that_deed(house: House) -> None:
    house.say("closed porch")
    noted = house.heard[-1]
    for turn in range(11):
        house.say(f"{('opened', 'closed')[turn % 2]} kaki")
    assert "Undone: Porch fig closed" in house.tap_under(noted, "Undo")


def deed(kind: DeedKind, state: CoverState, hours: float) -> Deed:
    return Deed(tree="Porch fig", kind=kind, state=state, at_utc=MORNING + timedelta(hours=hours))


SHUT, OPENED = (DeedKind.CLOSED, CoverState.CLOSED), (DeedKind.VENTED, CoverState.VENTED)


@pytest.mark.parametrize(
    ("told", "now", "dated", "known"),
    [
        ([(*SHUT, 0)], (*SHUT, 1), False, True),
        ([(*SHUT, 0), (*OPENED, 1)], (*SHUT, 2), False, False),  # it was opened in between
        ([(*SHUT, 0)], (*SHUT, 13), False, False),  # the next evening
        ([(*SHUT, 0)], (*SHUT, 1), True, False),  # another time was said
        ([(*SHUT, 0)], (*SHUT, 0), True, True),
        ([(*OPENED, 0)], (*SHUT, 1), False, False),
    ],
)
def test_a_deed_is_the_same_while_it_is_still_true(
    told: list[tuple[DeedKind, CoverState, float]],
    now: tuple[DeedKind, CoverState, float],
    dated: bool,
    known: bool,
) -> None:
    before = said_before([deed(*one) for one in told], deed(*now), None, is_dated=dated)
    assert (before is not None) is known


def test_what_was_done_before_a_question_does_not_answer_it() -> None:
    asked = Nudge(
        key="n", garden="Larkmoor", stage="evening", ask="closed", trees=("Porch fig",), night=MORNING.date(),
        opened_utc=MORNING, expires_utc=MORNING + timedelta(hours=9), state=NudgeState.EXPIRED,
    )  # fmt: skip
    assert said_before([deed(*SHUT, -3)], deed(*SHUT, 10), asked, is_dated=False) is None
    assert said_before([deed(*SHUT, 3)], deed(*SHUT, 10), asked, is_dated=False) is not None
