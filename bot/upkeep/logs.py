"""What is written to the log, one line an event, and what never is: tokens, and where anybody's garden lies."""

import json
import logging
import re
import sys
import threading
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import TracebackType
from typing import Final

from bot.messages import in_words, redacted

# the first two write addresses that hold the token, procrastinate and urllib3 places: cells and questions name them
OWNER_ONLY: Final = 0o600
LARGEST_BYTES: Final = 1_000_000  # some ten thousand events; no source
TALKATIVE = ("httpx", "httpcore", "apscheduler", "telegram", "procrastinate", "urllib3")
# as weather services are asked, and as cells are called: /points/39,-109, lat=39, latitude=39
PLACE: Final = re.compile(
    r"(?<![\w.])-?\d{1,3}\.\d+\s*,\s*-?\d{1,3}\.\d+|(?<=/points/)[-\d.,]+|(?<=\b(?:lat|lon)=)-?[\d.]+|(?<=itude=)-?[\d.]+"
)


class RedactingFormatter(logging.Formatter):
    """One line an event, `at=… level=… room=… says="…"`, then its traceback; all of it without secrets and places.

    A formatter rather than a filter, so that tracebacks and stack texts are covered too.
    """

    def format(self, record: logging.LogRecord) -> str:
        """The record as text, without secrets."""
        return PLACE.sub("<place>", redacted(super().format(record)))

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - the library's
        """The record's one line; quoted, so that no words in it can end it and begin another."""
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        says = json.dumps(record.message, ensure_ascii=False)
        return f"at={at} level={record.levelname.lower()} room={record.name} says={says}"


class ToldOnce:
    """What went wrong last, by what it was in: trouble that comes again and again is told once in the log."""

    def __init__(self) -> None:
        self._said: dict[str, str] = {}

    def is_new(self, what: str, error: Exception) -> bool:
        """Whether this is other trouble than the last; from now on it is the last."""
        words, before = in_words(error), self._said.get(what)
        self._said[what] = words
        return words != before

    def over(self, what: str) -> None:
        """It went well again."""
        self._said.pop(what, None)


def quiet_logs(level: int = logging.INFO) -> None:
    """Log to the error stream, redacted, and keep the libraries quiet."""
    _log_to(logging.StreamHandler(), level)


@contextmanager
def logged_to_file(path: Path) -> Iterator[None]:
    """Log to a file of its owner's alone instead of the error stream: no event belongs between the lines of a talk.

    The file is begun anew when it is full, and the one before it kept beside it.
    """
    path.touch(mode=OWNER_ONLY)
    path.chmod(OWNER_ONLY)
    _log_to(RotatingFileHandler(path, maxBytes=LARGEST_BYTES, backupCount=1, encoding="utf-8"), logging.INFO)
    try:
        yield
    finally:
        quiet_logs()


def _log_to(handler: logging.Handler, level: int) -> None:
    handler.setFormatter(RedactingFormatter())
    logging.basicConfig(level=level, handlers=[handler], force=True)
    for name in TALKATIVE:
        logging.getLogger(name).setLevel(logging.WARNING)
    logging.getLogger("apscheduler.scheduler").setLevel(logging.ERROR)  # a long tick skips the next one, as is meant
    sys.excepthook = _redacted_excepthook
    threading.excepthook = _redacted_thread_excepthook


def _redacted_excepthook(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
    sys.stderr.write(PLACE.sub("<place>", redacted("".join(traceback.format_exception(kind, error, trace)))))


def _redacted_thread_excepthook(args: threading.ExceptHookArgs) -> None:
    if args.exc_value is not None:
        _redacted_excepthook(args.exc_type, args.exc_value, args.exc_traceback)
