"""The file a logbook lies in: made ours alone, told apart from another of its name, and what keeps us from it."""

import os
import sqlite3
from pathlib import Path
from time import monotonic, sleep
from typing import Final

from bot.messages import redacted

OWNER_ONLY = 0o600
HAS_OWNERS = hasattr(os, "geteuid")  # Windows keeps files apart by the folders of its users


class LogbookError(Exception):
    """The logbook can't be opened, read or written; the sentence says what is in the way."""


class LogbookClosedError(LogbookError):
    """We let go of it ourselves: whoever still wants it was left behind by a program that ends."""


def prepare_file(path: Path) -> None:
    """The file made if need be, and readable by its owner only; LogbookError where it is not ours to use."""
    # The file is never opened and read here: closing it would drop the locks of a connection this program already has.
    try:
        if not path.exists():
            create_file(path)
        status = path.stat()
        if HAS_OWNERS and status.st_mode & 0o077 and status.st_uid == os.geteuid() and path.is_file():
            path.chmod(OWNER_ONLY)
    except PermissionError as error:
        raise LogbookError(_not_ours(path) or sentence_of(str(path), error)) from error
    except OSError as error:
        raise LogbookError(sentence_of(str(path), error)) from error
    if (strange := _not_ours(path)) is not None:
        raise LogbookError(strange)
    if path.is_dir():
        raise LogbookError(f"{path} is a folder, not a logbook")


def _not_ours(path: Path) -> str | None:
    """Whose folder or file keeps us out, and how to give it back; None where another's does not."""
    if not HAS_OWNERS:
        return None
    folder, me = path.parent, _me()
    if _kept_out(folder, os.R_OK | os.W_OK | os.X_OK, me):
        owner = _owner_of(folder)
        return f"the logbook {path} can't be written: its folder is read-only for {me}, since it belongs to {owner}"
    if _kept_out(path, os.R_OK | os.W_OK, me):
        owner = _owner_of(path)
        return f"the logbook {path} is closed or read-only for {me}, since it belongs to {owner}: chown {me} {path}"
    return None


def _kept_out(place: Path, wanted: int, me: str) -> bool:
    """Whether a place that is there is another's and we may not use it."""
    return _owner_of(place) not in (None, me) and not os.access(place, wanted, effective_ids=True)


def _owner_of(place: Path) -> str | None:
    try:
        return place.owner()
    except (OSError, KeyError):
        return None


def _me() -> str:
    import pwd  # not on Windows

    try:
        return pwd.getpwuid(os.geteuid()).pw_name
    except KeyError:
        return str(os.geteuid())


def create_file(path: Path) -> None:
    """An empty file for its owner only; left alone where another program was quicker."""
    try:
        descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, OWNER_ONLY)
    except FileExistsError:  # another program was quicker: then it is that one's to create
        return
    try:
        if (
            HAS_OWNERS and os.geteuid() == 0
        ):  # a logbook begun by the administrator must be the bot's, as SQLite does with its -wal
            home = path.parent.stat()
            os.fchown(descriptor, home.st_uid, home.st_gid)
    finally:
        os.close(descriptor)


def sentence_of(name: str, error: BaseException | None) -> str:
    """What keeps us from a logbook, as a person would say it."""
    words = str(error).lower()
    reasons = {
        "is full": f"the disk is full: nothing more can be written to the logbook {name}",
        "no space left": f"the disk is full: nothing more can be written to the logbook {name}",
        "disk i/o": f"the disk refuses to read or write the logbook {name}: it may be full or failing",
        "locked": f"the logbook {name} is in use by another program that does not let go of it",
        "readonly": f"the logbook {name} is read-only: bedstraw needs to write to the file and its folder",
        "read-only": f"the logbook {name} is on a read-only disk",
        "permission": f"the logbook {name} can't be written: its folder is read-only for this user",
        "no such file": f"the folder of the logbook does not exist: {Path(name).parent}",
        "not a database": f"{name} is not a logbook: it is damaged or some other kind of file",
        "malformed": f"the logbook {name} is damaged: restore it from a backup",
        "unable to open": f"the logbook {name} can't be opened: its folder is missing or read-only",
    }
    found = next((sentence for mark, sentence in reasons.items() if mark in words), None)
    return found or f"the logbook {name} can't be used: {redacted(str(error))}"


def file_at(path: Path | None) -> tuple[int, int] | None:
    """Which file it is, whatever its name; None where there is none."""
    try:
        status = path.stat() if path is not None else None
    except OSError:
        return None
    return (status.st_dev, status.st_ino) if status is not None else None


def turn_on_wal(connection: sqlite3.Connection, wait_s: float) -> None:
    """Write ahead from now on; several programs that open a new file at once take turns.

    SQLite gives up at once here, whatever its timeout, where another program turns it on at that moment.
    """
    latest = monotonic() + wait_s
    while True:
        try:
            connection.execute("PRAGMA journal_mode=WAL")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or monotonic() >= latest:
                raise
            sleep(AGAIN_S)
        else:
            return


AGAIN_S: Final = 0.02  # no source
