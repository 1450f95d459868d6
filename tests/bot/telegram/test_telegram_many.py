"""Many gardens, one bot, several real programs on one PostgreSQL database: who leads, who takes over, what is lost."""

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa

from bot.logbook import Logbook, last_round, note_person, open_logbook
from bot.logbook.database.tables import outbox
from tests.bot.invented_gardens import write_garden_file
from tests.bot.preloaded import Program
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import DEADLINE_S, wait_for
from tests.bot.telegram.programs import serving_many

TREES = {"Larkmoor": "Porch fig", "Heron Yard": "Gate fig"}
CHATS = {"Larkmoor": 4711, "Heron Yard": 4712}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, tree in TREES.items():
        write_garden_file(tmp_path, name, tree, datetime.now(UTC))
    (tmp_path / "broken.toml").write_text("name = 7", encoding="utf-8")
    return tmp_path


@pytest.fixture
def shared(new_database: Callable[[], str]) -> Iterator[tuple[str, Logbook]]:
    url = new_database()
    logbook = open_logbook(url)
    with logbook.begin() as c:
        for name, chat in CHATS.items():
            note_person(c, name, chat, "Rowan", "owner")
    yield url, logbook
    logbook.close()


def program(folder: Path, url: str, town: Town, *more: str) -> AbstractContextManager[Program]:
    return serving_many(folder, url, town.token, town.wire.address, *more)


def replies(town: Town, chat: int) -> str:
    return "\n".join(call.fields.get("text", "") for call in town.wire.accepted("sendMessage", chat_id=chat))


@pytest.mark.processes
def test_two_programs_serve_both_gardens_and_one_takes_over_from_the_other(
    town: Town, folder: Path, shared: tuple[str, Logbook]
) -> None:
    url, logbook = shared
    with program(folder, url, town) as first, program(folder, url, town) as second:
        for name, chat in CHATS.items():
            asks_for_trees(town, name, chat)
        leader = first if leads(folder / "program-0.log") else second
        leader.send_signal(signal.SIGKILL)
        leader.wait()
        for name, chat in CHATS.items():
            asks_for_trees(town, name, chat)
        wait_for(lambda: not waits(logbook), "an empty outbox")
        survivor = second if leader is first else first
        survivor.send_signal(signal.SIGTERM)
        assert survivor.wait(timeout=DEADLINE_S) == 0  # an orderly end
    assert "Gate" not in replies(town, CHATS["Larkmoor"])
    assert "Porch" not in replies(town, CHATS["Heron Yard"])
    with logbook.begin() as c:
        assert all(last_round(c, name) is not None for name in TREES)
    assert not waits(logbook)
    assert "broken.toml is left out" in (folder / "program-0.log").read_text()


@pytest.mark.processes
def test_the_queue_never_stumbles_and_the_program_ends_in_order(
    town: Town, folder: Path, shared: tuple[str, Logbook]
) -> None:
    url, logbook = shared

    def all_looked_at() -> bool:
        with logbook.begin() as c:
            return all(last_round(c, name) is not None for name in TREES)

    with program(folder, url, town, "--rounds-only") as worker, program(folder, url, town) as door:
        wait_for(all_looked_at, "a round in both gardens")
        asks_for_trees(town, "Larkmoor", CHATS["Larkmoor"])
        logs = [folder / f"program-{i}.log" for i in range(2)]
        wait_for(lambda: all("ready" in log.read_text() for log in logs), "both programs ready to be stopped")
        for one in (worker, door):
            one.send_signal(signal.SIGTERM)
        assert (worker.wait(timeout=DEADLINE_S), door.wait(timeout=DEADLINE_S)) == (0, 0)
    log = (folder / "program-0.log").read_text()
    assert "queue" not in log  # it never stumbled
    assert "cell" not in log  # nor told where anybody's garden is


def asks_for_trees(town: Town, name: str, chat: int) -> None:
    """Ask, and wait for the answer, not for a nudge: that names the tree too, and may come first."""
    answer = f"1. {TREES[name]}:"
    before = replies(town, chat).count(answer)
    town.phone(chat_id=chat).says("trees")
    wait_for(lambda: replies(town, chat).count(answer) > before, f"an answer in {name}")


def waits(logbook: Logbook) -> bool:
    """Whether anything due is still to be sent; what a round holds till later may stay."""
    with logbook.begin() as c:
        waiting = outbox.c.state.in_(["queued", "sending"]) & (outbox.c.due_utc <= datetime.now(UTC))
        return bool(c.scalar(sa.select(sa.func.count()).where(waiting)))


def leads(log: Path) -> bool:
    return "leading: this program" in log.read_text()


@pytest.mark.processes
def test_a_program_without_a_shared_logbook_says_what_it_needs(tmp_path: Path) -> None:
    write_garden_file(tmp_path, "Larkmoor", "Porch fig", datetime.now(UTC))
    mine = {"BEDSTRAW_TOKEN": "12345678:AAinvented_for_this_test_only", "BEDSTRAW_LOGBOOK": str(tmp_path / "a.logbook")}
    assert Program(["serve-many", str(tmp_path)], os.environ | mine, tmp_path / "log").wait() == 2
    assert "BEDSTRAW_LOGBOOK to an address like postgresql" in (tmp_path / "log").read_text()
