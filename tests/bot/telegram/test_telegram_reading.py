"""What is read from raw updates, and what an exception of the transport says of a message; no wire needed."""

import json
from datetime import UTC, datetime
from typing import Any

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from telegram.error import (
    BadRequest,
    ChatMigrated,
    Forbidden,
    InvalidToken,
    NetworkError,
    TelegramError,
    TimedOut,
)

from bot.inbox import RawUpdate
from bot.messages import Incoming, IncomingKind
from bot.outbox import Outcome
from bot.telegram_chat import outcome_of, read_update
from bot.telegram_chat.reading import chat_of
from bot.telegram_chat.sending import shortened

AT = int(datetime(2026, 11, 25, 16, tzinfo=UTC).timestamp())
BOT_ID = 77
ROWAN = {"id": 5, "is_bot": False, "first_name": "Rowan"}
GROUP = {"id": -9, "type": "supergroup", "title": "Bench growers"}


def message(**content: Any) -> dict[str, Any]:
    return {"message_id": 3, "date": AT, "chat": {"id": 5, "type": "private"}, "from": ROWAN, **content}


def read(kind: str = "message", **content: Any) -> Incoming | None:
    return read_update(json.dumps({"update_id": 1, kind: message(**content)}), BOT_ID)


def from_bot(bot_id: int) -> dict[str, Any]:
    return message(chat=GROUP, text="Close the cap.", **{"from": {"id": bot_id, "is_bot": True, "first_name": "b"}})


def test_a_caption_is_read_like_a_text() -> None:
    heard = read(caption="closed porch", photo=[{"file_id": "a", "file_unique_id": "b", "width": 1, "height": 1}])
    assert heard is not None
    assert (heard.text, heard.kind) == ("closed porch", IncomingKind.TEXT)


@pytest.mark.parametrize(
    "content",
    [
        {"new_chat_title": "x"},
        {"left_chat_member": ROWAN},
        {"pinned_message": message(text="x")},
        {"text": "x", "from": {"id": 6, "is_bot": True, "first_name": "another bot"}},
    ],
    ids=["title", "somebody left", "pinned", "another bot"],
)
def test_what_nobody_said_is_not_read(content: dict[str, Any]) -> None:
    assert read(**content) is None


def test_what_no_database_keeps_is_taken_out_of_words_and_names() -> None:
    half, person = "\ud83c", {**ROWAN, "first_name": "Row\ud9c1an"}
    said: dict[str, Any] = {"text": f"closed\0 porch {half}", "from": person}
    heard = read(**said)
    assert heard is not None
    assert (heard.text, heard.person) == ("closed porch ?", "Row?an")


def test_a_live_location_that_moves_on_is_not_read_again_and_again() -> None:
    place = {"latitude": 39.0, "longitude": -109.0, "live_period": 900}
    assert read(location=place) is not None
    assert read("edited_message", location=place, edit_date=AT + 9) is None


@pytest.mark.parametrize(
    ("content", "is_ours"),
    [
        ({"text": "closed porch"}, False),
        ({"text": "closed porch", "reply_to_message": from_bot(BOT_ID)}, True),
        ({"text": "closed porch", "reply_to_message": from_bot(BOT_ID + 1)}, False),
        ({"text": "closed porch", "reply_to_message": message(chat=GROUP, text="x")}, False),
        ({"text": "/due"}, True),
    ],
)
def test_in_a_group_only_commands_and_answers_to_us_are_ours(content: dict[str, Any], is_ours: bool) -> None:
    assert (read(chat=GROUP, **content) is not None) is is_ours


@pytest.mark.parametrize("text", ["/due tomorrow", "/due@larkmoor_bot tomorrow"])
def test_the_name_of_the_bot_in_a_command_is_no_part_of_it(text: str) -> None:
    heard = read(chat=GROUP, text=text)
    assert heard is not None
    assert heard.text == "/due tomorrow"


@pytest.mark.parametrize(
    "content",
    [{"migrate_to_chat_id": -100_9}, {"chat": {**GROUP, "id": -100_9}, "migrate_from_chat_id": -9}],
    ids=["in the old chat", "in the new chat"],
)
def test_the_new_id_of_a_group_is_read_from_either_side(content: dict[str, Any]) -> None:
    heard = read(**{"chat": GROUP, **content})
    assert heard is not None
    assert (heard.kind, heard.chat_id, heard.new_chat_id) == (IncomingKind.MOVED, -9, -100_9)


def test_only_a_chat_that_moved_has_a_new_id() -> None:
    at = datetime(2026, 11, 25, 16, tzinfo=UTC)
    with pytest.raises(ValueError, match="new_chat_id"):
        Incoming(update_id=1, chat_id=-9, person="", kind=IncomingKind.MOVED, at_utc=at)
    with pytest.raises(ValueError, match="new_chat_id"):
        Incoming(update_id=1, chat_id=-9, person="", kind=IncomingKind.TEXT, at_utc=at, new_chat_id=-8)


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.sampled_from(["chat", "id", "message"]), inner),
    max_leaves=6,
)
kinds = st.sampled_from(["message", "edited_message", "callback_query", "my_chat_member", "poll"])


@given(st.dictionaries(kinds, values, max_size=2))
def test_the_chat_of_any_update_is_a_number_the_logbook_can_keep_or_not_known(update: dict[str, Any]) -> None:
    chat_id = chat_of(update)
    assert chat_id is None or (type(chat_id) is int and abs(chat_id) < 2**63)
    RawUpdate(1, json.dumps(update), datetime.now(UTC), chat_id)


@given(st.text(), st.integers(2, 40))
def test_a_shortened_text_fits_and_begins_as_it_was(text: str, units: int) -> None:
    cut = shortened(text, units)
    assert len(cut.encode("utf-16-le")) <= 2 * units
    assert cut == text or (cut.endswith("…") and text.startswith(cut[:-1]))


def caused(error: TelegramError, cause: Exception) -> TelegramError:
    error.__cause__ = cause
    return error


@pytest.mark.parametrize(
    ("error", "outcome"),
    [
        (ChatMigrated(-100_9), Outcome.CHAT_MOVED),
        (Forbidden("bot was blocked by the user"), Outcome.CHAT_GONE),
        (InvalidToken("Unauthorized"), Outcome.FORBIDDEN_TOKEN),
        (BadRequest("chat not found"), Outcome.REFUSED),
        (BadRequest("Message is not modified: same"), Outcome.SENT),
        (caused(NetworkError("x"), httpx.ConnectError("x")), Outcome.NOT_SENT),
        (caused(TimedOut(), httpx.ConnectTimeout("x")), Outcome.NOT_SENT),
        (caused(TimedOut(), httpx.PoolTimeout("x")), Outcome.NOT_SENT),
        (caused(TimedOut(), httpx.ReadTimeout("x")), Outcome.UNKNOWN),
        (caused(TimedOut(), httpx.WriteTimeout("x")), Outcome.UNKNOWN),
        (caused(NetworkError("x"), httpx.ReadError("x")), Outcome.UNKNOWN),
        (NetworkError("Bad Gateway (502)"), Outcome.UNKNOWN),
        (TelegramError("never heard of"), Outcome.UNKNOWN),
    ],
    ids=lambda value: str(value),
)
def test_an_exception_says_whether_the_message_arrived(error: TelegramError, outcome: Outcome) -> None:
    assert outcome_of(error).outcome is outcome
