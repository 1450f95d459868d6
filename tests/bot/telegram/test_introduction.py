"""What the messenger shows of the bot, set by the program; the link that opens it with a code."""

import json
import re
from pathlib import Path

import pytest

from bot.answers.household.letting_in import deep_link
from bot.commands.serving.deep_link import save_picture
from bot.logbook import Logbook, read_state
from bot.logbook.garden.people import CODE_LENGTH, make_let_in_code
from bot.logbook.programs.last_heard import NOBODYS
from bot.messages import ASKS_LOCATION, Button
from bot.replies import Understood, parse_reply
from bot.telegram_chat.introduction import INTRODUCED, LONG, MENU, SHORT
from tests.bot.answers.test_pictures_in_chat import CONTEXT
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import Echo, OpenDoor, door_open, wait_for
from tests.bot.telegram.test_telegram_sends import put


def test_the_menu_is_within_the_bounds_of_the_bot_api_and_every_command_is_understood() -> None:
    """Bot API, BotCommand, setMyDescription and setMyShortDescription."""
    for name, words in MENU:
        assert re.fullmatch(r"[a-z0-9_]{1,32}", name)
        assert 1 <= len(words) <= 256
        assert isinstance(parse_reply(f"/{name}", CONTEXT), Understood)
    assert len(SHORT) <= 120
    assert len(LONG) <= 512


def introduced(logbook: Logbook) -> bool:
    """Whether the program knows that it has introduced the bot: after the last of its calls."""
    with logbook.begin() as c:
        return read_state(c, NOBODYS, INTRODUCED) is not None


def test_it_is_told_once_and_not_again_at_the_next_start(town: Town, logbook: Logbook) -> None:
    for _ in range(2):
        with door_open(Echo(logbook), town.token, town.wire.address, town.clock):
            wait_for(lambda: town.wire.accepted("getMe"), "the bot to ask who it is")
            wait_for(lambda: introduced(logbook), "the introduction to be noted")
            put(logbook, town, f"word {_}")
            wait_for(lambda: len(town.wire.accepted("sendMessage")) > _, "a message")  # noqa: B023 - within the loop
    (menu,) = town.wire.accepted("setMyCommands")
    assert [one["command"] for one in json.loads(menu.fields["commands"])] == [name for name, _ in MENU]
    assert len(town.wire.accepted("setMyDescription")) == 1
    with logbook.begin() as c:
        code = make_let_in_code(c, "Larkmoor", town.clock(), town.clock() - town.clock())
        link = deep_link(c, code)
    assert link == f"https://t.me/larkmoor_test_bot?start={code}"
    assert len(code.replace("-", "")) == CODE_LENGTH
    assert re.fullmatch(r"[A-Za-z0-9_-]{1,64}", code)  # Bot API, deep linking


def test_before_it_has_run_there_is_no_link(logbook: Logbook) -> None:
    with logbook.begin() as c:
        assert deep_link(c, "k7mq-2xdp-9hwt") == ""


def test_no_link_of_ours_brings_a_preview(town: Town, logbook: Logbook, echo: OpenDoor) -> None:
    put(logbook, town, "Weather data by https://example.org")
    (sent,) = wait_for(lambda: town.wire.accepted("sendMessage"), "the message")
    assert json.loads(sent.fields["link_preview_options"]) == {"is_disabled": True}


def test_a_place_is_sent_by_a_tap(town: Town, logbook: Logbook, echo: OpenDoor) -> None:
    put(logbook, town, "Where is it?", buttons=(Button(label="Send my location", data=ASKS_LOCATION),))
    (sent,) = wait_for(lambda: town.wire.accepted("sendMessage"), "the question")
    markup = json.loads(sent.fields["reply_markup"])
    assert markup["keyboard"] == [[{"text": "Send my location", "request_location": True}]]
    assert markup["one_time_keyboard"]


@pytest.mark.parametrize(("ending", "begins"), [("png", b"\x89PNG"), ("svg", b"<?xml")])
def test_the_code_is_saved_as_a_picture(tmp_path: Path, ending: str, begins: bytes) -> None:
    picture = save_picture("https://t.me/larkmoor_test_bot?start=k7mq-2xdp-9hwt", tmp_path / f"code.{ending}")
    assert picture.read_bytes().startswith(begins)
