"""The recovery drill: backup, destroy, restore, with the README's own lines run as they stand there."""

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.logbook import Logbook, list_people, note_person, note_state, open_logbook, read_records, read_state
from bot.wording.people.talk import _HELP
from rules.garden.records import DeedKind
from tests.bot.invented_gardens import write_garden_file
from tests.bot.postgres_server import Server, server_programs
from tests.bot.preloaded import Program
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import wait_for

ROOT = Path(__file__).parents[3]
NAME, CHAT = "My garden", 4711


def lines_after(title: str) -> str:
    """The first block of commands below a title of the README."""
    below = (ROOT / "README.md").read_text(encoding="utf-8").partition(title)[2]
    found = re.search(r"```sh\n(.*?)```", below, re.DOTALL)
    assert found is not None
    return found[1]


class Machine:
    """A computer with the README's commands: the garden's folder, a place for backups, and systemd in short."""

    def __init__(self, folder: Path, town: Town) -> None:
        self.home, self.backups, commands = folder / "garden", folder / "backup", folder / "bin"
        for one in (self.home, self.backups, commands):
            one.mkdir()
        self.file = write_garden_file(self.home, NAME, "Porch fig", datetime.now(UTC))
        self.logbook = self.file.with_suffix(".logbook")
        self._asked = folder / "systemctl.asked"
        script(commands / "bedstraw", f'exec {sys.executable} -m bot "$@"')
        script(commands / "systemctl", f'echo "$@" >> {self._asked}')
        script(commands / "install", 'shift 4; exec /usr/bin/install "$@"')  # without -o bedstraw -g bedstraw
        ours = {"BEDSTRAW_TOKEN": town.token, "BEDSTRAW_TELEGRAM_ADDRESS": town.wire.address, "PYTHONPATH": str(ROOT)}
        self._environment = {**os.environ, **ours, "PATH": f"{commands}:{os.environ['PATH']}"}

    def runs(self, lines: str) -> str:
        """What the lines print; each of them must succeed."""
        told = lines.replace("/var/backups/bedstraw/", f"{self.backups}/").replace("/var/lib/bedstraw", str(self.home))
        done = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", told], cwd=self.home, env=self._environment, text=True, check=True,
            stdout=subprocess.PIPE,
        )  # fmt: skip
        return done.stdout

    def asked_of_systemd(self) -> list[str]:
        return self._asked.read_text().splitlines()

    @contextmanager
    def serving(self) -> Iterator[Program]:
        process = Program(["serve", str(self.file)], self._environment, self.home / "log", self.home)
        try:
            yield process
        finally:
            process.kill()
            process.wait()


def script(path: Path, line: str) -> None:
    path.write_text(f"#!/bin/sh\n{line}\n")
    path.chmod(0o755)


@pytest.mark.processes
def test_a_garden_comes_back_by_the_readme_s_lines_with_all_that_was_backed_up(town: Town, tmp_path: Path) -> None:
    machine, phone = Machine(tmp_path, town), town.phone(chat_id=CHAT)
    with closing(open_logbook(machine.logbook)) as logbook, logbook.begin() as c:
        note_person(c, NAME, CHAT, "Rowan", "owner")

    def says(words: str, heard: str) -> None:
        before = len(phone.reads(heard))
        phone.says(words)
        wait_for(lambda: len(phone.reads(heard)) > before, f"an answer to {words}")
        # until then the messenger keeps it, and tells it again to whoever asks after a crash
        confirmed = str(town.emulator.newest[town.token] + 1)
        wait_for(
            lambda: any(call.fields.get("offset") == confirmed for call in town.wire.asked("getUpdates")),
            f"the word that {words} need not be kept any more",
        )

    with machine.serving() as bot:
        says("wrapped porch", "Noted")
        machine.runs(lines_after("**Back up**"))
        says("stripped porch", "Noted")
        bot.send_signal(signal.SIGKILL)  # the disk died, and the machine with it
    machine.logbook.write_bytes(b"\x5a" * 8192)
    phone.says("help")  # kept by the messenger meanwhile
    told = machine.runs(lines_after("**Restore**"))
    assert machine.asked_of_systemd() == ["stop bedstraw", "start bedstraw"]
    assert "damaged" not in told
    with machine.serving():
        wait_for(lambda: phone.reads(_HELP[:21]), "the answer to what was asked meanwhile")
        says("closed porch", "Noted")
    with closing(open_logbook(machine.logbook)) as logbook:
        assert kinds(logbook) == [DeedKind.WRAPPED, DeedKind.CLOSED]  # all that was backed up, and what came since
        with logbook.begin() as c:
            assert [person.name for person in list_people(c, NAME)] == ["Rowan"]
    assert machine.logbook.stat().st_mode & 0o777 == 0o600


def kinds(logbook: Logbook) -> list[DeedKind]:
    with logbook.begin() as c:
        return [deed.kind for deed in read_records(c, NAME).deeds]


def test_a_database_server_s_logbook_comes_back_from_its_dump(postgres: Server, tmp_path: Path) -> None:
    programs = server_programs()
    if not (programs / "pg_dump").exists():
        pytest.skip("this PostgreSQL comes without pg_dump")
    postgres.run("CREATE DATABASE bedstraw TEMPLATE migrated")
    with closing(open_logbook(postgres.url("bedstraw"))) as logbook, logbook.begin() as c:
        note_state(c, NAME, "before", '"kept"')
    postgres.run("CREATE ROLE bedstraw LOGIN")
    commands = tmp_path / "bin"
    commands.mkdir()
    script(commands / "runuser", 'shift 3; exec "$@"')  # -u postgres --: here it is by PGUSER
    for one in ("systemctl", "bedstraw"):
        script(commands / one, f'echo {one} "$@" >> {tmp_path}/asked')
    environment = {
        **os.environ,
        "PGHOST": str(postgres.home),
        "PGUSER": "postgres",
        "PATH": f"{commands}:{programs}:{os.environ['PATH']}",
    }

    def runs(lines: str) -> None:
        told = lines.replace("/var/backups/bedstraw/", f"{tmp_path}/")
        done = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", told], env=environment, cwd=tmp_path, capture_output=True, text=True,
            check=True,
        )  # fmt: skip
        assert done.stderr == ""

    runs(lines_after("Back up the database"))
    with closing(open_logbook(postgres.url("bedstraw"))) as logbook, logbook.begin() as c:
        note_state(c, NAME, "before", '"said after the backup"')
    runs(lines_after("Restore it into a new, empty one"))
    assert (tmp_path / "asked").read_text().splitlines() == [
        "systemctl stop bedstraw@*",
        "systemctl start bedstraw@1 bedstraw@2",
        "bedstraw doctor gardens/larkmoor.toml",
    ]
    with closing(open_logbook(postgres.url("bedstraw"))) as logbook, logbook.begin() as c:
        assert read_state(c, NAME, "before") == '"kept"'
        note_state(c, NAME, "after", '"goes on"')
    with closing(open_logbook(postgres.url("bedstraw_before"))) as logbook, logbook.begin() as c:
        assert read_state(c, NAME, "before") == '"said after the backup"'
    for statement in ("DROP DATABASE bedstraw", "DROP DATABASE bedstraw_before", "DROP ROLE bedstraw"):
        postgres.run(statement)
