"""The loops of the Telegram door: poll and store, take, send. Stopped by one event; nothing waits in memory."""

import asyncio
import logging
import math
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from functools import partial
from typing import Any, Final

from telegram import Bot
from telegram.error import Conflict, InvalidToken, TelegramError

from bot.inbox import Conversation
from bot.logbook import LogbookError
from bot.logbook.programs.last_heard import Outside, note_heard
from bot.messages import in_words, redacted
from bot.outbox import Claimed, Outcome, claim, finish, pace_s, recover
from bot.settings import SecretsError
from bot.telegram_chat.introduction import introduce
from bot.telegram_chat.keeping import keep
from bot.telegram_chat.photos import Shelf, fetch_for_ever
from bot.telegram_chat.reading import read_update
from bot.telegram_chat.sending import TelegramSender
from bot.telegram_chat.transport import Pauses, RawUpdates, TokenError, bot_id_of, connected, get_updates, wait_s
from bot.telegram_chat.waiting import in_daemon_thread, until
from bot.telegram_chat.webhook import Webhook
from bot.telegram_chat.webhook_loop import listen

# Sends under way at the same time: of a program that dies, these are unknown. At 0.25 s a call, 32 a second.
AT_ONCE: Final = 8
BUSY_S: Final = 1.0  # how long after a message it may be the pace, and not a lack of them, that holds up the next
LEAST_S: Final = 0.005
WHO: Final = "telegram"

log = logging.getLogger(__name__)


async def serve(
    conversation: Conversation,
    token: str,
    address: str,
    stop: asyncio.Event,
    timetable: Callable[[Callable[[], Awaitable[None]]], Any],
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
    pauses: Pauses = Pauses(),  # noqa: B008 - frozen
    shelf: Shelf | None = None,
    webhook: Webhook | None = None,
    news: asyncio.Event | None = None,
) -> None:
    """Serve one conversation until `stop` is set; a network that is not there yet is waited for.

    A refused token sets `stop` too. `shelf` keeps the photos people send; None keeps none. With `webhook` the messenger
    brings the updates; without, it is asked for them. Whoever sets `news` has the outbox looked into at once.

    Raises
    ------
    TokenError
        The messenger refuses the token.
    SecretsError
        The webhook's port cannot be used.
    """
    async with connected(token, address, pauses) as bot:
        sender = TelegramSender(bot)
        door = _Door(conversation, sender, stop, now, pauses, bot_id_of(token), news or asyncio.Event())
        await door.surely(lambda: recover(conversation.logbook, WHO, now()))
        scheduler = timetable(door.tick)
        try:
            async with asyncio.TaskGroup() as group:
                receive = door.poll(bot) if webhook is None else listen(door, bot, webhook, pauses)
                group.create_task(until(receive, stop))
                group.create_task(
                    until(introduce(bot, conversation.logbook, door.in_thread, pauses.introduction_s), stop)
                )
                group.create_task(door.send())  # ends by itself: a send under way is never cut off
                if shelf is not None:
                    group.create_task(until(fetch_for_ever(bot, shelf, door.in_thread, now, pauses.first_s), stop))
        finally:
            scheduler.shutdown(wait=False)
            door.close()
    if door.refusal is not None:
        raise door.refusal


