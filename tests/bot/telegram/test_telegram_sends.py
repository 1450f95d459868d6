"""Every way a send can end, over a real wire, with what was really accepted counted on the far side."""

import asyncio
import json
import socket
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from bot.logbook import Logbook, enqueue, is_reachable, list_people, note_person
from bot.logbook.database.tables import doors, outbox
from bot.messages import Button, OnUnknown, Outgoing
from bot.outbox import REPEAT_WORDS, Claimed, Outcome
from bot.telegram_chat import Pauses, TelegramSender, TokenError
from bot.telegram_chat.transport import connected
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import Echo, OpenDoor, door_open, wait_for
from tests.bot.telegram.proxy import Break, Fault, refusal

CHAT = 4711
PIXEL = bytes.fromhex("89504e470d0a1a0a")  # the signature of a PNG; the emulator looks no further


def put(logbook: Logbook, town: Town, key: str, **more: Any) -> None:
    now = town.clock()
    given: dict[str, Any] = {"chat_id": CHAT, "text": key, "expires_utc": now + timedelta(days=1)} | more
    with logbook.begin() as c:
        enqueue(c, Outgoing(key=key, due_utc=now, **given), "Larkmoor")


def row_of(logbook: Logbook, key: str) -> Any:
    with logbook.begin() as c:
        return c.execute(sa.select(outbox).where(outbox.c.key == key)).one()


def settled(logbook: Logbook, key: str, *states: str) -> Any:
    """The row once it is in one of these states."""
    wait_for(lambda: row_of(logbook, key).state in states, f"{key} to be {states}")
    return row_of(logbook, key)


def texts(town: Town, chat_id: int = CHAT) -> list[str]:
    return [call.fields["text"] for call in town.wire.accepted("sendMessage", chat_id=chat_id)]


UNCLEAR = [Break.RESET_BEFORE, Break.RESET_AFTER, Break.LATE, Break.GARBAGE]


@pytest.mark.parametrize("kind", UNCLEAR, ids=lambda kind: kind.name)
def test_an_unclear_send_that_protects_wood_goes_out_once_more_and_says_so(
    town: Town, logbook: Logbook, echo: OpenDoor, kind: Break
) -> None:
    town.wire.breaks(Fault("sendMessage", kind))
    put(logbook, town, "close the cap", on_unknown=OnUnknown.RESEND)
    settled(logbook, "close the cap", "sent")
    again = f"{REPEAT_WORDS}\nclose the cap"
    arrived_before = kind is not Break.RESET_BEFORE
    assert texts(town) == (["close the cap", again] if arrived_before else [again])


@pytest.mark.parametrize("status", [500, 503, 504])
def test_a_gateway_that_fails_leaves_it_unclear_whatever_its_status(
    town: Town, logbook: Logbook, echo: OpenDoor, status: int
) -> None:
    town.wire.breaks(Fault("sendMessage", Break.GARBAGE, status=status))
    put(logbook, town, "close the cap", on_unknown=OnUnknown.RESEND)
    settled(logbook, "close the cap", "sent")
    assert texts(town) == ["close the cap", f"{REPEAT_WORDS}\nclose the cap"]


@pytest.mark.parametrize("words", ["message thread not found", "TOPIC_CLOSED"])
def test_an_answer_whose_topic_is_gone_goes_to_the_group(
    town: Town, logbook: Logbook, echo: OpenDoor, words: str
) -> None:
    town.wire.breaks(refusal("sendMessage", 400, f"Bad Request: {words}"))
    put(logbook, town, "noted", chat_id=-1004711, topic=77)
    settled(logbook, "noted", "sent")
    asked = [call.fields.get("message_thread_id") for call in town.wire.asked("sendMessage")]
    assert asked == ["77", None]


@pytest.mark.parametrize("kind", UNCLEAR, ids=lambda kind: kind.name)
def test_an_unclear_send_of_small_talk_is_held(town: Town, logbook: Logbook, echo: OpenDoor, kind: Break) -> None:
    town.wire.breaks(Fault("sendMessage", kind))
    put(logbook, town, "you are welcome")
    put(logbook, town, "next")  # proves that the door went on
    settled(logbook, "next", "sent")
    assert settled(logbook, "you are welcome", "unknown").error
    assert texts(town) == (["next"] if kind is Break.RESET_BEFORE else ["you are welcome", "next"])


