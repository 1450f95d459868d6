"""Turns: every garden comes round, those of a cell go together, and a call is heard at any time."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.logbook import Logbook, open_logbook
from bot.logbook.programs.turns import (
    HEAD_START,
    LEFT_LONG,
    ask_for_round,
    cells_due,
    cells_for,
    end_turn,
    enrol,
    gardens_due,
)

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


def end(logbook: Logbook, cell: str, at: datetime, next_utc: datetime, program: str | None = None) -> None:
    with logbook.begin() as c:
        for garden, since_utc in gardens_due(c, cell, at).items():
            end_turn(c, garden, since_utc, next_utc, program)


def cells(logbook: Logbook, at: datetime) -> list[str]:
    with logbook.begin() as c:
        return cells_due(c, at)


def handed(
    logbook: Logbook, program: str, at: datetime, limit: int = 9, but: tuple[str, ...] = ()
) -> list[tuple[str, bool]]:  # fmt: skip
    with logbook.begin() as c:
        return list(cells_for(c, program, at, limit, but).items())


def test_the_gardens_of_a_cell_are_due_together_and_a_cell_that_is_under_way_waits(logbook: Logbook) -> None:
    assert list(due(logbook, "valley", NOW)) == ["Heron Yard", "Larkmoor"]
    assert cells(logbook, NOW) == ["ridge", "valley"]
    assert handed(logbook, "a", NOW) == [("ridge", False), ("valley", False)]
    assert handed(logbook, "a", NOW, 1) == [("ridge", False)]
    assert handed(logbook, "a", NOW, but=("ridge",)) == [("valley", False)]


def test_a_cell_stays_with_the_program_that_has_its_outlook_unless_that_lets_it_wait(logbook: Logbook) -> None:
    end(logbook, "valley", NOW, NOW + MINUTE, "a")
    end(logbook, "ridge", NOW, NOW + 2 * MINUTE, "b")
    soon = NOW + 2 * MINUTE
    assert handed(logbook, "b", soon - HEAD_START / 2) == [("valley", False)]  # "a" did not take it in time
    assert handed(logbook, "a", soon) == [("valley", True)]
    assert handed(logbook, "b", soon) == [("ridge", True), ("valley", False)]  # its own first, though due later
    assert cells(logbook, soon) == ["valley", "ridge"]  # where no queue hands them out, all is anybody's


def test_what_a_dead_program_kept_is_not_put_behind_another_s_own_for_ever(logbook: Logbook) -> None:
    end(logbook, "valley", NOW, NOW + MINUTE, "dead")
    end(logbook, "ridge", NOW, NOW + 2 * MINUTE, "busy")
    long = NOW + MINUTE + LEFT_LONG
    assert handed(logbook, "busy", long - MINUTE / 2) == [("ridge", True), ("valley", False)]
    assert handed(logbook, "busy", long) == [("valley", False), ("ridge", True)]


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
