"""Whatever comes in an answer of the messenger is refused, put aside or answered, and soon; more by a benchmark."""

import json
from pathlib import Path
from typing import Any

import pytest

from bot.replies import is_button
from bot.telegram_chat import read_update
from tests.bot.telegram.spoilt_updates import TAPS, SpoiltUpdates

PROMISED_S = 2.0  # of one core, an update; 20,000 are run by tests/benchmarks/mutated_updates.py


def test_of_spoilt_updates_none_is_unhandled_and_none_takes_longer_than_promised(tmp_path: Path) -> None:
    spoilt = SpoiltUpdates(tmp_path, seed=1)
    try:
        assert spoilt.run(120) == []
    finally:
        spoilt.logbook.close()
    assert spoilt.slowest_s < PROMISED_S
    assert spoilt.kept > 60  # they came through to be read
    assert spoilt.sent > 10  # and some to be answered


def tap(**other: Any) -> dict[str, Any]:
    person = {"id": 11, "is_bot": False, "first_name": "Rowan"}
    message = {"message_id": 3, "date": 1764345600, "chat": {"id": 11, "type": "private"}, "from": person}
    return {"id": "1", "from": person, "message": message, "chat_instance": "1", "data": "closed:n1:0", **other}


@pytest.mark.parametrize(
    "other",
    [
        {"data": {"a": 1}},
        {"id": 7},
        {"from": {"id": [], "is_bot": False, "first_name": "Rowan"}},
        {"from": {"id": 2**63, "is_bot": False, "first_name": "Rowan"}},
        {"from": {"id": 11, "is_bot": False, "first_name": [["Rowan"]]}},
        {"message": {**tap()["message"], "message_id": [3]}},
        {"message": {**tap()["message"], "chat": {"id": "11", "type": "private"}}},
    ],
)
def test_a_tap_with_a_part_of_another_kind_is_not_read(other: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="of another kind"):
        read_update(json.dumps({"update_id": 1, "callback_query": tap(**other)}))


@pytest.mark.parametrize("place", [{"latitude": "x", "longitude": 1}, {"latitude": float("nan"), "longitude": 1}])
def test_a_pin_that_is_no_place_is_not_read(place: dict[str, Any]) -> None:
    said = {**tap()["message"], "location": place}
    with pytest.raises(ValueError, match="of another kind"):
        read_update(json.dumps({"update_id": 1, "message": said}))


def test_of_a_name_as_long_as_a_page_the_beginning_is_kept() -> None:
    person = {"id": 11, "is_bot": False, "first_name": "Ro" * 5000}
    heard = read_update(json.dumps({"update_id": 1, "callback_query": tap(**{"from": person})}))
    assert heard is not None
    assert heard.person == "Ro" * 32


def test_the_numbers_of_a_button_are_short_and_of_the_ten_figures() -> None:
    sound = {"yes:c1:0", "undo:u1:0", "job:j1:0", "why:n1:0", "closed:n1:0"}
    assert {data for data in TAPS if is_button(data)} == sound
    assert is_button("not_done:n1764345600000000:2")  # the terminal counts microseconds