@pytest.mark.filterwarnings("ignore::telegram.warnings.PTBDeprecationWarning")  # the library warns itself
def test_after_a_429_the_whole_bot_waits_and_nothing_comes_twice(town: Town, logbook: Logbook, echo: OpenDoor) -> None:
    town.wire.breaks(refusal("sendMessage", 429, "Too Many Requests: retry after 8", retry_after=8))
    put(logbook, town, "close the cap")
    wait_for(lambda: town.wire.asked("sendMessage"), "the first try")
    wait_for(lambda: row_of(logbook, "close the cap").error, "the refusal to be noted")
    put(logbook, town, "to somebody else", chat_id=4712)
    rows = [settled(logbook, key, "sent") for key in ("close the cap", "to somebody else")]
    with logbook.begin() as c:
        hold_until = c.scalar(sa.select(doors.c.hold_until_utc))
    assert hold_until is not None
    assert all(row.claimed_utc >= hold_until for row in rows)
    assert (texts(town), texts(town, 4712)) == (["close the cap"], ["to somebody else"])


@pytest.mark.filterwarnings("ignore::telegram.warnings.PTBDeprecationWarning")  # the library warns itself
def test_a_storm_of_429_is_waited_out_and_not_answered_with_a_storm(
    town: Town, logbook: Logbook, echo: OpenDoor
) -> None:
    storm = refusal("sendMessage", 429, "Too Many Requests: retry after 3", times=8, retry_after=3)
    town.wire.breaks(storm)
    keys = [f"close the cap {number}" for number in range(12)]
    for number, key in enumerate(keys):
        put(logbook, town, key, chat_id=CHAT + number, on_unknown=OnUnknown.RESEND)
    for key in keys:
        settled(logbook, key, "sent")
    assert storm.times == 0
    assert [texts(town, CHAT + number) for number in range(12)] == [[key] for key in keys]  # once each, none marked
    assert len(town.wire.asked("sendMessage")) == 8 + 12  # not one call more than there were refusals


GONE = ["bot was blocked by the user", "user is deactivated", "bot was kicked from the group chat"]


@pytest.mark.parametrize("why", GONE)
def test_a_chat_that_is_gone_gets_nothing_more(town: Town, logbook: Logbook, echo: OpenDoor, why: str) -> None:
    town.wire.breaks(refusal("sendMessage", 403, f"Forbidden: {why}"))
    put(logbook, town, "close the cap", on_unknown=OnUnknown.RESEND)
    assert why in settled(logbook, "close the cap", "dead").error
    with logbook.begin() as c:
        assert not is_reachable(c, CHAT)


def test_who_blocks_the_bot_is_left_in_peace_and_not_forgotten(town: Town, logbook: Logbook, echo: OpenDoor) -> None:
    with logbook.begin() as c:
        note_person(c, "Larkmoor", CHAT, "Rowan", "household")
    town.wire.breaks(refusal("sendMessage", 403, "Forbidden: bot was blocked by the user"))
    put(logbook, town, "close the cap", on_unknown=OnUnknown.RESEND)
    assert "blocked by the user" in settled(logbook, "close the cap", "dead").error
    put(logbook, town, "last call")
    put(logbook, town, "to somebody else", chat_id=4712)
    settled(logbook, "to somebody else", "sent")
    with logbook.begin() as c:
        assert not is_reachable(c, CHAT)
        assert [person.name for person in list_people(c, "Larkmoor")] == ["Rowan"]
    assert len(town.wire.asked("sendMessage")) == 2  # the blocked one, and somebody else's


@pytest.mark.parametrize("why", ["chat not found", "message is too long"])
def test_what_the_server_will_never_take_is_given_up_with_its_reason(
    town: Town, logbook: Logbook, echo: OpenDoor, why: str
) -> None:
    town.wire.breaks(refusal("sendMessage", 400, f"Bad Request: {why}"))
    put(logbook, town, "close the cap", on_unknown=OnUnknown.RESEND)
    assert why in settled(logbook, "close the cap", "dead").error.lower()
    put(logbook, town, "next")
    settled(logbook, "next", "sent")
    assert texts(town) == ["next"]


