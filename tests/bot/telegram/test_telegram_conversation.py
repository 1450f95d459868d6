"""The whole garden behind the door: let in, nudged, answered, over real HTTP. One invented garden serves all tests."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from bot.answers.household.letting_in import STRANGER, TOO_MANY_CODES, WRONG_CODE
from bot.forecasts import Transport
from bot.hosting.one_garden import Watch
from bot.logbook import (
    Logbook,
    NudgeState,
    is_reachable,
    list_people,
    make_let_in_code,
    nudges_since,
    open_logbook,
    read_records,
)
from bot.logbook.database.tables import inbox, let_in_tries
from bot.rounds import Setting
from bot.settings import read_garden
from rules.garden.records import Deed, DeedKind
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.emulator import Emulator, Mended, Shown
from tests.bot.telegram.open_door import OpenDoor, door_open, fast_clock, wait_for
from tests.bot.telegram.phone import Phone
from tests.bot.telegram.proxy import proxied

GARDEN_FILE = Path(__file__).parents[3] / "demo_config" / "larkmoor.toml"
GARDEN = "Larkmoor"
MORNING = datetime(2025, 11, 28, 15, 5, tzinfo=UTC)  # 08:05 in the garden, before a night of -11 °C


@dataclass
class Served:
    """The demo garden behind an open door, with Rowan let in and nudged."""

    town: Town
    logbook: Logbook
    door: OpenDoor
    rowan: Phone

    def code(self) -> str:
        with self.logbook.begin() as c:
            return make_let_in_code(c, GARDEN, self.town.clock(), timedelta(hours=48))

    def let_in(self, chat_id: int, name: str, command: str = "") -> Phone:
        phone = self.town.phone(chat_id, name)
        phone.says(f"{command} {self.code()}".strip())
        read(phone, "Welcome")
        return phone

    def nudge(self) -> Shown:
        """The one nudge of this morning, as it stands on Rowan's phone now."""

        def sent() -> list[int]:
            texts = self.town.wire.accepted("sendMessage", chat_id=4711)
            return [call.result["message_id"] for call in texts if call.fields["text"].startswith("Wrap Porch fig")]

        if not sent():
            self.door.tick()
        [message_id] = wait_for(sent, "the nudge")
        return next(one for one in self.rowan.screen() if one.message_id == message_id)

    def asked(self) -> set[str]:
        """The trees of the nudge of this morning; which they are is the plan's affair."""
        with self.logbook.begin() as c:
            (one,) = (nudge for nudge in nudges_since(c, GARDEN, MORNING) if nudge.ask == DeedKind.WRAPPED)
        return set(one.trees)

    def deeds(self) -> list[Deed]:
        with self.logbook.begin() as c:
            return list(read_records(c, GARDEN).deeds)

    def all_taken(self) -> None:
        """Wait until the last thing anybody said is taken."""
        newest = self.town.emulator.newest[self.town.token]
        taken = sa.select(inbox.c.id).where(inbox.c.update_id == newest, inbox.c.state != "pending")

        def is_taken() -> bool:
            with self.logbook.begin() as c:
                return c.scalar(taken) is not None

        wait_for(is_taken, "the inbox to be taken")


def read(phone: Phone, words: str, count: int = 1) -> Shown:
    wait_for(lambda: len(phone.reads(words)) >= count, f"'{words}' on the screen of {phone.name}")
    return phone.reads(words)[-1]


