"""The loops of the Telegram door: poll and store, take, send. Stopped by one event; nothing waits in memory."""

import asyncio
import json
import logging
import warnings
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from functools import partial
from typing import Any, Final, Protocol

from telegram.error import Conflict, InvalidToken, RetryAfter, TelegramError
from telegram.ext import AIORateLimiter, ExtBot
from telegram.request import HTTPXRequest
from telegram.warnings import PTBUserWarning

from bot.inbox import RawUpdate, store
from bot.logbook import Logbook
from bot.messages import redacted
from bot.outbox import Outcome, claim, finish, recover
from bot.telegram_chat.reading import read_update
from bot.telegram_chat.sending import TelegramSender

KINDS: Final = ["message", "edited_message", "callback_query", "my_chat_member"]
LONG_POLL_S: Final = 25
AFTER_CONFLICT_S: Final = 15.0  # a roll-over overlaps for a while; dying would not help
LONGEST_PAUSE_S: Final = 60.0
SEND_PAUSE_S: Final = 0.5  # between looks into the outbox when nothing was due
BATCH: Final = 20

log = logging.getLogger(__name__)


class TokenError(Exception):
    """The messenger refuses the token; the sentence says what to do and never holds it."""


class Conversation(Protocol):
    """What stands behind the door: it takes what came in and ticks with the clock."""

    logbook: Logbook

    def take_pending(self, read: Callable[[str], Any], now: Callable[[], datetime]) -> None:
        """Answer all that waits in the inbox."""

    def tick(self, now: datetime) -> None:
        """Look at the weather and the clock, and write what is due into the outbox."""


def make_bot(token: str, address: str) -> ExtBot[int]:
    """The transport, with timeouts long enough that a slow answer is not taken for a lost message."""
    return ExtBot(
        token,
        base_url=f"{address}/bot",
        base_file_url=f"{address}/file/bot",
        rate_limiter=AIORateLimiter(max_retries=0),
        request=HTTPXRequest(
            connection_pool_size=20, connect_timeout=5, read_timeout=15, write_timeout=15, pool_timeout=5
        ),
        get_updates_request=HTTPXRequest(connection_pool_size=1, read_timeout=LONG_POLL_S + 15),
    )