def test_a_group_with_a_new_id_gets_its_message_there(town: Town, logbook: Logbook, echo: OpenDoor) -> None:
    with logbook.begin() as c:
        note_person(c, "Larkmoor", -77, "Bench growers", "household")
    moved = "Bad Request: group chat was upgraded to a supergroup chat"
    town.wire.breaks(refusal("sendMessage", 400, moved, migrate_to_chat_id=-100_77))
    put(logbook, town, "close the cap", chat_id=-77)
    assert settled(logbook, "close the cap", "sent").chat_id == -100_77
    assert (texts(town, -77), texts(town, -100_77)) == ([], ["close the cap"])
    with logbook.begin() as c:
        assert [person.chat_id for person in list_people(c, "Larkmoor")] == [-100_77]


def test_a_token_refused_in_the_middle_stops_the_door_with_a_sentence(town: Town, logbook: Logbook) -> None:
    door = OpenDoor(Echo(logbook), town.token, town.wire.address, town.clock)
    town.wire.breaks(refusal("sendMessage", 401, "Unauthorized", times=9))
    put(logbook, town, "close the cap")
    door.thread.join(20)
    assert isinstance(door.error, TokenError)
    assert "@BotFather" in str(door.error)
    assert town.token not in str(door.error)
    assert len(town.wire.asked("sendMessage")) == 1
    assert row_of(logbook, "close the cap").state == "queued"  # for when the token is mended


def test_nothing_that_never_left_is_taken_for_unclear() -> None:
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))
        address = f"http://127.0.0.1:{closed.getsockname()[1]}"  # bound, and nobody listens
        result = asyncio.run(send_to(address))
    assert result is Outcome.NOT_SENT


async def send_to(address: str) -> Outcome:
    message = Claimed(
        row_id=1, key="k", garden=None, nudge_key=None, chat_id=CHAT, text="frost", buttons=(), silent=False,
        picture=None, edits_message_id=None, is_repeat=False, topic=None, replies_to=None, reaction="", attempt=1,
        worker="w",
    )  # fmt: skip
    async with connected("12345:AAinvented_for_this_test_only", address, Pauses()) as bot:
        return (await TelegramSender(bot).send(message)).outcome


def test_an_edit_that_changes_nothing_counts_as_done(town: Town, logbook: Logbook, echo: OpenDoor) -> None:
    put(logbook, town, "first", text="Settled.")
    put(logbook, town, "edit", text="Settled.", edits="first")
    assert settled(logbook, "edit", "sent").message_id == row_of(logbook, "first").message_id
    assert [(shown.text, shown.edits) for shown in town.phone().screen()] == [("Settled.", 0)]


def test_an_unclear_edit_is_simply_made_again(town: Town, logbook: Logbook, echo: OpenDoor) -> None:
    town.wire.breaks(Fault("editMessageText", Break.RESET_AFTER))
    put(logbook, town, "first", buttons=(Button(label="Closed", data="closed:n1:0"),))
    put(logbook, town, "edit", text="Settled.", edits="first")
    settled(logbook, "edit", "sent")
    shown = town.phone().screen()
    assert [(one.text, one.buttons, one.edits) for one in shown] == [("Settled.", {}, 1)]  # the second changed nothing
    assert len(town.wire.asked("editMessageText")) == 2


def test_an_edit_of_a_message_that_is_gone_becomes_a_new_message(town: Town, logbook: Logbook, echo: OpenDoor) -> None:
    put(logbook, town, "first")
    settled(logbook, "first", "sent")
    town.mended.screen.clear()  # deleted on the phone
    put(logbook, town, "edit", text="Settled.", edits="first")
    settled(logbook, "edit", "sent")
    assert texts(town) == ["first", "Settled."]


def test_a_picture_goes_with_its_caption_and_both_can_be_edited(
    town: Town, logbook: Logbook, echo: OpenDoor, tmp_path: Path
) -> None:
    picture = tmp_path / "week.png"
    picture.write_bytes(PIXEL)
    button = (Button(label="Why", data="why:n1:0"),)
    put(logbook, town, "week", text="Your week", picture=str(picture), buttons=button)
    put(logbook, town, "words", text="Your week, closed", edits="week")
    settled(logbook, "words", "sent")
    phone = town.phone()
    assert [(one.text, one.is_picture, one.buttons) for one in phone.screen()] == [("Your week, closed", True, {})]
    put(logbook, town, "picture", text="The week again", picture=str(picture), edits="week")
    settled(logbook, "picture", "sent")
    assert [(one.text, one.edits) for one in phone.screen()] == [("The week again", 2)]
    assert town.wire.accepted("sendPhoto")[0].fields["caption"] == "Your week"


