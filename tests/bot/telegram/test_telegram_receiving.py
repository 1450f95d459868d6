"""Updates come in over a real wire: none lost, none twice, and nothing that comes in closes the door."""

import contextlib
import json
import logging
import threading
from collections.abc import Awaitable, Callable
from datetime import datetime
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from bot.logbook import Logbook, open_logbook, read_state
from bot.logbook.database.tables import inbox
from bot.telegram_chat import TokenError
from bot.timetable import start_timetable
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import Echo, OpenDoor, door_open, wait_for
from tests.bot.telegram.proxy import Break, Fault, refusal


def heard(town: Town, words: str) -> Callable[[], list[Any]]:
    return lambda: town.phone().reads(f"heard text: {words}")


def says_and_is_heard(town: Town, words: str) -> None:
    town.phone().says(words)
    wait_for(heard(town, words), f"'{words}' to be answered")


def count(logbook: Logbook) -> int:
    with logbook.begin() as c:
        return int(read_state(c, "Larkmoor", "heard") or 0)


def given(result: Any) -> Fault:
    """What getUpdates answers in place of the server."""
    return Fault("getUpdates", Break.ANSWER, status=200, body={"ok": True, "result": result})


def text_update(update_id: int, words: str, town: Town) -> dict[str, Any]:
    message = {
        "message_id": update_id,
        "date": int(town.clock().timestamp()),
        "chat": {"id": 4711, "type": "private"},
        "from": {"id": 4711, "is_bot": False, "first_name": "Rowan"},
        "text": words,
    }
    return {"update_id": update_id, "message": message}


def test_all_kinds_of_update_we_read_are_asked_for(town: Town, echo: OpenDoor) -> None:
    call = wait_for(lambda: town.wire.asked("getUpdates"), "a poll")[0]
    kinds = json.loads(call.fields["allowed_updates"])
    assert sorted(kinds) == ["callback_query", "edited_message", "message", "my_chat_member"]
    assert "offset" not in call.fields  # the server knows what we have not confirmed
    assert town.wire.asked("deleteWebhook")[0].fields.get("drop_pending_updates", "false").lower() == "false"


def test_a_second_poller_is_waited_for(town: Town, logbook: Logbook) -> None:
    other = HTTPConnection("127.0.0.1", town.emulator.port)
    poll = json.dumps({"timeout": 50})
    other.request("POST", f"/bot{town.token}/getUpdates", poll, {"Content-Type": "application/json"})
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock):
        wait_for(lambda: [call for call in town.wire.asked("getUpdates") if call.status == 409], "the conflict")
        other.close()
        says_and_is_heard(town, "frost")


def test_a_webhook_somebody_set_is_taken_away(town: Town, echo: OpenDoor) -> None:
    says_and_is_heard(town, "before")
    hook = HTTPConnection("127.0.0.1", town.emulator.port)
    body = json.dumps({"url": "https://127.0.0.1:1/nobody"})
    hook.request("POST", f"/bot{town.token}/setWebhook", body, {"Content-Type": "application/json"})
    assert hook.getresponse().status == 200
    hook.close()
    says_and_is_heard(town, "after")


def test_an_update_the_library_cannot_parse_holds_up_nobody(town: Town, logbook: Logbook, echo: OpenDoor) -> None:
    phone = town.phone()
    without_chat_instance = {"id": "1", "from": {"id": 4711, "is_bot": False, "first_name": "Rowan"}, "data": "x"}
    town.emulator.enqueue(town.token, {"callback_query": without_chat_instance})
    message = text_update(1, "x", town)["message"]
    strange: list[dict[str, Any]] = [
        {"message": "not an object"},
        {"message": []},
        {"message": {}},
        {"message": {**message, "date": "yesterday"}},
        {"message": {**message, "chat": None}},
        {"message": {**message, "chat": {"id": "a word", "type": "private"}}},
        {"message": {**message, "chat": {"id": 2**70, "type": "private"}}},
        {"message": {**message, "from": {"id": 4711}}},
        {"message": {**message, "text": 7}},
        {"message": {**message, "reply_to_message": 7}},
        {"message": {**message, "entities": [{"type": "url"}]}},
        {"my_chat_member": {"chat": {"id": 4711}}},
        {"edited_message": None},
        {"never_heard_of": {"id": 1}},
        {},
    ]
    for update in strange:
        town.emulator.enqueue(town.token, {"edited_message": update} if "message" in update else {"message": update})
        town.emulator.enqueue(town.token, {"message": {"really": update}})
    phone.says("frost")
    wait_for(heard(town, "frost"), "the good one to be answered")
    with logbook.begin() as c:
        states = c.execute(sa.select(inbox.c.state, inbox.c.error)).all()
    assert len(states) == 2 * len(strange) + 2
    assert {state for state, _ in states} == {"done", "failed"}
    assert "chat_instance" in str(states[0].error)


