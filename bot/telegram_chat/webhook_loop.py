"""The webhook's loop: tell the messenger where to bring updates, take what it brought, and tell it when it is over."""

import asyncio
import logging
import secrets
from contextlib import suppress
from typing import Any, Final, Protocol

from telegram import Bot
from telegram.error import InvalidToken, TelegramError

from bot.logbook import LogbookError
from bot.messages import in_words
from bot.settings import SecretsError
from bot.telegram_chat.transport import KINDS, Pauses, RawUpdates, TokenError, wait_s
from bot.telegram_chat.webhook import AT_ONCE, UpdateServer, Webhook

SECRET_BYTES: Final = 32
GOODBYE_S: Final = 5.0  # how long an end waits for the messenger; the next start tells it anew anyway

log = logging.getLogger(__name__)


class Door(Protocol):
    """What takes up updates once they are stored."""

    def store(self, updates: RawUpdates) -> None:
        """Keep updates, whole or not at all; in whatever thread."""

    async def take_up(self, updates: RawUpdates) -> None:
        """Answer what is stored; raises LogbookError."""

    async def note_word(self) -> None:
        """The messenger has answered; raises LogbookError."""

    def refuse(self, reason: SecretsError) -> None:
        """Close: it cannot be served like this."""


async def listen(door: Door, bot: Bot, webhook: Webhook, pauses: Pauses) -> None:
    """Hear of updates at the webhook until cancelled; the messenger then keeps them until it is asked, or told anew.

    The secret is made at each start and kept nowhere: of a delivery that carries the one before, the messenger hears
    that it was refused, and brings it again with the new one.
    """
    came: asyncio.Queue[dict[str, Any]] = asyncio.Queue()  # only a hint: the inbox is the record
    loop, secret = asyncio.get_running_loop(), secrets.token_urlsafe(SECRET_BYTES)

    def keep(update: dict[str, Any]) -> None:
        door.store([update])
        with suppress(RuntimeError):  # the loop has ended; the next start takes it from the inbox
            loop.call_soon_threadsafe(came.put_nowait, update)

    try:
        server = UpdateServer(webhook.port, secret, keep)
    except OSError as error:
        door.refuse(SecretsError(f"BEDSTRAW_WEBHOOK_PORT {webhook.port} cannot be used: {error.strerror}."))
        return
    server.start()
    log.info("updates are brought to loopback, port %d", server.port)
    telling = asyncio.ensure_future(_tell(door, bot, webhook, secret, pauses))
    try:
        await _take_up(door, came, pauses)
    finally:
        telling.cancel()
        await asyncio.gather(telling, return_exceptions=True)
        await asyncio.to_thread(server.stop)
        await _say_goodbye(bot)


async def _take_up(door: Door, came: asyncio.Queue[dict[str, Any]], pauses: Pauses) -> None:
    """Take what waits in the inbox, then whatever is brought."""
    updates: RawUpdates = []
    while True:
        try:
            await door.take_up(updates)
        except LogbookError as error:
            log.warning("what was brought waits: %s", error)
            await asyncio.sleep(pauses.first_s)
            updates = []
            continue
        updates = [await came.get()]
        while not came.empty():
            updates.append(came.get_nowait())


async def _tell(door: Door, bot: Bot, webhook: Webhook, secret: str, pauses: Pauses) -> None:
    """Say where updates are to be brought, and say it again now and then: a poller may have said otherwise."""
    pause_s = pauses.first_s
    while True:
        try:
            await bot.set_webhook(
                webhook.address,
                secret_token=secret,
                allowed_updates=KINDS,
                max_connections=AT_ONCE,
                drop_pending_updates=False,
            )
            await door.note_word()
        except InvalidToken:
            door.refuse(TokenError())
            return
        except (TelegramError, LogbookError) as error:
            seconds = wait_s(error, pause_s, pauses)
            words = in_words(error)
            log.warning("the messenger could not be told of the webhook, next try in %.0f s: %s", seconds, words)
            await asyncio.sleep(seconds)
            pause_s = min(2 * pause_s, pauses.longest_s)
        else:
            pause_s = pauses.first_s
            await asyncio.sleep(pauses.webhook_s)


async def _say_goodbye(bot: Bot) -> None:
    """Nothing is to be brought to a closed door: the messenger keeps updates a day for whoever asks next."""
    try:
        async with asyncio.timeout(GOODBYE_S):
            await bot.delete_webhook(drop_pending_updates=False)
    except (TelegramError, TimeoutError) as error:
        log.warning("the webhook could not be taken back: %s", in_words(error))
