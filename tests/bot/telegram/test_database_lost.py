"""The database server is killed under a program that serves many gardens, and comes back: no restart, nothing lost."""

import os
import signal
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa

from bot.logbook import note_person, open_logbook
from bot.logbook.database.tables import outbox
from tests.bot.invented_gardens import write_garden_file
from tests.bot.postgres_server import running_server
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import DEADLINE_S, wait_for
from tests.bot.telegram.test_telegram_many import asks_for_trees, program, replies

NAME, CHAT = "Larkmoor", 4711
ANSWER = "1. Porch fig:"  # to "trees"; a nudge names the tree too


@pytest.mark.processes
def test_a_program_outlives_the_death_of_its_database_server(town: Town, tmp_path: Path) -> None:
    write_garden_file(tmp_path, NAME, "Porch fig", datetime.now(UTC))
    with running_server() as server:
        server.run("CREATE DATABASE shared")
        url = server.url("shared")
        with closing(open_logbook(url)) as logbook, logbook.begin() as c:
            note_person(c, NAME, CHAT, "Rowan", "owner")
        with program(tmp_path, url, town) as one:
            asks_for_trees(town, NAME, CHAT)
            log = tmp_path / "program-0.log"
            told_before = len(log.read_text())

            def told() -> str:
                return log.read_text()[told_before:]

            os.killpg(server.process.pid, signal.SIGKILL)  # as by the kernel short of memory
            server.process.wait()
            before = replies(town, CHAT).count(ANSWER)
            town.phone(chat_id=CHAT).says("trees")
            wait_for(lambda: any(f"level={trouble}" in told() for trouble in ("error", "warning")), "trouble told")
            server.restart()
            wait_for(lambda: replies(town, CHAT).count(ANSWER) > before, "the answer after the outage")
            assert one.poll() is None
            one.send_signal(signal.SIGTERM)
            assert one.wait(timeout=DEADLINE_S) == 0
        with closing(open_logbook(url)) as logbook, logbook.begin() as c:
            keys = list(c.scalars(sa.select(outbox.c.key).where(outbox.c.key.startswith("reply:"))))
    assert len(keys) == len(set(keys)) == 2