@pytest.mark.parametrize(
    "fault",
    [
        Fault("getUpdates", Break.ANSWER, status=200, body=b"<html>Please log in to the hotel's network</html>"),
        Fault("getUpdates", Break.ANSWER, status=200, body=b'{"ok": true, "result": [{"update_id": 1'),
        Fault("getUpdates", Break.ANSWER, status=200, body=b"\xff\xfe"),
        Fault("getUpdates", Break.ANSWER, status=502, body=b"<html>Bad Gateway</html>"),
        given(True),
        given([1, "two", {"update_id": "three"}, {"update_id": 2**70}]),
        refusal("getUpdates", 429, "Too Many Requests: retry after 0", retry_after=0),
        Fault("getUpdates", Break.RESET_BEFORE),
    ],
    ids=["html", "cut off", "no text", "502", "no list", "no updates", "429", "reset"],
)
@pytest.mark.filterwarnings("ignore::telegram.warnings.PTBDeprecationWarning")  # the library warns itself, of its 429
def test_a_spoilt_answer_to_a_poll_is_asked_for_again(town: Town, logbook: Logbook, fault: Fault) -> None:
    town.wire.breaks(fault)
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock):
        says_and_is_heard(town, "frost")
    assert fault.times == 0


def test_a_batch_whose_answer_was_lost_comes_again_and_counts_once(town: Town, logbook: Logbook) -> None:
    for words in ("one", "two", "three"):
        town.phone().says(words)
    town.wire.breaks(Fault("getUpdates", Break.RESET_AFTER), Fault("getUpdates", Break.GARBAGE))
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock):
        wait_for(heard(town, "three"), "the answers")
    assert count(logbook) == 3
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock):
        says_and_is_heard(town, "four")
    assert count(logbook) == 4
    assert len(town.phone().screen()) == 4


def test_ids_that_begin_again_lower_after_a_quiet_week_are_read(town: Town, logbook: Logbook) -> None:
    late, early = text_update(900, "late", town), text_update(5, "early", town)
    town.wire.breaks(given([late]), given([]), given([early]))
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock):
        wait_for(heard(town, "early"), "the lower id to be answered")
    offsets = [call.fields.get("offset") for call in town.wire.asked("getUpdates")]
    assert offsets[:4] == [None, "901", None, "6"]


def test_a_start_without_network_waits_longer_and_longer_and_then_serves(
    town: Town, logbook: Logbook, caplog: pytest.LogCaptureFixture
) -> None:
    town.wire.down = True
    town.phone().says("frost")

    def tries() -> list[float]:
        return [record.args[0] for record in caplog.records if record.msg.startswith("no updates")]  # type: ignore[index,misc]

    with caplog.at_level(logging.WARNING), door_open(Echo(logbook), town.token, town.wire.address, town.clock):
        wait_for(lambda: len(tries()) >= 4, "four tries")
        town.wire.down = False
        wait_for(heard(town, "frost"), "the answer")
    assert tries()[:4] == [0.05, 0.1, 0.2, 0.2]  # twice as long each time, up to the longest


@pytest.mark.parametrize("status", [401, 404])
def test_a_wrong_token_is_a_sentence_that_does_not_hold_it(town: Town, logbook: Logbook, status: int) -> None:
    town.wire.breaks(refusal("deleteWebhook", status, "Unauthorized" if status == 401 else "Not Found", times=9))
    door = OpenDoor(Echo(logbook), town.token, town.wire.address, town.clock)
    door.thread.join(20)
    assert isinstance(door.error, TokenError)
    assert "Telegram does not know this token" in str(door.error)
    assert town.token.partition(":")[2] not in str(door.error)


