"""Who serves a garden: one program at a time, and the mark it leaves, by which an emptied logbook is known."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from bot.logbook.database.files import OWNER_ONLY, LogbookError
from bot.logbook.database.opening import Logbook
from bot.logbook.programs.leader_lock import Leadership

LOCKED_BYTE: Final = 1_000


@contextmanager
def served_alone(logbook: Logbook, poller: str) -> Iterator[None]:
    """Serve with this logbook until the end, and no other program does.

    Beside a file it is a lock on another file, which ends with the program that holds it, however it ends; on a server
    the lock of whoever asks the messenger, here called `poller`.

    Raises
    ------
    LogbookError
        Another program serves it already.
    """
    if logbook.is_server:
        leadership = Leadership(logbook, poller)
        if not leadership.holds():
            leadership.let_go()
            raise LogbookError(f"another program serves this bot already, in the logbook {logbook.name}; stop it first")
        try:
            yield
        finally:
            leadership.let_go()
    elif logbook.path is not None:
        with _locked(mark_of(logbook.path), logbook.path):
            yield
    else:
        yield


def _lock(file: int) -> None:
    """Lock a file for this program alone, as each system does; BlockingIOError where another has it."""
    try:
        import fcntl
    except ImportError:  # Windows, whose locks are of bytes; this one is beyond what is ever read
        os.lseek(file, LOCKED_BYTE, os.SEEK_SET)
        import msvcrt

        try:
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
        except OSError as error:
            raise BlockingIOError from error
        return
    fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


@contextmanager
def _locked(mark: Path, place: Path) -> Iterator[None]:
    file = os.open(mark, os.O_CREAT | os.O_RDWR, OWNER_ONLY)
    try:
        try:
            _lock(file)
        except BlockingIOError:
            os.lseek(file, 0, os.SEEK_SET)
            whose = os.read(file, 32).decode("ascii", "replace").strip() or "of an unknown number"
            raise LogbookError(
                f"another program (process {whose}) serves this garden already, with the logbook {place}; stop it first"
            ) from None
        os.ftruncate(file, 0)
        os.lseek(file, 0, os.SEEK_SET)
        os.write(file, f"{os.getpid()}\n".encode())
        yield
    finally:
        os.close(file)


def mark_of(place: Path) -> Path:
    """The file beside a logbook that says it was served."""
    return place.with_name(f"{place.name}.serving")


def refuse_emptied(place: Path) -> None:
    """Nothing where a logbook is as its programs left it, or never was.

    Raises
    ------
    LogbookError
        It was in use before, and now there is nothing in it: everybody would be a stranger.
    """
    mark = mark_of(place)
    if mark.exists() and (not place.exists() or place.stat().st_size == 0):
        what = "is empty" if place.exists() else "is gone"
        raise LogbookError(
            f"the logbook {place} {what}, but this garden was served with it before: put the newest backup in its "
            f"place; or, to begin anew with nobody let in, remove {mark}"
        )
