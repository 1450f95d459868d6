"""One of many programs leads, and another where it ends."""

from collections.abc import Callable
from pathlib import Path

from bot.logbook import open_logbook
from bot.logbook.programs.leader_lock import Leadership


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
