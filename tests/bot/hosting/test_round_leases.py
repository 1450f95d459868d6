"""Turns: every garden comes round, cells go together, and no two workers hold the same one."""

import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.logbook import Logbook, open_logbook
from bot.logbook.programs.leader_lock import Leadership
from bot.logbook.programs.round_leases import ask_for_round, cells_due, end_lease, enrol, lease_cell, oldest_due_utc

NOW = datetime(2026, 11, 25, 16, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
LEASE = 10 * MINUTE


@pytest.fixture
def logbook(place: Path | str) -> Iterator[Logbook]:
    opened = open_logbook(place)
    with opened.begin() as c:
        enrol(c, {"Larkmoor": "valley", "Heron Yard": "valley", "Wren Corner": "ridge"}, NOW)
    yield opened
    opened.close()


def claimed(logbook: Logbook, who: str, at: datetime, cell: str | None = None) -> tuple[str, list[str]] | None:
    with logbook.begin() as c:
        return lease_cell(c, who, at, LEASE, cell)


def end(logbook: Logbook, garden: str, who: str, due: datetime) -> bool:
    with logbook.begin() as c:
        return end_lease(c, garden, who, due)


def test_the_gardens_of_a_cell_are_claimed_together_and_by_one(logbook: Logbook) -> None:
    assert claimed(logbook, "a", NOW) == ("valley", ["Heron Yard", "Larkmoor"])
    assert claimed(logbook, "b", NOW) == ("ridge", ["Wren Corner"])
    assert claimed(logbook, "c", NOW) is None


def test_a_cell_with_a_garden_under_way_waits(logbook: Logbook) -> None:
    assert claimed(logbook, "a", NOW, "valley") is not None
    assert end(logbook, "Heron Yard", "a", NOW)  # due again at once, while its neighbour is still looked at
    assert claimed(logbook, "b", NOW, "valley") is None
    assert end(logbook, "Larkmoor", "a", NOW + MINUTE)
    assert claimed(logbook, "b", NOW, "valley") == ("valley", ["Heron Yard"])


def test_who_loses_a_cell_to_another_worker_takes_the_next(new_database: Callable[[], str]) -> None:
    logbook = open_logbook(new_database())
    with logbook.begin() as c:
        enrol(c, {"Larkmoor": "valley", "Heron Yard": "valley", "Wren Corner": "ridge"}, NOW)
    with logbook.begin() as c:
        # what another worker holds between its look and its lease
        c.exec_driver_sql("SELECT pg_advisory_xact_lock(hashtextextended('cell:valley', 0))")
        assert claimed(logbook, "b", NOW) == ("ridge", ["Wren Corner"])
        assert claimed(logbook, "c", NOW) is None
    logbook.close()


def test_the_turns_of_a_dead_worker_come_back_when_its_lease_ends(logbook: Logbook) -> None:
    claimed(logbook, "dead", NOW, "ridge")
    assert claimed(logbook, "b", NOW + LEASE - MINUTE, "ridge") is None
    assert claimed(logbook, "b", NOW + LEASE, "ridge") == ("ridge", ["Wren Corner"])
    assert not end(logbook, "Wren Corner", "dead", NOW)  # what was dead no longer has a say


def test_a_garden_called_during_its_turn_comes_again_at_once(logbook: Logbook) -> None:
    claimed(logbook, "a", NOW, "ridge")
    with logbook.begin() as c:
        ask_for_round(c, "Wren Corner", NOW + MINUTE)
    end(logbook, "Wren Corner", "a", NOW + 5 * MINUTE)
    assert claimed(logbook, "a", NOW + MINUTE, "ridge") is not None
    end(logbook, "Wren Corner", "a", NOW + 5 * MINUTE)
    assert claimed(logbook, "a", NOW + 2 * MINUTE, "ridge") is None
    with logbook.begin() as c:
        ask_for_round(c, "Wren Corner", NOW + 2 * MINUTE)
        assert "ridge" in cells_due(c, NOW + 2 * MINUTE)


def test_a_garden_taken_off_the_list_has_no_turn_and_the_others_keep_theirs(logbook: Logbook) -> None:
    claimed(logbook, "a", NOW, "valley")
    for garden in ("Heron Yard", "Larkmoor"):
        end(logbook, garden, "a", NOW + 5 * MINUTE)
    with logbook.begin() as c:
        enrol(c, {"Larkmoor": "valley", "Wren Corner": "ridge"}, NOW + MINUTE)
        assert oldest_due_utc(c) == NOW  # the ridge, never looked at
    assert claimed(logbook, "a", NOW + 5 * MINUTE, "valley") == ("valley", ["Larkmoor"])


def test_after_the_clock_was_set_back_a_day_gardens_do_not_wait_for_tomorrow(logbook: Logbook) -> None:
    tomorrow = NOW + timedelta(days=1)
    claimed(logbook, "a", tomorrow, "valley")  # under way when the clock is set back
    claimed(logbook, "a", tomorrow, "ridge")
    end(logbook, "Wren Corner", "a", tomorrow + 5 * MINUTE)
    assert claimed(logbook, "b", NOW, "ridge") is not None
    assert claimed(logbook, "b", NOW, "valley") is not None


def test_six_workers_at_once_claim_each_cell_once(place: Path | str) -> None:
    logbook = open_logbook(place)
    with logbook.begin() as c:
        enrol(c, {f"Garden {n}": f"cell {n % 20}" for n in range(60)}, NOW)
    got: list[tuple[str, list[str]]] = []

    def work(who: str) -> None:
        missed = 0
        while missed < 5:
            turn = claimed(logbook, who, NOW)
            missed = 0 if turn else missed + 1
            if turn:
                got.append(turn)

    workers = [threading.Thread(target=work, args=(f"w{n}",)) for n in range(6)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    logbook.close()
    assert sorted(cell for cell, _ in got) == sorted(f"cell {n}" for n in range(20))
    assert sorted(name for _, names in got for name in names) == sorted(f"Garden {n}" for n in range(60))


def test_one_leads_and_another_takes_over_when_its_session_ends(place: Path | str) -> None:
    one, two = open_logbook(place), open_logbook(place)
    first, second = Leadership(one, "poller:1"), Leadership(two, "poller:1")
    other_bot = Leadership(two, "poller:2")
    assert first.holds()
    assert second.holds() is not one.is_server  # on SQLite the messenger is the fence
    assert first.holds()
    assert other_bot.holds()
    first.let_go()
    one.close()
    assert second.holds()
    for leadership in (second, other_bot):
        leadership.let_go()
    two.close()


def test_a_leader_whose_session_is_cut_off_knows_it(new_database: Callable[[], str]) -> None:
    logbook = open_logbook(new_database())
    leadership = Leadership(logbook, "poller:1")
    assert leadership.holds()
    with logbook.begin() as c:
        c.exec_driver_sql(
            "SELECT pg_terminate_backend(pid) FROM pg_locks WHERE locktype = 'advisory' AND pid <> pg_backend_pid()"
        )
    assert not leadership.holds()
    assert leadership.holds()  # nobody else took it
    leadership.let_go()
    logbook.close()
