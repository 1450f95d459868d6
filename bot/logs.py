"""What is written to the log, and what never is: tokens are redacted in texts, tracebacks and uncaught exceptions."""

import logging
import sys
import threading
import traceback
from types import TracebackType

from bot.messages import redacted

# the first two write addresses that hold the token, the last names of weather cells, which are coordinates
TALKATIVE = ("httpx", "httpcore", "apscheduler", "telegram", "procrastinate")


class RedactingFormatter(logging.Formatter):
    """A formatter rather than a filter, so that tracebacks and stack texts are covered too."""

    def format(self, record: logging.LogRecord) -> str:
        """The record as text, without secrets."""
        return redacted(super().format(record))


def quiet_logs(level: int = logging.INFO) -> None:
    """Log to the error stream, redacted, and keep the libraries quiet."""
    handler = logging.StreamHandler()
    handler.setFormatter(RedactingFormatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(level=level, handlers=[handler], force=True)
    for name in TALKATIVE:
        logging.getLogger(name).setLevel(logging.WARNING)
    logging.getLogger("apscheduler.scheduler").setLevel(logging.ERROR)  # a long tick skips the next one, as is meant
    sys.excepthook = _redacted_excepthook
    threading.excepthook = _redacted_thread_excepthook


def _redacted_excepthook(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
    sys.stderr.write(redacted("".join(traceback.format_exception(kind, error, trace))))


def _redacted_thread_excepthook(args: threading.ExceptHookArgs) -> None:
    if args.exc_value is not None:
        _redacted_excepthook(args.exc_type, args.exc_value, args.exc_traceback)
