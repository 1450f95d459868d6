"""A logbook whose bytes were changed on the disk: seen when a program starts and once a day, and its owners told."""

import random
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from bot import logbook as lb
from bot.logbook import Logbook, open_logbook
from bot.logbook.database.tables import outbox
from bot.upkeep.soundness import Soundness
from tests.bot.invented_gardens import garden, setting

NOON = datetime(2026, 12, 2, 19, tzinfo=UTC)
LARKMOOR = garden("Larkmoor", "Porch fig")
DAY = timedelta(days=1)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A logbook with two hundred readings' worth of state in it."""
    found = tmp_path / "larkmoor.logbook"
    with closing(open_logbook(found)) as logbook, logbook.begin() as c:
        lb.note_person(c, LARKMOOR.name, 11, "Rowan", "owner")
        for number in range(200):
            lb.note_state(c, LARKMOOR.name, f"state {number:03}", "1" * 200)
    return found


@pytest.fixture
def logbook(place: Path) -> Iterator[Logbook]:
    with closing(open_logbook(place)) as opened:
        yield opened


def bent(place: Path, word: bytes = b"state 1") -> None:
    """One byte other than it was, in the table or its index: the two do not tell the same any more."""
    data = bytearray(place.read_bytes())
    at = data.index(word)
    data[at] ^= 0x20
    place.write_bytes(bytes(data))


def told(logbook: Logbook) -> list[str]:
    with logbook.begin() as c:
        return list(c.scalars(sa.select(outbox.c.text).where(outbox.c.chat_id == 11)))


def test_a_sound_logbook_is_nothing_to_speak_of(logbook: Logbook) -> None:
    assert logbook.damage() == ""
    Soundness().look(setting(LARKMOOR, logbook, ""), NOON)
    assert told(logbook) == []


def test_a_changed_byte_is_told_to_the_owner_at_the_start(place: Path, caplog: pytest.LogCaptureFixture) -> None:
    bent(place)
    with closing(open_logbook(place)) as logbook:
        Soundness().look(setting(LARKMOOR, logbook, ""), NOON)
        (words,) = told(logbook)
        assert words.startswith("My logbook is damaged, so what I remember may be wrong or missing.")
        assert "put the newest backup in its place" in words
    assert caplog.text.count("the logbook is damaged") == 1


def test_a_changed_byte_is_found_the_day_after_and_told_once_a_day(place: Path) -> None:
    looks = Soundness()
    with closing(open_logbook(place)) as logbook:
        looks.look(setting(LARKMOOR, logbook, ""), NOON)
    bent(place)
    with closing(open_logbook(place)) as logbook:
        for hours in range(1, 4):
            looks.look(setting(LARKMOOR, logbook, ""), NOON + timedelta(hours=hours))
        assert told(logbook) == []
        for _ in range(3):
            looks.look(setting(LARKMOOR, logbook, ""), NOON + DAY)
        assert len(told(logbook)) == 1


def test_a_file_of_noise_is_damaged_and_breaks_no_round(place: Path, caplog: pytest.LogCaptureFixture) -> None:
    with closing(open_logbook(place)) as logbook:
        whole = place.stat().st_size
        with place.open("r+b") as file:
            file.seek(4096)
            file.write(random.Random(1).randbytes(whole - 4096))
        assert logbook.damage() != ""
        Soundness().look(setting(LARKMOOR, logbook, ""), NOON)  # the owners can't be told: the log is
    assert "the logbook is damaged" in caplog.text
