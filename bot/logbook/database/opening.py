"""Opening a logbook: file or address, migrated and safe to write, or one sentence that says why not."""

import sqlite3
from collections.abc import Iterator
from contextlib import AbstractContextManager, closing, contextmanager, nullcontext
from pathlib import Path
from threading import Condition, RLock
from typing import Any

import sqlalchemy as sa

from bot.logbook.database import migrations
from bot.logbook.database.files import (
    LogbookClosedError,
    LogbookError,
    create_file,
    file_at,
    prepare_file,
    sentence_of,
    turn_on_wal,
)
from bot.messages import redacted

OUR_MISTAKES = (sa.exc.IntegrityError, sa.exc.ProgrammingError, sa.exc.DataError, sa.exc.NotSupportedError)
IN_USE = "SELECT pg_try_advisory_lock_shared(hashtextextended('logbook in use', 0))"
ALONE = "SELECT pg_try_advisory_lock(hashtextextended('logbook in use', 0))"
ALONE_WAIT_S = 1.0  # who wants a logbook for itself alone is told at once that it is in use
# a server that went silent is given up within some half a minute, where the kernel's own word takes a quarter of an
# hour; what the address itself says wins. Assumed, no source
PATIENCE = {
    "connect_timeout": 10,
    "keepalives_idle": 10,
    "keepalives_interval": 5,
    "keepalives_count": 3,
    "tcp_user_timeout": 25_000,  # ms
}
WAIT_S = 10.0  # how long a writer waits for another; no source, chosen to outlast any transaction of ours


class Logbook:
    """An open logbook: every read and write happens inside one `begin()`."""

    def __init__(
        self, database: sa.Engine, path: Path | None, *, one_at_a_time: AbstractContextManager[object] | None = None
    ) -> None:
        self._database = database
        self._one_at_a_time = one_at_a_time or nullcontext()  # in memory all threads share one connection
        self._file = file_at(path)
        self._under_way, self._is_closed, self._changed = 0, False, Condition()
        self.path = path

    @property
    def name(self) -> str:
        """What to call it in a sentence: the file, or the address without its password."""
        return str(self.path or self._database.url.render_as_string(hide_password=True))

    @property
    def is_server(self) -> bool:
        """Whether it lies on a database server, which several programs may share."""
        return self._database.dialect.name != "sqlite"

    def session(self) -> sa.Connection:
        """A connection of its own outside any transaction, for a lock that lives as long as the connection."""
        session = self._database.connect().execution_options(isolation_level="AUTOCOMMIT")
        session.detach()  # closing it really ends it: the pool would keep it alive, lock and all
        return session

    @contextmanager
    def begin(self) -> Iterator[sa.Connection]:
        """One transaction: all that is written inside is kept, or, after an exception, nothing.

        Raises
        ------
        LogbookError
            Closed. Disk full, folder read-only, file locked, damaged or taken away.
        """
        try:
            with self._unless_closed():
                self._follow_the_file()
                with self._one_at_a_time, self._database.begin() as c:
                    yield c
        except sa.exc.DBAPIError as error:
            if isinstance(error, OUR_MISTAKES):
                raise
            raise LogbookError(sentence_of(self.name, error.orig)) from error
        except sqlite3.Error as error:  # a pragma at the opening of a connection is not wrapped
            raise LogbookError(sentence_of(self.name, error)) from error

    @contextmanager
    def _unless_closed(self) -> Iterator[None]:
        with self._changed:
            if self._is_closed:
                raise LogbookClosedError(f"the logbook {self.name} is closed")
            self._under_way += 1
        try:
            yield
        finally:
            with self._changed:
                self._under_way -= 1
                self._changed.notify_all()

    def _follow_the_file(self) -> None:
        """Let go of a file that was taken away or replaced: an open connection would write into what nobody can find.

        Of a file put in its place, all that it says counts from now on; it may be a backup from before a step.
        """
        if self._file is None or (now_there := file_at(self.path)) == self._file:
            return
        self._database.dispose()
        if now_there is None:
            raise LogbookError(f"the logbook {self.path} is gone: put the newest backup in its place")
        if self.path is not None and self.path.stat().st_size == 0:
            raise LogbookError(f"the logbook {self.path} was emptied: put the newest backup in its place")
        self._file = now_there
        _migrate(self)

    def backup(self, path: Path) -> None:
        """A sound copy of the whole logbook at `path`, taken while others write; replaces what was there.

        Copying the file alone would miss the commits that still live in the write-ahead log.
        """
        if self.path is None:
            raise LogbookError(f"{self.name} is not a file: back up a database server with its own tools (pg_dump)")
        part = path.with_name(path.name + ".part")
        part.unlink(missing_ok=True)
        try:
            create_file(part)
            with closing(sqlite3.connect(self.path)) as here, closing(sqlite3.connect(part)) as there:
                here.backup(there)
            part.replace(path)  # never half a copy under the final name
        except (OSError, sqlite3.Error) as error:
            raise LogbookError(sentence_of(str(path), error)) from error

    def damage(self) -> str:
        """What is damaged in the file, as its database says; "" where nothing is found, or where it lies on a server.

        It is read beside whoever writes. A changed letter inside a text is not found: nothing sums it up.
        """
        if self.path is None:
            return ""
        try:
            with closing(sqlite3.connect(f"{self.path.absolute().as_uri()}?mode=ro", uri=True)) as reading:
                found = str(reading.execute("PRAGMA integrity_check(1)").fetchone()[0])
        except sqlite3.Error as error:
            return redacted(str(error))
        return "" if found == "ok" else " ".join(found.split())

    def close(self) -> None:
        """Let go of the file, once the transactions of other threads have ended; none begins any more.

        A program that ends leaves a round behind: what it still held open, or opened anew, would stay as it was.
        """
        with self._changed:
            self._is_closed = True
            self._changed.wait_for(lambda: self._under_way == 0, WAIT_S)
        self._database.dispose()


