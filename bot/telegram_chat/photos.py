"""Photos fetched from the messenger for whoever keeps them; nothing is known here of trees or files."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Sequence
from datetime import datetime
from functools import partial
from typing import Any, Final, Protocol

from telegram import Bot
from telegram.error import BadRequest, TelegramError

from bot.logbook import LogbookError
from bot.messages import LARGEST_PHOTO_BYTES, in_words
from bot.telegram_chat.patience import Patience

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
