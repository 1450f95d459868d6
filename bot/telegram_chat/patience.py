"""Asking for files with manners: longer and longer pauses after a failure, and as long as the messenger asks for."""

from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Final

from telegram.error import RetryAfter, TelegramError

from bot.outbox import AFTER_429, LONGEST_BACKOFF_S
from bot.telegram_chat.transport import seconds_asked

LONGEST_WAIT: Final = timedelta(hours=1)  # a wait longer than this is a clock that was set back: ask again


class Patience:
    """When each file may be asked for again: after 2, 4, … 300 s as with sends; all wait where the messenger says so.

    Kept in memory only: who starts anew asks once.
    """

    def __init__(self) -> None:
        self._failures: dict[str, int] = {}
        self._again_utc: dict[str, datetime] = {}
        self._all_again_utc: datetime | None = None

    def allows(self, file_id: str, now: datetime) -> bool:
        """Whether this file may be asked for now."""
        waits = (self._again_utc.get(file_id), self._all_again_utc)
        return not any(until is not None and now < until <= now + LONGEST_WAIT for until in waits)

    def failed(self, file_id: str, error: TelegramError, now: datetime) -> None:
        """It could not be had this time."""
        failures = self._failures[file_id] = self._failures.get(file_id, 0) + 1
        pause_s = min(LONGEST_BACKOFF_S, 2.0**failures)
        self._again_utc[file_id] = now + timedelta(seconds=pause_s)
        if isinstance(error, RetryAfter):
            self._all_again_utc = now + min(timedelta(seconds=seconds_asked(error)) + AFTER_429, LONGEST_WAIT)

    def forget_all_but(self, file_ids: Collection[str]) -> None:
        """What is wanted no longer is remembered no longer."""
        for file_id in [file_id for file_id in self._failures if file_id not in file_ids]:
            del self._failures[file_id], self._again_utc[file_id]