@pytest.fixture(scope="module")
def served(emulator: Emulator, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    garden = read_garden(GARDEN_FILE)
    logbook = open_logbook(tmp_path_factory.mktemp("garden") / "larkmoor.logbook")
    watch = Watch(Setting(garden=garden, logbook=logbook, transport=Transport(saved_path=garden.saved_forecasts)))
    watch.tick(MORNING)  # looks; nobody is let in yet whom to nudge
    token, clock = emulator.fresh_token(), fast_clock(MORNING)
    mended = Mended(lambda: clock().timestamp())
    with proxied(emulator.port, mended) as wire, door_open(watch, token, wire.address, clock) as door:
        town = Town(emulator, wire, mended, token, clock)
        rowan = town.phone(4711, "Rowan")
        place = Served(town, logbook, door, rowan)
        place.let_in(4711, "Rowan")
        yield place
    logbook.close()


def test_a_one_time_code_lets_one_phone_in_whatever_its_name(served: Served) -> None:
    name = 'Ash <b>& "Elder"</b> 🌱 שקד'
    code = served.code()
    ash, late = served.town.phone(11, name), served.town.phone(12, "Late")
    ash.says(f"/start {code}")
    assert name in read(ash, "Welcome").text
    late.says(code)
    read(late, WRONG_CODE)
    with served.logbook.begin() as c:
        assert [person.name for person in list_people(c, GARDEN) if person.chat_id in (11, 12)] == [name]
    sent = served.town.wire.accepted("sendMessage", chat_id=11)
    assert all("parse_mode" not in call.fields for call in sent)


def test_a_stranger_gets_one_polite_line_a_day_and_costs_nothing(served: Served) -> None:
    stranger = served.town.phone(21, "Hazel")
    before = served.deeds()
    for words in ("hello?", "wrapped all", "/start", "who are you"):
        stranger.says(words)
    stranger.becomes("member")
    served.all_taken()
    read(stranger, STRANGER)
    served.rowan.says("help")
    read(served.rowan, "Tell me what you did")  # sent later than all that the stranger could get
    assert [shown.text for shown in stranger.screen()] == [STRANGER]
    assert served.deeds() == before
    with served.logbook.begin() as c:
        assert c.scalar(sa.select(sa.func.count()).where(let_in_tries.c.chat_id == 21)) == 0  # a greeting is no try


def test_wrong_codes_are_told_so_five_times_and_then_even_the_right_one_waits(served: Served) -> None:
    guesser = served.town.phone(31, "Alder")
    for number in range(5):
        guesser.says(f"aaaa-bbbb-ccc{number + 2}")
    read(guesser, WRONG_CODE, count=5)
    guesser.says(served.code())
    guesser.says("aaaa-bbbb-dddd")
    read(guesser, TOO_MANY_CODES)
    served.all_taken()
    with served.logbook.begin() as c:
        assert all(person.chat_id != 31 for person in list_people(c, GARDEN))


def test_a_nudge_comes_with_its_buttons_and_a_tap_settles_it_and_undo_takes_it_back(served: Served) -> None:
    nudge = served.nudge()
    assert {"Porch fig", "Wall fig"} <= served.asked()
    assert list(nudge.buttons) == ["Done", "Can't", "Why"]  # a cage is wrapped, a film put on: one word for both
    assert all(1 <= len(data.encode()) <= 64 for data in nudge.buttons.values())
    tap = served.rowan.taps("Done", nudge)
    settled = read(served.rowan, "Settled")
    assert (settled.message_id, settled.buttons) == (nudge.message_id, {})
    spinners = served.town.wire.accepted("answerCallbackQuery")
    assert [call.fields["callback_query_id"] for call in spinners].count(tap) == 1
    wrapped = {deed.tree for deed in served.deeds() if deed.kind is DeedKind.WRAPPED}
    assert wrapped == served.asked()
    noted = read(served.rowan, "Noted: Porch fig")
    served.rowan.taps("Undo", noted)
    wait_for(lambda: not served.deeds(), "the deeds to be taken back")
    with served.logbook.begin() as c:
        assert [one.state for one in nudges_since(c, GARDEN, MORNING)] == [NudgeState.OPEN]


def test_a_tap_tapped_twice_counts_once(served: Served) -> None:
    phone = served.let_in(41, "Maple")
    phone.says("closed bench")
    noted = read(phone, "Noted: Bench fig closed")
    for _ in range(2):
        phone.taps("Undo", noted)
    served.all_taken()
    assert [deed for deed in served.deeds() if deed.tree == "Bench fig"] == []


def test_an_edited_message_replaces_what_it_said(served: Served) -> None:
    phone = served.let_in(51, "Willow")
    said = phone.says("closed kaki")
    read(phone, "Noted: Kaki closed")
    phone.changes(said, "closed olive")
    read(phone, "Noted: Film closed on Olive")
    ours = [deed.tree for deed in served.deeds() if deed.tree in ("Kaki", "Olive")]
    assert ours == ["Olive"]


def test_an_answer_to_an_old_nudge_is_about_its_trees(served: Served) -> None:
    nudge = served.nudge()
    served.rowan.says("done", quoting=nudge)
    wait_for(
        lambda: {d.tree for d in served.deeds() if d.kind is DeedKind.WRAPPED} == served.asked(),
        "all its trees to be wrapped",
    )


def test_who_blocks_us_gets_nothing_until_they_are_back(served: Served) -> None:
    phone = served.let_in(61, "Rush")
    phone.becomes("kicked")
    wait_for(lambda: not reachable(served, 61), "the block to be noted")
    phone.becomes("member")
    wait_for(lambda: reachable(served, 61), "the return to be noted")
    phone.becomes("kicked")
    wait_for(lambda: not reachable(served, 61), "the second block")
    phone.says("help")  # and the news that they are back was lost: who writes can be written to
    read(phone, "Tell me what you did")


def reachable(served: Served, chat_id: int) -> bool:
    with served.logbook.begin() as c:
        return is_reachable(c, chat_id)


def test_in_a_group_only_what_is_said_to_us_is_heard_and_a_new_id_is_followed(served: Served) -> None:
    group = served.let_in(-500, "Juniper", "/start@larkmoor_test_bot")
    group.says("closed pomegranate")  # said to the others; we see it only where privacy is off
    other = Shown(chat_id=-500, message_id=1, text="x")
    group.says("closed pomegranate", reply_to_message={**group.as_sent(other), "from": {"id": 9, "is_bot": True, "first_name": "other"}})  # fmt: skip  # noqa: E501
    group.serves(new_chat_title="Bench growers and friends")
    group.says("closed satsuma", quoting=group.screen()[0])
    read(group, "Noted: Lid put on Satsuma")
    shut = [deed.tree for deed in served.deeds() if deed.kind is DeedKind.CLOSED]
    assert [tree for tree in shut if tree in ("Pomegranate", "Satsuma")] == ["Satsuma"]
    assert len(group.screen()) == 2  # the welcome and what was noted
    group.serves(migrate_to_chat_id=-100_500)
    moved = served.town.phone(-100_500, "Juniper")
    moved.serves(migrate_from_chat_id=-500)  # the same news from the other side
    moved.says("/trees@larkmoor_test_bot")
    read(moved, "Porch fig")
    with served.logbook.begin() as c:
        assert {person.chat_id for person in list_people(c, GARDEN)} & {-500, -100_500} == {-100_500}


def test_every_input_gets_an_answer(served: Served) -> None:
    phone = served.let_in(71, "Sorrel")
    phone.says("زيتون 🌳 <i>&amp;</i> %s {0} \u202e")
    phone.says("x" * 4000)
    phone.serves(sticker={"file_id": "a", "file_unique_id": "b", "type": "regular", "width": 1, "height": 1,
                          "is_animated": False, "is_video": False})  # fmt: skip
    phone.serves(location={"latitude": 39.0, "longitude": -109.0})
    phone.serves(voice={"file_id": "a", "file_unique_id": "b", "duration": 3})
    phone.serves(photo=[{"file_id": "a", "file_unique_id": "b", "width": 90, "height": 90, "file_size": 1000}])
    phone.serves(document={"file_id": "a", "file_unique_id": "b", "file_name": "garden.toml", "file_size": 1000})
    wait_for(lambda: len(phone.screen()) >= 8, "the welcome and seven answers")
    served.all_taken()
    with served.logbook.begin() as c:
        failed = c.scalars(sa.select(inbox.c.error).where(inbox.c.state == "failed")).all()
    assert failed == []