class _Door:
    """Polling and taking share a thread for the logbook, so that its lock never holds up the event loop.

    Sending has its own: an answer may have to look ahead first, and what is due must not wait for that. The tick has
    one too: it asks weather services, which may take a minute, and answers must not wait.
    """

    def __init__(
        self,
        conversation: Conversation,
        sender: TelegramSender,
        stop: asyncio.Event,
        now: Callable[[], datetime],
        pauses: Pauses,
        bot_id: int | None,
        news: asyncio.Event,
    ) -> None:
        self._conversation = conversation
        self._sender = sender
        self._stop = stop
        self._now = now
        self._pauses = pauses
        self._read = partial(read_update, bot_id=bot_id)
        self.refusal: SecretsError | None = None  # why the door had to close
        self._tidied_s = -math.inf
        self._news = news  # the outbox may hold something new
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="logbook")
        self._outbox = ThreadPoolExecutor(max_workers=1, thread_name_prefix="outbox")

    async def in_thread(self, work: Callable[[], Any]) -> Any:
        return await asyncio.get_running_loop().run_in_executor(self._thread, work)

    async def _in_outbox(self, work: Callable[[], Any]) -> Any:
        return await asyncio.get_running_loop().run_in_executor(self._outbox, work)

    def close(self) -> None:
        for thread in (self._thread, self._outbox):
            thread.shutdown(wait=True)

    async def tick(self) -> None:
        try:
            await in_daemon_thread(lambda: self._conversation.tick(self._now()))
        except asyncio.CancelledError:
            if not self._stop.is_set():
                raise
            return  # left behind on purpose; the scheduler would log it as a fault, with a traceback
        self._news.set()

    async def poll(self, bot: Bot) -> None:
        """Store each batch before it is confirmed, then take it. Starts with no offset: the server knows."""
        offset: int | None = None
        has_webhook = True  # as far as we know; while there is one, the server gives no updates
        pause_s = self._pauses.first_s
        while not self._stop.is_set():
            try:
                if has_webhook:
                    await self._take()
                    await bot.delete_webhook(drop_pending_updates=False)
                    has_webhook = False
                updates = await get_updates(bot, offset, self._pauses.long_poll_s)
                await self.note_word()
                if updates:
                    await self.in_thread(partial(self.store, updates))
                    await self.take_up(updates)
            except InvalidToken:
                self.refuse(TokenError())
                return
            except (TelegramError, LogbookError) as error:
                has_webhook = has_webhook or isinstance(error, Conflict)
                seconds = wait_s(error, pause_s, self._pauses)
                log.warning("no updates, next try in %.0f s: %s", seconds, in_words(error))
                await self._stopped_within(seconds)
                pause_s = min(2 * pause_s, self._pauses.longest_s)
                continue
            pause_s = self._pauses.first_s
            # Only after the commit. An empty answer confirmed all before it: then we ask without an offset, since after
            # a quiet week the ids begin again anywhere, also below (Bot API, Update).
            offset = max(update["update_id"] for update in updates) + 1 if updates else None

    async def note_word(self) -> None:
        """The messenger has answered; raises LogbookError."""
        await self._in_outbox(self._note_word)

    def _note_word(self) -> None:
        with self._conversation.logbook.begin() as c:
            note_heard(c, Outside.MESSENGER, self._now())

    async def send(self) -> None:
        """Send what is due, each message outside any transaction, several chats at a time."""
        under_way: set[asyncio.Task[None]] = set()
        clock, last_s = asyncio.get_running_loop().time, -BUSY_S
        async with asyncio.TaskGroup() as group:
            while not self._stop.is_set():
                batch = await self._claim(AT_ONCE - len(under_way))
                for claimed in batch:
                    task = group.create_task(self._send_one(claimed))
                    under_way.add(task)
                    task.add_done_callback(under_way.discard)
                if batch:
                    last_s = clock()
                else:
                    await self._rest(is_busy=clock() - last_s < BUSY_S)

    async def _claim(self, room: int) -> list[Claimed]:
        logbook, now, at_s = self._conversation.logbook, self._now, asyncio.get_running_loop().time()
        tidy = room > 0 and at_s - self._tidied_s >= self._pauses.first_s
        self._tidied_s = at_s if tidy else self._tidied_s
        try:
            found: list[Claimed] = (
                await self._in_outbox(lambda: claim(logbook, now(), room, WHO, tidy=tidy)) if room else []
            )
        except LogbookError as error:
            log.error("nothing can be sent: %s", error)  # noqa: TRY400 - the sentence says it all
            await self._stopped_within(self._pauses.first_s)
            return []
        return found

    async def _rest(self, *, is_busy: bool) -> None:
        """Wait until the pace allows the next message, whatever comes in; where that does now, for something new."""
        paced_s = 0.0
        try:
            if is_busy:
                paced_s = await self._in_outbox(lambda: pace_s(self._conversation.logbook, self._now()))
        except LogbookError:
            pass  # the next claim will tell of it
        if paced_s > 0:
            await self._stopped_within(min(max(LEAST_S, paced_s), self._pauses.send_s))
        else:
            await self._wait_for_news(self._pauses.send_s)

    async def _send_one(self, claimed: Claimed) -> None:
        result = await self._sender.send(claimed)
        if result.outcome is Outcome.FORBIDDEN_TOKEN:
            self.refuse(TokenError())  # before it is queued again, or it would be claimed once more
        if result.outcome is not Outcome.SENT:
            log.warning("%s: %s (%s)", claimed.key, result.outcome.value, redacted(result.reason))
        await self.surely(partial(finish, self._conversation.logbook, claimed, result, self._now()))
        self._news.set()

    def refuse(self, reason: SecretsError) -> None:
        """Close the door: it cannot be served like this."""
        self.refusal = reason
        self._stop.set()

    async def surely(self, work: Callable[[], Any]) -> None:
        """What must be written down, also when the logbook is locked or out of reach for a while."""
        while True:
            try:
                await self._in_outbox(work)
            except LogbookError as error:
                log.error("what must be noted waits: %s", error)  # noqa: TRY400 - the sentence says it all
                if await self._stopped_within(self._pauses.first_s):
                    return  # the next start finds the send unfinished, which is the truth
            else:
                return

    async def take_up(self, updates: RawUpdates) -> None:
        """Answer all that is stored, and stop the spinners of these updates' buttons; raises LogbookError."""
        async with asyncio.TaskGroup() as both:
            both.create_task(_stop_spinners(updates, self._sender))  # before the answer: a look ahead may take a second
            taken = both.create_task(self._taken())
        error = taken.result()
        if error is not None:
            raise error

    async def _taken(self) -> LogbookError | None:
        """Taking, with its trouble as a value: raised inside a group it would come out wrapped."""
        try:
            await self._take()
        except LogbookError as error:
            return error
        return None

    async def _take(self) -> None:
        await self.in_thread(lambda: self._conversation.take_pending(self._read, self._now))
        self._news.set()

    def store(self, updates: RawUpdates) -> None:
        """Keep updates, whole or not at all."""
        with self._conversation.logbook.begin() as c:
            for update in updates:
                keep(c, update, self._now())

    async def _stopped_within(self, seconds: float) -> bool:
        try:
            await asyncio.wait_for(self._stop.wait(), seconds)
        except TimeoutError:
            return False
        return True

    async def _wait_for_news(self, seconds: float) -> None:
        waits = [asyncio.ensure_future(event.wait()) for event in (self._stop, self._news)]
        await asyncio.wait(waits, timeout=seconds, return_when=asyncio.FIRST_COMPLETED)
        for wait in waits:
            wait.cancel()
        self._news.clear()


async def _stop_spinners(updates: RawUpdates, sender: TelegramSender) -> None:
    taps = [update.get("callback_query") for update in updates]
    ids = [str(tap["id"]) for tap in taps if isinstance(tap, dict) and tap.get("id")]
    await asyncio.gather(*(sender.acknowledge(tap_id) for tap_id in ids))