async def serve(
    conversation: Conversation,
    token: str,
    address: str,
    stop: asyncio.Event,
    timetable: Callable[[Callable[[], Awaitable[None]]], Any],
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> None:
    """Serve one conversation until `stop` is set.

    Raises
    ------
    TokenError
        The messenger refuses the token.
    """
    door = _Door(conversation, stop, now)
    async with make_bot(token, address) as bot:
        sender = TelegramSender(bot)
        await door.in_thread(lambda: recover(conversation.logbook, "telegram", now()))
        scheduler = timetable(door.tick)
        try:
            async with asyncio.TaskGroup() as group:
                group.create_task(_until(door.poll(bot, sender), stop))
                group.create_task(door.send(sender))  # ends by itself: a send under way is never cut off
        except* TokenError as errors:
            raise errors.exceptions[0] from None
        finally:
            scheduler.shutdown(wait=False)
            door.close()


async def _until(loop: Awaitable[None], stop: asyncio.Event) -> None:
    """Run `loop` until it ends or `stop` is set; an unconfirmed long poll may be cancelled, nothing is lost."""
    task = asyncio.ensure_future(loop)
    halt = asyncio.ensure_future(stop.wait())
    try:
        await asyncio.wait({task, halt}, return_when=asyncio.FIRST_COMPLETED)
        if task.done():
            task.result()
    finally:
        task.cancel()
        halt.cancel()


class _Door:
    """The loops share one thread for the logbook, so that a wait for its lock never holds up the event loop."""

    def __init__(self, conversation: Conversation, stop: asyncio.Event, now: Callable[[], datetime]) -> None:
        self._conversation = conversation
        self._stop = stop
        self._now = now
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="logbook")

    async def in_thread(self, work: Callable[[], Any]) -> Any:
        return await asyncio.get_running_loop().run_in_executor(self._thread, work)

    def close(self) -> None:
        self._thread.shutdown(wait=True)

    async def tick(self) -> None:
        await self.in_thread(lambda: self._conversation.tick(self._now()))

    async def poll(self, bot: ExtBot[int], sender: TelegramSender) -> None:
        """Store each batch before it is confirmed, then take it. Starts with no offset: the server knows."""
        offset: int | None = None
        pause_s = 1.0
        await self.in_thread(self._take)
        while not self._stop.is_set():
            try:
                updates = await _get_updates(bot, offset)
            except InvalidToken:
                raise TokenError(
                    "Telegram does not know this token. Ask @BotFather for it again and put it into BEDSTRAW_TOKEN."
                ) from None
            except TelegramError as error:
                await self._pause(_wait_s(error, pause_s), error)
                pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
                continue
            pause_s = 1.0
            if updates:
                await self.in_thread(partial(self._store, updates))
                offset = max(update["update_id"] for update in updates) + 1  # only after the commit
                await self.in_thread(self._take)
                await _stop_spinners(updates, sender)

    async def send(self, sender: TelegramSender) -> None:
        """Send what is due, each message outside any transaction."""
        logbook = self._conversation.logbook
        while not self._stop.is_set():
            batch = await self.in_thread(lambda: claim(logbook, self._now(), BATCH, "telegram"))
            for claimed in batch:
                result = await sender.send(claimed)
                await self.in_thread(partial(finish, logbook, claimed, result, self._now()))
                if result.outcome is Outcome.FORBIDDEN_TOKEN:
                    log.error("the messenger refuses the token: %s", result.reason)
            if not batch:
                await self._pause(SEND_PAUSE_S)

    def _store(self, updates: list[dict[str, Any]]) -> None:
        with self._conversation.logbook.begin() as c:
            store(c, [RawUpdate(u["update_id"], json.dumps(u), self._now(), _chat_of(u)) for u in updates])

    def _take(self) -> None:
        self._conversation.take_pending(read_update, self._now)

    async def _pause(self, seconds: float, error: TelegramError | None = None) -> None:
        if error is not None:
            log.warning("no updates, next try in %.0f s: %s", seconds, redacted(f"{type(error).__name__}: {error}"))
        try:
            await asyncio.wait_for(self._stop.wait(), seconds)
        except TimeoutError:
            return


def _wait_s(error: TelegramError, pause_s: float) -> float:
    if isinstance(error, RetryAfter):
        wait = error.retry_after
        return float(wait if isinstance(wait, int | float) else wait.total_seconds())
    return AFTER_CONFLICT_S if isinstance(error, Conflict) else pause_s


async def _get_updates(bot: ExtBot[int], offset: int | None) -> list[dict[str, Any]]:
    """Raw updates, since one that the library cannot parse would stop it for ever."""
    ask: dict[str, Any] = {"timeout": LONG_POLL_S, "allowed_updates": KINDS}
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", category=PTBUserWarning, message=".*do_api_request.*|.*Please use.*")
        raw = await bot.do_api_request(
            "getUpdates", ask | ({"offset": offset} if offset else {}), read_timeout=LONG_POLL_S + 15
        )
    return [update for update in raw if isinstance(update, dict) and isinstance(update.get("update_id"), int)]


def _chat_of(update: dict[str, Any]) -> int | None:
    """The chat of a raw update, so that a chat keeps its order; None where its shape is strange."""
    for kind in KINDS:
        part = update.get(kind)
        if isinstance(part, dict):
            chat = (part.get("message") or part).get("chat") if kind == "callback_query" else part.get("chat")
            return chat.get("id") if isinstance(chat, dict) else None
    return None


async def _stop_spinners(updates: list[dict[str, Any]], sender: TelegramSender) -> None:
    for update in updates:
        tap = update.get("callback_query")
        if isinstance(tap, dict) and tap.get("id"):
            await sender.acknowledge(str(tap["id"]))