def open_logbook(path_or_url: Path | str, *, wait_s: float = WAIT_S, alone: bool = False) -> Logbook:
    """A logbook, created or brought up to date if need be.

    Parameters
    ----------
    path_or_url
        A file (created with mode 0600), its address ("sqlite:///…"), that of a database server
        ("postgresql+psycopg://…"), or "sqlite://" for a logbook that lives only as long as the program.
    wait_s
        How long a writer waits for another one [s].
    alone
        For whoever must have it to itself: no other program has it open, and none can open it until it is closed.

    Raises
    ------
    LogbookError
        In use where it must not be.
        Folder read-only or missing, disk full, file locked, not a logbook, or written by a newer bedstraw.
    """
    url = _address(str(path_or_url)) if "://" in str(path_or_url) else None
    if url is not None and url.get_backend_name() != "sqlite":
        logbook = Logbook(_server_database(url, alone=alone), None)
    elif url is not None and not url.database:
        logbook = Logbook(_sqlite_database(None, wait_s), None, one_at_a_time=RLock())
    else:
        path = Path(url.database if url is not None and url.database else path_or_url)
        prepare_file(path)
        logbook = Logbook(_sqlite_database(path, ALONE_WAIT_S if alone else wait_s, alone=alone), path)
    try:
        _migrate(logbook)
    except BaseException as error:
        logbook.close()
        if alone and isinstance(error, LogbookError) and "in use" in str(error):
            raise LogbookError(f"{_in_use(logbook.name)}; stop every program that has it open first") from error
        raise
    return logbook


def _in_use(name: str) -> str:
    return f"the logbook {name} is in use"


def _address(text: str) -> sa.URL:
    try:
        return sa.make_url(text)
    except sa.exc.ArgumentError:
        # the library's own words would show the whole address, password and all
        raise LogbookError("the logbook's address can't be read: write it as kind://user@host/name") from None


