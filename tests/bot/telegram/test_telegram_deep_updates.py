"""Any update is survived: what is nested thousands deep is put aside with a note, confirmed, and holds up nobody."""

import json
from http.client import HTTPConnection
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from bot.logbook import Logbook
from bot.logbook.database.tables import inbox
from bot.telegram_chat.shallow import DEEPEST, is_deep, read_shallow
from bot.telegram_chat.webhook import SECRET_HEADER, UpdateServer
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import OpenDoor, wait_for
from tests.bot.telegram.proxy import Break, Fault

NESTED = {"list": "[" * 3000 + '"]\\""' + "]" * 3000, "object": '{"a":' * 3000 + '"}"' + "}" * 3000}


def message(town: Town) -> str:
    said = {
        "message_id": 1,
        "date": int(town.clock().timestamp()),
        "chat": {"id": 4711, "type": "private"},
        "from": {"id": 4711, "is_bot": False, "first_name": "Rowan"},
        "text": "closed porch",
    }
    return json.dumps(said)[:-1]


@pytest.mark.parametrize("nested", NESTED.values(), ids=NESTED)
def test_an_update_nested_3000_deep_is_put_aside_and_the_one_beside_it_is_answered(
    town: Town, logbook: Logbook, echo: OpenDoor, nested: str
) -> None:
    deep = f'{{"update_id": 900000, "message": {message(town)}, "x": {nested}}}}}'
    fine = f'{{"update_id": 900001, "message": {message(town)}}}}}'
    body = f'{{"ok": true, "result": [{deep}, {fine}]}}'.encode()
    town.wire.breaks(Fault("getUpdates", Break.ANSWER, status=200, body=body))
    town.phone().says("frost")  # ends the poll that is under way
    wait_for(lambda: town.phone().reads("heard text: closed porch"), "the update beside it to be answered")
    with logbook.begin() as c:
        row = c.execute(sa.select(inbox).where(inbox.c.update_id == 900000)).one()
    assert (row.state, row.error, row.chat_id) == ("failed", "it is nested too deep to be read", 4711)
    wait_for(
        lambda: "900002" in [call.fields.get("offset") for call in town.wire.asked("getUpdates")],
        "both to be confirmed",
    )
    town.phone().says("thaw")
    wait_for(lambda: town.phone().reads("heard text: thaw"), "the door to go on")


def test_one_that_is_brought_to_the_webhook_is_taken_so_that_it_does_not_come_again(logbook: Logbook) -> None:
    kept: list[dict[str, Any]] = []
    server = UpdateServer(0, "s" * 43, kept.append)
    server.start()
    connection = HTTPConnection("127.0.0.1", server.port, timeout=5)
    body = f'{{"update_id": 7, "message": {NESTED["list"]}}}'
    connection.request("POST", "/", body, {SECRET_HEADER: "s" * 43})
    assert connection.getresponse().status == 200
    server.stop()
    assert [(update["update_id"], is_deep(update)) for update in kept] == [(7, True)]


values = st.recursive(st.none() | st.booleans() | st.integers(-9, 9) | st.text(), lambda one: st.lists(one, max_size=3))


@given(st.dictionaries(st.text(), values))
def test_what_is_not_deep_is_read_as_it_is(value: dict[str, Any]) -> None:
    assert read_shallow(json.dumps(value)) == value
    deep = json.dumps([value, value])[:-1] + f", {NESTED['object']}, 1]"
    first, second, cut, after = read_shallow(deep)
    assert (first, second, after) == (value, value, 1)
    for _ in range(DEEPEST - 1):
        cut = cut["a"]
    assert cut is None


@pytest.mark.parametrize("text", ["", "[", "[" * 5000, '"' * 3, '{"a":' * 5000, "nonsense"])
def test_what_is_no_json_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        read_shallow(text)


def test_a_number_of_thousands_of_figures_is_no_number() -> None:
    assert read_shallow(f'{{"update_id": {"9" * 5000}, "x": 12}}') == {"update_id": None, "x": 12}
