"""Turns: every garden comes round, those of a cell go together, and a call is heard at any time."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.logbook import Logbook, open_logbook
from bot.logbook.programs.turns import ask_for_round, cells_due, end_turn, enrol, gardens_due

NOW = datetime(2026, 11, 25, 16, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


@pytest.fixture
def logbook(place: Path | str) -> Iterator[Logbook]:
    opened = open_logbook(place)
    with opened.begin() as c:
        enrol(c, {"Larkmoor": "valley", "Heron Yard": "valley", "Wren Corner": "ridge"}, NOW)
    yield opened
    opened.close()


def due(logbook: Logbook, cell: str, at: datetime) -> dict[str, datetime]:
    with logbook.begin() as c:
        return gardens_due(c, cell, at)


def end(logbook: Logbook, cell: str, at: datetime, next_utc: datetime) -> None:
    with logbook.begin() as c:
        for garden, since_utc in gardens_due(c, cell, at).items():
            end_turn(c, garden, since_utc, next_utc)


def cells(logbook: Logbook, at: datetime, limit: int | None = None, but: tuple[str, ...] = ()) -> list[str]:
    with logbook.begin() as c:
        return cells_due(c, at, limit, but)


def test_the_gardens_of_a_cell_are_due_together_and_a_cell_that_is_under_way_waits(logbook: Logbook) -> None:
    assert list(due(logbook, "valley", NOW)) == ["Heron Yard", "Larkmoor"]
    assert cells(logbook, NOW) == ["ridge", "valley"]
    assert cells(logbook, NOW, 1) == ["ridge"]
    assert cells(logbook, NOW, but=("ridge",)) == ["valley"]


def test_who_waits_longest_comes_first_and_who_is_not_due_does_not(logbook: Logbook) -> None:
    end(logbook, "ridge", NOW, NOW + 5 * MINUTE)
    end(logbook, "valley", NOW, NOW + 3 * MINUTE)
    assert cells(logbook, NOW + 2 * MINUTE) == []
    assert cells(logbook, NOW + 5 * MINUTE) == ["valley", "ridge"]


def test_a_garden_called_during_its_turn_comes_again_at_once(logbook: Logbook) -> None:
    seen = due(logbook, "ridge", NOW)
    with logbook.begin() as c:
        ask_for_round(c, "Wren Corner", NOW + MINUTE)
        end_turn(c, "Wren Corner", seen["Wren Corner"], NOW + 5 * MINUTE)
    assert list(due(logbook, "ridge", NOW + MINUTE)) == ["Wren Corner"]
    end(logbook, "ridge", NOW + MINUTE, NOW + 5 * MINUTE)
    assert not due(logbook, "ridge", NOW + 2 * MINUTE)
    with logbook.begin() as c:
        ask_for_round(c, "Wren Corner", NOW + 2 * MINUTE)
    assert "ridge" in cells(logbook, NOW + 2 * MINUTE)


def test_a_garden_taken_off_the_list_has_no_turn_and_the_others_keep_theirs(logbook: Logbook) -> None:
    end(logbook, "valley", NOW, NOW + 5 * MINUTE)
    with logbook.begin() as c:
        enrol(c, {"Larkmoor": "valley", "Wren Corner": "ridge"}, NOW + MINUTE)
    assert due(logbook, "ridge", NOW + MINUTE) == {"Wren Corner": NOW}  # never looked at
    assert not due(logbook, "valley", NOW + MINUTE)
    assert list(due(logbook, "valley", NOW + 5 * MINUTE)) == ["Larkmoor"]


def test_after_the_clock_was_set_back_a_day_gardens_do_not_wait_for_tomorrow(logbook: Logbook) -> None:
    tomorrow = NOW + timedelta(days=1)
    end(logbook, "ridge", tomorrow, tomorrow + 5 * MINUTE)
    assert "ridge" in cells(logbook, NOW)
    assert list(due(logbook, "ridge", NOW)) == ["Wren Corner"]
