"""The emulator's quirks, each pinned: the day one of them is gone, its mending may go too."""

import asyncio
import json
from collections.abc import Awaitable, Callable
from http.client import HTTPConnection
from typing import Any, TypeVar

import pytest
from telegram import Bot, InputMediaPhoto, Message, Update
from telegram.error import BadRequest, Conflict

from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import wait_for

Answered = TypeVar("Answered")


def ask_emulator(town: Town, method: str, **fields: Any) -> tuple[int, Any]:
    """The emulator's own answer, past the wire."""
    connection = HTTPConnection("127.0.0.1", town.emulator.port, timeout=10)
    body = json.dumps(fields)
    connection.request("POST", f"/bot{town.token}/{method}", body, {"Content-Type": "application/json"})
    answer = connection.getresponse()
    told = json.loads(answer.read())
    connection.close()
    return answer.status, told.get("result", told)


def ask_mended(town: Town, what: Callable[[Bot], Awaitable[Answered]]) -> Answered:
    """What a bot of the library's own makes of the wire's answer."""

    async def asked() -> Answered:
        async with Bot(town.token, base_url=f"{town.wire.address}/bot") as bot:
            return await what(bot)

    return asyncio.run(asked())


def test_get_me_has_no_username(town: Town) -> None:
    assert "username" not in ask_emulator(town, "getMe")[1]
    assert ask_mended(town, lambda bot: bot.get_me()).username == "larkmoor_test_bot"


def test_sent_messages_are_dated_1970_and_every_chat_is_private(town: Town) -> None:
    raw = ask_emulator(town, "sendMessage", chat_id=-5, text="frost")[1]
    assert (raw["date"], raw["chat"]["type"]) == (1, "private")
    sent = ask_mended(town, lambda bot: bot.send_message(-5, "frost"))
    assert (sent.date.year, sent.chat.type) == (2025, "supergroup")


def test_reactions_and_new_pictures_are_not_modelled(town: Town) -> None:
    assert ask_emulator(town, "setMessageReaction", chat_id=5, message_id=1)[0] == 501
    assert ask_emulator(town, "editMessageMedia", chat_id=5, message_id=1)[0] == 501
    assert ask_mended(town, lambda bot: bot.set_message_reaction(5, 1, "👍")) is True

    async def replaced(bot: Bot) -> Message | bool:
        sent = await bot.send_photo(5, b"old", caption="old")
        return await bot.edit_message_media(InputMediaPhoto(b"new", caption="new"), 5, sent.message_id)

    assert isinstance(ask_mended(town, replaced), Message)


def test_edits_of_a_message_that_never_was_succeed(town: Town) -> None:
    assert ask_emulator(town, "editMessageText", chat_id=5, message_id=987, text="x")[0] == 200
    with pytest.raises(BadRequest, match="not found"):
        ask_mended(town, lambda bot: bot.edit_message_text("x", 5, 987))


def test_edits_that_change_nothing_succeed(town: Town) -> None:
    async def twice(bot: Bot) -> None:
        sent = await bot.send_message(5, "frost")
        await bot.edit_message_text("frost", 5, sent.message_id)

    with pytest.raises(BadRequest, match="not modified"):
        ask_mended(town, twice)


def test_only_three_kinds_of_update_are_taken_and_the_others_travel_inside_a_message(town: Town) -> None:
    connection = HTTPConnection("127.0.0.1", town.emulator.port, timeout=10)
    refused = json.dumps({"token": town.token, "update": {"my_chat_member": {}}})
    connection.request("POST", "/__fixture/updates", refused)
    assert connection.getresponse().status == 400
    connection.close()
    phone = town.phone()
    phone.becomes("kicked")
    phone.changes(phone.says("frost"), "frosts")
    updates = ask_mended(town, lambda bot: bot.get_updates(allowed_updates=["message", "my_chat_member"]))
    assert [update.update_id for update in updates] == [1, 2, 3]
    member, _, edited = updates
    assert member.my_chat_member is not None
    assert member.my_chat_member.new_chat_member.status == "kicked"
    assert edited.edited_message is not None
    assert edited.edited_message.text == "frosts"


def test_the_journal_keeps_no_words_so_the_wire_does(town: Town) -> None:
    ask_mended(town, lambda bot: bot.send_message(4711, "frost"))
    assert [shown.text for shown in town.phone().screen()] == ["frost"]


def test_a_poll_that_hung_up_leaves_no_ghost(town: Town) -> None:
    async def hang_up_then_ask(bot: Bot) -> tuple[Update, ...]:
        poll = asyncio.ensure_future(bot.get_updates(timeout=30))
        await asyncio.to_thread(wait_for, lambda: town.wire.asked("getUpdates"), "the poll")
        poll.cancel()
        await asyncio.gather(poll, return_exceptions=True)
        town.phone().says("frost")
        for _ in range(200):  # the emulator looks ten times a second whether the poller is there
            try:
                return await bot.get_updates(timeout=5)
            except Conflict:
                continue
        raise AssertionError("the ghost stays")

    assert len(ask_mended(town, hang_up_then_ask)) == 1
