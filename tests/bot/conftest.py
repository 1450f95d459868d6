"""The storage tests run on both databases: a new SQLite file, or a new database of a server of our own, for each."""

import pickle
import sqlite3
from collections import OrderedDict
from collections.abc import Callable, Iterator
from datetime import datetime
from hashlib import sha256
from itertools import count
from pathlib import Path

import pytest
import sqlalchemy as sa

from bot.hosting import looking_ahead
from bot.logbook import Connection, Logbook, open_logbook
from bot.logbook.database.migrations import STEPS
from bot.logbook.database.tables import doors, metadata, steps
from rules.outlook.garden_outlook import Outlook, outlook_carried
from rules.outlook.inputs import Carried, OutlookInputs
from tests.bot.migrated import new_file
from tests.bot.postgres_server import Server, running_server

TEMPLATE = "migrated"  # a database that came through all steps, copied for each test
OUTLOOKS_KEPT = 40


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
        patch.setattr(looking_ahead, "outlook_carried", shared)
        yield


def _unsynced(connection: object, record: sa.pool.ConnectionPoolEntry, _proxy: object) -> None:
    if isinstance(connection, sqlite3.Connection) and "unsynced" not in record.info:
        connection.execute("PRAGMA synchronous=OFF")
        record.info["unsynced"] = True


@pytest.fixture(scope="session", autouse=True)
def _disk_not_waited_for() -> Iterator[None]:
    """No test pulls the plug: what a logbook commits need not have reached the disk before the test goes on."""
    sa.event.listen(sa.pool.Pool, "checkout", _unsynced)
    yield
    sa.event.remove(sa.pool.Pool, "checkout", _unsynced)


@pytest.fixture(scope="session", autouse=True)
def _statements_compiled_once() -> Iterator[None]:
    """Each logbook has a dialect of its own: a statement compiled for one is taken by all of the same database."""
    dialects: dict[str, sa.Dialect] = {}
    compiled: dict[object, object] = {}

    def shared(connection: sa.Connection) -> None:
        connection.dialect = dialects.setdefault(connection.dialect.name, connection.dialect)
        connection.execution_options(compiled_cache=compiled)

    sa.event.listen(sa.Engine, "engine_connect", shared)
    yield
    sa.event.remove(sa.Engine, "engine_connect", shared)


@pytest.fixture
def synced() -> Iterator[None]:
    """Logbooks as a grower has them."""
    sa.event.remove(sa.pool.Pool, "checkout", _unsynced)
    yield
    sa.event.listen(sa.pool.Pool, "checkout", _unsynced)


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


@pytest.fixture(scope="session")
def emptied() -> list[str]:
    """Databases other tests are done with, their tables as new: to empty one takes a tenth of making one."""
    return []


@pytest.fixture
def new_database(postgres: Server, numbers: Iterator[int], emptied: list[str]) -> Iterator[Callable[[], str]]:
    """Gives the addresses of databases that hold the tables of a logbook and nothing else."""
    made: list[str] = []

    def make(template: str = TEMPLATE) -> str:
        if template == TEMPLATE and emptied:
            made.append(emptied.pop())
        else:
            made.append(f"test_{next(numbers)}")
            postgres.run(f"CREATE DATABASE {made[-1]} TEMPLATE {template}")
        return postgres.url(made[-1])

    yield make
    for name in made:
        if empty(postgres, name):
            emptied.append(name)
        else:
            postgres.run(f"DROP DATABASE {name} WITH (FORCE)")


def empty(server: Server, name: str) -> bool:
    """Whether a database could be emptied: its steps are all there are, its tables ours, and nobody holds it now."""
    ours = set(metadata.tables) - {steps.name}
    database = sa.create_engine(server.url(name), poolclass=sa.NullPool)
    with database.begin() as c:
        c.exec_driver_sql(
            "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity "
            "WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
        there = set(c.exec_driver_sql("SELECT tablename FROM pg_tables WHERE schemaname = 'public'").scalars())
        if there != ours | {steps.name} or c.scalar(sa.select(sa.func.count()).select_from(steps)) != len(STEPS):
            return False
        for table in reversed(metadata.sorted_tables):  # for a few rows a fourth of what TRUNCATE makes of new files
            if table is not steps:
                c.execute(table.delete())
        c.exec_driver_sql("SELECT setval(sequencename::regclass, start_value, false) FROM pg_sequences")
        c.execute(sa.insert(doors), [{"door": "telegram"}, {"door": "terminal"}])  # all that the steps put in
    return True


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