def test_a_garden_file_goes_as_a_file_with_all_its_bytes(
    town: Town, logbook: Logbook, echo: OpenDoor, tmp_path: Path
) -> None:
    garden = tmp_path / "larkmoor.toml"
    garden.write_bytes(b'name = "Larkmoor"\r\n')
    put(logbook, town, "export", text="Your garden file", picture=str(garden))
    settled(logbook, "export", "sent")
    (sent,) = town.wire.accepted("sendDocument")
    assert sent.fields["caption"] == "Your garden file"
    assert sent.fields["document"] == str(garden.stat().st_size)  # the wire keeps the size of what was uploaded


def test_a_picture_whose_file_is_gone_leaves_its_words(town: Town, logbook: Logbook, echo: OpenDoor) -> None:
    put(logbook, town, "week", text="Your week", picture="/nowhere/week.png")
    settled(logbook, "week", "sent")
    assert texts(town) == ["Your week"]


def test_a_send_under_way_is_finished_before_the_door_closes(town: Town, logbook: Logbook) -> None:
    slow = Fault("sendMessage", Break.LATE)
    town.wire.breaks(slow)
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock) as door:
        put(logbook, town, "close the cap")
        wait_for(lambda: texts(town), "the server to take it")
        door.ask_to_stop()
        slow.released.set()
        door.stop()
    assert row_of(logbook, "close the cap").state == "sent"


def test_the_longest_words_the_server_takes_arrive_and_longer_ones_are_cut(
    town: Town, logbook: Logbook, echo: OpenDoor, tmp_path: Path
) -> None:
    picture = tmp_path / "week.png"
    picture.write_bytes(PIXEL)
    fits, too_long = "🌱" * 2048, "🌱" * 2049  # two UTF-16 units each; the server counts those, and refuses more
    put(logbook, town, "fits", text=fits)
    put(logbook, town, "too long", text=too_long, chat_id=4712)
    put(logbook, town, "caption", text="🌱" * 600, picture=str(picture), chat_id=4713)
    for key in ("fits", "too long", "caption"):
        settled(logbook, key, "sent")
    assert texts(town) == [fits]
    assert texts(town, 4712) == ["🌱" * 2047 + "…"]
    assert [one.text for one in town.phone(4713).screen()] == ["🌱" * 511 + "…"]


def test_names_and_buttons_with_markup_emoji_and_hebrew_survive(town: Town, logbook: Logbook, echo: OpenDoor) -> None:
    text = 'Close <b>Old & "Wall"</b> *fig* _1_ [x](y) תאנה \u200f🌳 %s {0} \\ &amp;'
    longest = Button(label="תאנה <closed> 🌳", data="ת" * 32)  # 64 bytes
    put(logbook, town, "nudge", text=text, buttons=(longest,))
    settled(logbook, "nudge", "sent")
    [shown] = town.phone().screen()
    assert (shown.text, shown.buttons) == (text, {"תאנה <closed> 🌳": "ת" * 32})
    with pytest.raises(ValueError, match="66 bytes"):
        Button(label="Closed", data="ת" * 33)


def test_a_reaction_says_it_without_a_word_and_an_answer_in_a_group_names_its_question(
    town: Town, logbook: Logbook, echo: OpenDoor
) -> None:
    put(logbook, town, "first", text="a question")
    asked = settled(logbook, "first", "sent").message_id
    put(logbook, town, "thanks", text="You are welcome.", reaction="\N{HEAVY BLACK HEART}", replies_to=asked)
    settled(logbook, "thanks", "sent")
    (call,) = town.wire.accepted("setMessageReaction")
    assert call.fields["message_id"] == str(asked)
    put(logbook, town, "answer", text="an answer", replies_to=asked)
    settled(logbook, "answer", "sent")
    assert texts(town) == ["a question", "an answer"]
    sent = town.wire.accepted("sendMessage", chat_id=CHAT)[-1]
    assert json.loads(sent.fields["reply_parameters"])["message_id"] == asked
