"""A nudge from its asking to its end over real HTTP: answered, undone, tapped, mended; alone, in a group, in topics."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.forecasts import Transport
from bot.hosting.one_garden import Watch
from bot.logbook import Logbook, NudgeState, note_person, nudges_since, open_logbook, read_records
from bot.outbox import Outcome, SendOutcome, claim, finish
from bot.rounds import Setting
from bot.settings import read_garden
from rules.garden.records import DeedKind
from tests.bot.household_phones import Phones
from tests.bot.invented_gardens import write_garden_file
from tests.bot.talk import ROWAN
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.emulator import Emulator, Mended, Shown
from tests.bot.telegram.open_door import door_open, fast_clock, wait_for
from tests.bot.telegram.phone import Phone
from tests.bot.telegram.proxy import Wire, proxied

NAME = "Larkmoor"
MORNING = datetime(2025, 11, 28, 15, 5, tzinfo=UTC)  # 08:05 in the garden, before a night of -9 °C
PLACES = {"alone": (4711, None), "in a group": (-1004711, None), "in a topic of a group": (-1004712, 77)}


@dataclass
class Asked:
    """One chat with the nudge of this morning on its screen."""

    phone: Phone
    wire: Wire
    logbook: Logbook
    nudge: Shown

    def reads(self, words: str, count: int = 1) -> Shown:
        wait_for(lambda: len(self.phone.reads(words)) >= count, f"{words!r} on the screen")
        return self.phone.reads(words)[-1]

    def deeds(self) -> list[DeedKind]:
        with self.logbook.begin() as c:
            return [deed.kind for deed in read_records(c, NAME).deeds]

    def state(self) -> NudgeState:
        with self.logbook.begin() as c:
            return next(one.state for one in nudges_since(c, NAME, MORNING) if one.ask == DeedKind.WRAPPED)


def test_who_answers_before_the_messenger_has_told_us_that_it_sent_sees_the_nudge_settled(tmp_path: Path) -> None:
    """Its buttons must not stay: a tap on them would be told that it is out of date."""
    path = write_garden_file(tmp_path, NAME, "Porch fig", MORNING)
    phones = Phones(path, MORNING, (ROWAN,))
    phones.watch.tick(phones.now)
    (under_way,) = claim(phones.logbook, phones.now, 1, "phones")
    assert under_way.text.startswith("Wrap Porch fig")
    assert phones.say("done") == ""  # noted, and the answer waits its turn in this chat
    finish(phones.logbook, under_way, SendOutcome(outcome=Outcome.SENT, message_id=900), phones.now)
    heard = {one.text.partition(" ")[0].rstrip(":"): one for one in phones.listen()}
    assert heard["Settled"].edits_message_id == 900
    assert heard["Settled"].buttons == ()
    assert heard["Noted"].edits_message_id is None
    phones.close()


@contextmanager
def asked(emulator: Emulator, folder: Path, chat_id: int, topic: int | None) -> Iterator[Asked]:
    path = write_garden_file(folder, NAME, "Porch fig", MORNING)
    garden, logbook = read_garden(path), open_logbook(folder / "garden.logbook")
    with logbook.begin() as c:
        note_person(c, NAME, chat_id, "Rowan", "owner")
    watch = Watch(Setting(garden=garden, logbook=logbook, transport=Transport(saved_path=garden.saved_forecasts)))
    token, clock = emulator.fresh_token(), fast_clock(MORNING)
    mended = Mended(lambda: clock().timestamp())
    with proxied(emulator.port, mended) as wire, door_open(watch, token, wire.address, clock) as door:
        phone = Town(emulator, wire, mended, token, clock).phone(chat_id, "Rowan", person_id=4711)
        phone.topic = topic
        door.tick()
        wait_for(lambda: phone.reads("Wrap Porch fig"), "the nudge")
        yield Asked(phone, wire, logbook, phone.reads("Wrap Porch fig")[0])
    logbook.close()


@pytest.fixture(params=PLACES)
def place(request: pytest.FixtureRequest, emulator: Emulator, tmp_path: Path) -> Iterator[Asked]:
    chat_id, topic = PLACES[request.param]
    with asked(emulator, tmp_path, chat_id, topic) as one:
        yield one


def test_a_nudge_is_answered_taken_back_tapped_and_mended(place: Asked) -> None:
    place.phone.says("done", quoting=place.nudge)
    noted = place.reads("Noted: Porch fig wrapped")
    settled = place.reads("Settled")
    assert (settled.message_id, settled.buttons) == (place.nudge.message_id, {})
    assert place.deeds() == [DeedKind.WRAPPED]

    place.phone.taps("Undo", noted)
    again = place.reads("Undone")
    assert (place.deeds(), place.state()) == ([], NudgeState.OPEN)
    assert "Wrapped" in again.buttons  # what is open again can be tapped where it is told

    place.phone.taps("Wrapped", again)
    place.reads("Noted: Porch fig wrapped", 2)
    assert place.deeds() == [DeedKind.WRAPPED]
    assert place.state() is NudgeState.ANSWERED

    said = place.phone.says("closed porch", quoting=place.nudge)
    place.reads("Noted: Porch fig closed")
    place.phone.changes(said, "opened porch", quoting=place.nudge)
    place.reads("Noted: Porch fig")
    wait_for(lambda: DeedKind.VENTED in place.deeds(), "the mended word")
    assert sorted(place.deeds()) == sorted([DeedKind.WRAPPED, DeedKind.VENTED])  # what it said before is taken back
    assert place.phone.reads("stumbled") == []
    answers = [
        call for call in place.wire.accepted("sendMessage") if call.fields["text"].startswith(("Noted", "Undone"))
    ]
    where = {call.fields.get("message_thread_id") for call in answers}
    assert where == {str(place.phone.topic) if place.phone.topic else None}  # answered where it was said or tapped