class SlowWeather(Echo):
    """A conversation whose weather services do not answer."""

    def __init__(self, logbook: Logbook) -> None:
        super().__init__(logbook)
        self.asking, self.answered = threading.Event(), threading.Event()

    def tick(self, now: datetime) -> None:  # noqa: ARG002 - the door's words
        self.asking.set()
        self.answered.wait(60)


def test_weather_services_that_do_not_answer_hold_up_neither_replies_nor_the_end(town: Town, logbook: Logbook) -> None:
    conversation = SlowWeather(logbook)
    with door_open(conversation, town.token, town.wire.address, town.clock) as door:
        door.tick_without_waiting()
        assert conversation.asking.wait(10)
        says_and_is_heard(town, "frost")
        door.stop()  # neither the round under way nor the long poll ends before it must have closed
    conversation.answered.set()


class OnTheClock(OpenDoor):
    """A door that the real timetable strikes for."""

    def _timetable(self, tick: Callable[[], Awaitable[None]]) -> Any:
        return start_timetable(tick)


def test_a_round_left_behind_at_the_end_is_no_fault_in_the_log(
    town: Town, logbook: Logbook, caplog: pytest.LogCaptureFixture
) -> None:
    conversation = SlowWeather(logbook)
    door = OnTheClock(conversation, town.token, town.wire.address, town.clock)
    assert conversation.asking.wait(10)
    door.stop()
    conversation.answered.set()
    assert [record.message for record in caplog.records if record.levelno >= logging.ERROR] == []


def test_a_logbook_locked_for_a_while_loses_nothing(town: Town, tmp_path: Path) -> None:
    path = tmp_path / "larkmoor.logbook"
    impatient = open_logbook(path, wait_s=0.05)
    other = open_logbook(path)
    with door_open(Echo(impatient), town.token, town.wire.address, town.clock):
        says_and_is_heard(town, "before")
        with other.begin():  # another program writes, and takes its time
            asked = len(town.wire.asked("getUpdates"))
            town.phone().says("meanwhile")
            wait_for(lambda: len(town.wire.asked("getUpdates")) > asked + 1, "the door to ask again")
        wait_for(heard(town, "meanwhile"), "the answer once it is free")
    assert count(other) == 2
    impatient.close()
    other.close()


def test_a_door_opened_while_the_logbook_is_out_of_reach_waits_for_it(
    town: Town, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """As when the database server is gone just as another program takes over."""
    path = tmp_path / "larkmoor.logbook"
    impatient, other = open_logbook(path, wait_s=0.05), open_logbook(path)
    with contextlib.ExitStack() as writing:
        writing.enter_context(other.begin())
        with door_open(Echo(impatient), town.token, town.wire.address, town.clock):
            wait_for(lambda: "what must be noted waits" in caplog.text, "the door to find the logbook locked")
            writing.close()
            says_and_is_heard(town, "after")
    impatient.close()
    other.close()


def test_while_the_disk_is_full_nothing_said_is_confirmed_and_all_of_it_comes_again(
    town: Town, logbook: Logbook
) -> None:
    full = threading.Event()

    @sa.event.listens_for(logbook._database, "begin")
    def limit(c: sa.Connection) -> None:  # SQLite's own way to SQLITE_FULL, on each of the connections
        c.exec_driver_sql(f"PRAGMA max_page_count={1 if full.is_set() else 1_000_000}")

    with door_open(Echo(logbook), town.token, town.wire.address, town.clock):
        says_and_is_heard(town, "before")
        full.set()
        asked = len(town.wire.asked("getUpdates"))
        for number in range(40):  # more than fits on the pages that are there
            town.phone().says(f"meanwhile {number} " + "x" * 900)
        wait_for(lambda: len(town.wire.asked("getUpdates")) > asked + 2, "the door to ask again")
        assert count(logbook) < 41
        full.clear()
        says_and_is_heard(town, "after")
    assert count(logbook) == 42
