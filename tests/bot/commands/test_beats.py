"""Beats of the rounds that fail: told once, survived, and missed by the watchdog."""

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from bot.commands.opening import warn_of_strangers
from bot.commands.serving.watchdog import Watched
from bot.logbook import Logbook, LogbookClosedError, note_person, open_logbook
from bot.upkeep.watchdog import Watchdog

NOON = datetime(2026, 12, 2, 19, tzinfo=UTC)


class Failing:
    """A conversation whose beats fail as they are told to."""

    def __init__(self, logbook: Logbook) -> None:
        self.logbook = logbook
        self.fault: Exception | None = None

    def take_pending(self, read: Any, now: Any, door: Any = None) -> None:
        """Nothing comes in."""

    def tick(self, _: datetime) -> None:
        if self.fault is not None:
            raise self.fault


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    with closing(open_logbook(tmp_path / "larkmoor.logbook")) as opened:
        yield opened


def test_a_fault_in_beat_after_beat_is_told_once_and_ends_nothing(
    logbook: Logbook, caplog: pytest.LogCaptureFixture
) -> None:
    rounds = Failing(logbook)
    ticked: list[int] = []
    dog = Watchdog(logbook, lambda: NOON)
    dog.ticked = lambda: ticked.append(1)  # type: ignore[method-assign]  # only counted
    watched = Watched(rounds, dog)
    for fault in (KeyError("at"), KeyError("at"), None, KeyError("at"), ValueError("x")):
        rounds.fault = fault
        watched.tick(NOON)
    assert caplog.text.count("the round failed: KeyError") == 2  # the second after it had gone well again
    assert caplog.text.count("the round failed: ValueError") == 1
    assert len(ticked) == 1


def test_a_round_that_the_end_of_the_program_leaves_behind_is_no_fault(
    logbook: Logbook, caplog: pytest.LogCaptureFixture
) -> None:
    rounds = Failing(logbook)
    rounds.fault = LogbookClosedError("closed")
    Watched(rounds, Watchdog(logbook, lambda: NOON)).tick(NOON)
    assert "the round failed" not in caplog.text


def test_a_logbook_that_knows_nobody_is_spoken_of_at_the_start(
    logbook: Logbook, caplog: pytest.LogCaptureFixture
) -> None:
    warn_of_strangers(logbook, ["Larkmoor"])
    assert "nobody is let in" in caplog.text
    assert "newest backup" in caplog.text
    caplog.clear()
    with logbook.begin() as c:
        note_person(c, "Larkmoor", 11, "Rowan", "owner")
    warn_of_strangers(logbook, ["Larkmoor", "Heron Yard"])
    assert caplog.text == ""
