"""A limit on the size of files, as systemd's LimitFSIZE sets: no more can be written, though the disk has room."""

import resource
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.logbook import note_person, open_logbook, read_records
from rules.garden.records import DeedKind
from tests.bot.invented_gardens import write_garden_file
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import wait_for
from tests.bot.telegram.test_garden_file_changed import CHAT, NAME, serving

FITS_THE_LOG = 12_000  # bytes: the log goes on, but not one more page of the logbook


@pytest.mark.processes
def test_a_bot_whose_files_may_not_grow_lives_on_and_takes_what_was_said_once_they_may(
    town: Town, tmp_path: Path
) -> None:
    path = write_garden_file(tmp_path, NAME, "Porch fig", datetime.now(UTC))
    place = path.with_suffix(".logbook")
    with closing(open_logbook(place)) as logbook, logbook.begin() as c:
        note_person(c, NAME, CHAT, "Rowan", "owner")
    with serving(path, town) as (bot, log):
        phone = town.phone(chat_id=CHAT)
        phone.says("wrapped porch")
        wait_for(lambda: phone.reads("Noted: Porch fig wrapped"), "the first answer")
        unlimited = resource.prlimit(bot.pid, resource.RLIMIT_FSIZE)
        resource.prlimit(bot.pid, resource.RLIMIT_FSIZE, (FITS_THE_LOG, unlimited[1]))
        phone.says("closed porch")
        wait_for(lambda: "the logbook" in log() and "disk" in log(), "the trouble in the log")
        assert bot.poll() is None
        assert phone.reads("Noted: Porch fig closed") == []
        resource.prlimit(bot.pid, resource.RLIMIT_FSIZE, unlimited)
        wait_for(lambda: phone.reads("Noted: Porch fig closed"), "the answer once files may grow")
    with closing(open_logbook(place)) as logbook, logbook.begin() as c:
        assert [deed.kind for deed in read_records(c, NAME).deeds] == [DeedKind.WRAPPED, DeedKind.CLOSED]
