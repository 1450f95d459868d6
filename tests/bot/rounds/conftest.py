"""A garden whose rounds are played one by one, and a transaction in its logbook."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from bot.logbook import Connection
from tests.bot.rounds.test_faults import Life, life


@pytest.fixture
def one(tmp_path: Path) -> Iterator[Life]:
    with life(tmp_path / "larkmoor.logbook") as one:
        yield one


@pytest.fixture
def c(one: Life) -> Iterator[Connection]:
    with one.logbook.begin() as c:
        yield c
