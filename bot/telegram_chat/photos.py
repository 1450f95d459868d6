"""Photos fetched from the messenger for whoever keeps them; nothing is known here of trees or files."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Collection, Sequence
from datetime import datetime, timedelta
from functools import partial
from typing import Any, Final, Protocol

from telegram import Bot
from telegram.error import BadRequest, RetryAfter, TelegramError

from bot.logbook import LogbookError
from bot.messages import LARGEST_PHOTO_BYTES, in_words
from bot.outbox import AFTER_429, LONGEST_BACKOFF_S
from bot.telegram_chat.transport import seconds_asked

LONGEST_WAIT: Final = timedelta(hours=1)  # a wait longer than this is a clock that was set back: ask again
GONE: Final = b""  # in place of a photo the messenger does not have or will not give

InThread = Callable[[Callable[[], Any]], Awaitable[Any]]

log = logging.getLogger(__name__)


class Wanted(Protocol):
    """A photo on record whose bytes are still with the messenger."""

    @property
    def file_id(self) -> str:
        """Under which the messenger keeps it."""


class Shelf(Protocol):
    """Knows which photos are wanted, and keeps them."""

    def wanted(self, now: datetime) -> Sequence[Any]:
        """The photos to fetch."""

    def keep(self, photo: Any, data: bytes) -> object:
        """Put one on the shelf; empty bytes say that it can't be had."""


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


async def fetch_for_ever(
    bot: Bot, shelf: Shelf, in_thread: InThread, now: Callable[[], datetime], pause_s: float
) -> None:
    """Look again and again for photos to fetch, so that no answer waits for a large one."""
    patience = Patience()
    while True:
        try:
            await fetch_photos(bot, shelf, in_thread, now(), patience)
        except LogbookError as error:
            log.warning("no photos: %s", error)
        await asyncio.sleep(pause_s)


async def fetch_photos(
    bot: Bot, shelf: Shelf, in_thread: InThread, now: datetime, patience: Patience | None = None
) -> None:
    """Fetch what is wanted and may be asked for now; what the network refuses is wanted again after a pause."""
    patience = patience or Patience()
    wanted = await in_thread(partial(shelf.wanted, now))
    patience.forget_all_but({photo.file_id for photo in wanted})
    for photo in wanted:
        if not patience.allows(photo.file_id, now):
            continue
        try:
            data = await _fetched(bot, photo)
        except TelegramError as error:
            log.warning("a photo waits: %s", in_words(error))
            patience.failed(photo.file_id, error, now)
            continue
        # not in the door's own thread: a file may be dear to read, and messages must not wait for it
        await asyncio.to_thread(shelf.keep, photo, data)


async def _fetched(bot: Bot, photo: Wanted) -> bytes:
    try:
        file = await bot.get_file(photo.file_id)
        if (file.file_size or 0) > LARGEST_PHOTO_BYTES:
            return GONE
        return bytes(await file.download_as_bytearray())
    except BadRequest:
        return GONE
