"""The storage tests run on both databases: a new SQLite file, or a new database of a server of our own, for each."""

import pickle
from collections import OrderedDict
from collections.abc import Callable, Iterator
from datetime import datetime
from hashlib import sha256
from itertools import count
from pathlib import Path

import pytest

from bot.hosting import many_gardens, one_garden
from bot.logbook import Connection, Logbook, open_logbook
from rules.outlook.garden_outlook import Outlook, outlook_carried
from rules.outlook.inputs import Carried, OutlookInputs
from tests.bot.migrated import new_file
from tests.bot.postgres_server import Server, running_server

TEMPLATE = "migrated"  # a database that came through all steps, copied for each test
OUTLOOKS_KEPT = 40
HANGS_S = 300.0  # a turn takes a second or so


@pytest.fixture(scope="session", autouse=True)
def _outlooks_shared() -> Iterator[None]:
    """What one test looked ahead for, the next with the very same inputs need not look for again.

    That the same inputs give the same outlook, tests/rules/outlook shows.
    """
    kept: OrderedDict[bytes, tuple[Outlook, Carried | None]] = OrderedDict()

    def shared(inputs: OutlookInputs, now: datetime, carried: Carried | None) -> tuple[Outlook, Carried | None]:
        key = sha256(pickle.dumps((inputs, now, carried))).digest()
        if key not in kept:
            kept[key] = outlook_carried(inputs, now, carried)
        kept.move_to_end(key)
        while len(kept) > OUTLOOKS_KEPT:
            kept.popitem(last=False)
        return kept[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(one_garden, "outlook_carried", shared)
        yield


@pytest.fixture(scope="session", autouse=True)
def _turns_waited_for() -> Iterator[None]:
    """A tick waits for the turns it began, however busy the machine: what a test then looks at has happened."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(many_gardens, "PATIENCE_S", HANGS_S)
        yield


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """A server with the migrated template. Where none can be had the tests that ask for it fail, and say so."""
    with running_server() as server:
        server.run(f"CREATE DATABASE {TEMPLATE}")
        open_logbook(server.url(TEMPLATE)).close()
        yield server


@pytest.fixture(scope="session")
def numbers() -> Iterator[int]:
    """A number for each database."""
    return iter(count(1))


@pytest.fixture
def new_database(postgres: Server, numbers: Iterator[int]) -> Iterator[Callable[[], str]]:
    """Makes databases with the tables of a logbook; gives their addresses and takes them away again."""
    made: list[str] = []

    def make(template: str = TEMPLATE) -> str:
        made.append(f"test_{next(numbers)}")
        postgres.run(f"CREATE DATABASE {made[-1]} TEMPLATE {template}")
        return postgres.url(made[-1])

    yield make
    for name in made:
        postgres.run(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Path | str:
    """Where a logbook may lie: a file, or a database of the server."""
    if request.param == "sqlite":
        return new_file(tmp_path / "larkmoor.logbook")
    make: Callable[[], str] = request.getfixturevalue("new_database")
    return make()


@pytest.fixture
def logbook(place: Path | str) -> Iterator[Logbook]:
    """An open logbook, on either database."""
    opened = open_logbook(place)
    yield opened
    opened.close()


@pytest.fixture
def c(logbook: Logbook) -> Iterator[Connection]:
    """A transaction of its own."""
    with logbook.begin() as connection:
        yield connection
