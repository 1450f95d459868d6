"""A garden file changed on the disk of a bot that runs: heard by itself, or at once when systemd is asked to reload."""

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.commands.serving import many_gardens as many
from bot.logbook import note_person, open_logbook
from bot.timetable import TICK_S
from tests.bot.invented_gardens import write_garden_file
from tests.bot.preloaded import Program
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import DEADLINE_S, wait_for
from tests.bot.telegram.programs import serving_many

NAME, CHAT = "Larkmoor", 4711
BROKEN = "name = 7"


def one_more_tree(path: Path, name: str) -> None:
    path.write_text(path.read_text() + f'[[trees]]\nname = "{name}"\nspecies = "fig"\nplanted_year = 2015\n')


@contextmanager
def serving(path: Path, town: Town) -> Iterator[tuple[Program, Callable[[], str]]]:
    mine = {"BEDSTRAW_TOKEN": town.token, "BEDSTRAW_TELEGRAM_ADDRESS": town.wire.address}
    log = path.parent / "log"
    process = Program(["serve", str(path)], os.environ | mine, log)
    try:
        yield process, log.read_text
    finally:
        process.kill()
        process.wait()


@pytest.mark.processes
def test_sighup_reads_the_garden_file_again_and_ends_nothing(town: Town, tmp_path: Path) -> None:
    path = write_garden_file(tmp_path, NAME, "Porch fig", datetime.now(UTC))
    with closing(open_logbook(path.with_suffix(".logbook"))) as logbook, logbook.begin() as c:
        note_person(c, NAME, CHAT, "Rowan", "owner")
    with serving(path, town) as (bot, log):
        phone = town.phone(chat_id=CHAT)
        phone.says("trees")
        wait_for(lambda: phone.reads("1. Porch fig"), "an answer")
        one_more_tree(path, "Gate fig")
        bot.send_signal(signal.SIGHUP)
        wait_for(lambda: "2 trees are watched from now on" in log(), "the new tree in the log")
        good = path.read_text()
        path.write_text(BROKEN)
        bot.send_signal(signal.SIGHUP)
        wait_for(lambda: "going on with what it was" in log(), "the mistake in the log")
        path.write_text(good.replace("Gate", "Yard"))
        bot.send_signal(signal.SIGHUP)
        wait_for(lambda: log().count("trees are watched from now on") == 2, "the mended file in the log")
        phone.says("trees")
        wait_for(lambda: phone.reads("2. Yard fig"), "the new tree in an answer")
        bot.send_signal(signal.SIGTERM)
        assert bot.wait(timeout=DEADLINE_S) == 0


@pytest.mark.processes
def test_sighup_takes_up_a_new_garden_of_a_folder_of_many(
    town: Town, tmp_path: Path, new_database: Callable[[], str]
) -> None:
    url = new_database()
    write_garden_file(tmp_path, NAME, "Porch fig", datetime.now(UTC))
    with closing(open_logbook(url)) as logbook, logbook.begin() as c:
        note_person(c, "Heron Yard", CHAT, "Rowan", "owner")
    with serving_many(tmp_path, url, town.token, town.wire.address) as bot:
        phone = town.phone(chat_id=CHAT)
        phone.says("trees")
        wait_for(lambda: phone.reads("only just heard of this garden"), "an answer before there is a garden")
        write_garden_file(tmp_path, "Heron Yard", "Gate fig", datetime.now(UTC))
        bot.send_signal(signal.SIGHUP)
        wait_for(lambda: "looked at again" in (tmp_path / "program-0.log").read_text(), "the reload in the log")
        phone.says("tonight")
        phone.says("trees")
        wait_for(lambda: phone.reads("1. Gate fig"), "an answer of the new garden")
        bot.send_signal(signal.SIGTERM)
        assert bot.wait(timeout=DEADLINE_S) == 0


def test_without_being_asked_a_changed_file_is_heard_within_a_minute() -> None:
    assert TICK_S <= 60  # each tick looks at the file first
    assert many.REREAD_EVERY_S <= 60
