"""Emulator, wire, clock and phone of each test of the Telegram door."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest

from bot.logbook import Logbook, open_logbook
from tests.bot.migrated import new_file
from tests.bot.telegram.emulator import Emulator, Mended
from tests.bot.telegram.open_door import Echo, OpenDoor, door_open, fast_clock
from tests.bot.telegram.phone import Phone
from tests.bot.telegram.proxy import Wire, proxied


@dataclass
class Town:
    """All that lies between a bot and the people it serves."""

    emulator: Emulator
    wire: Wire
    mended: Mended
    token: str
    clock: Callable[[], datetime]

    def phone(self, chat_id: int = 4711, name: str = "Rowan", person_id: int | None = None) -> Phone:
        whose = person_id or abs(chat_id)
        return Phone(self.emulator, self.mended, self.token, self.clock, chat_id, name, whose)


@pytest.fixture(scope="session")
def emulator() -> Iterator[Emulator]:
    one = Emulator()
    yield one
    one.stop()


@pytest.fixture
def town(emulator: Emulator) -> Iterator[Town]:
    token, clock = emulator.fresh_token(), fast_clock()
    mended = Mended(lambda: clock().timestamp())
    with proxied(emulator.port, mended) as wire:
        yield Town(emulator, wire, mended, token, clock)


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    one = open_logbook(new_file(tmp_path / "larkmoor.logbook"))
    yield one
    one.close()


@pytest.fixture
def echo(town: Town, logbook: Logbook) -> Iterator[OpenDoor]:
    """The door of a bot that says back what it hears."""
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock) as door:
        yield door