def _server_database(url: sa.URL, *, alone: bool) -> sa.Engine:
    try:
        # a connection that died with the server is found out before it is used; one alone holds the lock all the while
        own: dict[str, Any] = {"poolclass": sa.StaticPool} if alone else {"pool_pre_ping": True}
        database = sa.create_engine(url, connect_args=_patience(url), **own)
    except (sa.exc.NoSuchModuleError, ModuleNotFoundError) as error:
        kind = url.drivername
        raise LogbookError(f"a logbook at {kind}:// needs a database driver that is not installed: {error}") from error

    @sa.event.listens_for(database, "connect")
    def hold(connection: Any, _record: object) -> None:
        """Each connection holds a lock as long as it lives, so that nobody carries the logbook off meanwhile."""
        with connection.cursor() as cursor:
            cursor.execute(ALONE if alone else IN_USE)
            (is_held,) = cursor.fetchone()
        connection.rollback()
        if not is_held:
            connection.close()
            raise LogbookError(_in_use(url.render_as_string(hide_password=True)))

    return database


def _patience(url: sa.URL) -> dict[str, int]:
    """How long its driver waits, where we know the driver's words and the address says nothing else."""
    known = url.drivername == "postgresql+psycopg"
    return {name: value for name, value in PATIENCE.items() if known and name not in url.query}


def _migrate(logbook: Logbook) -> None:
    with logbook.begin() as c:
        _refuse_strange_tables(c, logbook.name)
        _one_at_a_time(c)
        c.exec_driver_sql(migrations.STEPS_TABLE)
        done = migrations.steps_done(c)
        newer = migrations.unknown_step(done)
    if newer:
        raise LogbookError(
            f"this logbook was written by a newer bedstraw (step {newer}): {logbook.name}; update bedstraw to open it"
        )
    for step in (step for step in migrations.STEPS if step.name not in done):
        with logbook.begin() as c:
            _one_at_a_time(c)
            migrations.take_step(c, step)


def _one_at_a_time(c: sa.Connection) -> None:
    """Several programs may open a new database at once, and PostgreSQL's "if not exists" does not wait for another."""
    if c.dialect.name == "postgresql":
        c.execute(sa.select(sa.func.pg_advisory_xact_lock(sa.func.hashtextextended("logbook steps", 0))))


def _refuse_strange_tables(c: sa.Connection, name: str) -> None:
    tables = set(sa.inspect(c).get_table_names()) if c.dialect.name == "sqlite" else set()
    if tables and "logbook_steps" not in tables:
        raise LogbookError(f"{name} is not a logbook: it is the database of another program (table {min(tables)})")


def _sqlite_database(path: Path | None, wait_s: float, *, alone: bool = False) -> sa.Engine:
    url = sa.URL.create("sqlite", database=str(path) if path else None)
    one = {"poolclass": sa.StaticPool, "connect_args": {"check_same_thread": False}}
    shared = {} if path and not alone else one
    database = sa.create_engine(url, **shared)
    # in this mode the file is ours from the first write on, and in WAL mode whoever has it open holds it (its manual)
    keep = ("locking_mode=EXCLUSIVE",) if alone else ()
    # without secure_delete a deleted text stays in the file until its page is used again
    pragmas = (
        "synchronous=FULL",
        f"busy_timeout={wait_s * 1000:.0f}",
        "foreign_keys=ON",
        "secure_delete=ON",
    )

    @sa.event.listens_for(database, "connect")
    def settings(connection: sqlite3.Connection, _record: object) -> None:
        connection.isolation_level = None  # the driver must not begin by itself
        for pragma in (*keep, *reversed(pragmas)):
            connection.execute("PRAGMA " + pragma)
        turn_on_wal(connection, wait_s)  # last: it may have to wait for another process

    @sa.event.listens_for(database, "begin")
    def immediate(connection: sa.Connection) -> None:
        # a plain BEGIN reads first and then finds that another has written: "database is locked" at once
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    return database
