"""A Telegram door open in a thread of the test, on a clock that runs faster than ours."""

import asyncio
import threading
import time
from collections.abc import Awaitable, Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any, TypeVar

from bot.inbox import Conversation, Parse, take
from bot.logbook import Connection, Door, Logbook, note_state, read_state
from bot.messages import Incoming, OnUnknown, Outgoing
from bot.telegram_chat import Pauses, Webhook, serve

Found = TypeVar("Found")
STARTED = datetime(2025, 11, 28, 15, tzinfo=UTC)
SPEED = 20  # so that the pauses of politeness between messages cost little
# All that is waited for takes a moment, the start of a program a few seconds of a core. What takes this long hangs: on
# two cores with a load of sixteen a program was seen to take 40 s before it was ready.
DEADLINE_S = 300.0
QUICK = Pauses(first_s=0.05, longest_s=0.2, conflict_s=0.1, send_s=0.02, answer_s=1.0, long_poll_s=50)
CLOSES_WITHIN_S = 30.0  # a second or so; one that waited for its long poll would not make it, nor for a round


def fast_clock(started: datetime = STARTED, speed: float = SPEED) -> Callable[[], datetime]:
    began_s = time.monotonic()
    return lambda: started + speed * timedelta(seconds=time.monotonic() - began_s)


def wait_for(condition: Callable[[], Found], what: str, deadline_s: float = DEADLINE_S) -> Found:
    """What the condition gives once it is true; looked for less and less often, as a look may cost a question."""
    end_s, pause_s = time.monotonic() + deadline_s, 0.01
    while not (found := condition()):
        assert time.monotonic() < end_s, f"waited {deadline_s} s in vain: {what}"
        threading.Event().wait(pause_s)
        pause_s = min(0.2, pause_s * 1.2)
    return found


class Echo:
    """A conversation that says back what it heard, and counts, in one transaction."""

    def __init__(self, logbook: Logbook) -> None:
        self.logbook = logbook
        self.ticks = 0

    def take_pending(self, read: Parse, now: Callable[[], datetime], door: Door = Door.TELEGRAM) -> None:
        take(self.logbook, self._answer, read, now, door=door)

    def tick(self, now: datetime) -> None:  # noqa: ARG002 - the door's words
        self.ticks += 1

    def _answer(self, c: Connection, heard: Incoming) -> list[Outgoing]:
        note_state(c, "Larkmoor", "heard", str(int(read_state(c, "Larkmoor", "heard") or 0) + 1))
        words = f"heard {heard.kind}: {heard.text or heard.button}"
        at = heard.at_utc
        one = Outgoing(
            key=f"reply:{heard.update_id}:0",
            chat_id=heard.chat_id,
            text=words,
            due_utc=at,
            expires_utc=at + timedelta(days=1),
            on_unknown=OnUnknown.RESEND if heard.update_id % 2 else OnUnknown.HOLD,
        )
        return [one]


class OpenDoor:
    """The door while it is open: `tick()` lets the clock strike, `stop()` asks it to close."""

    def __init__(
        self,
        conversation: Conversation,
        token: str,
        address: str,
        now: Callable[[], datetime],
        webhook: Webhook | None = None,
    ) -> None:
        self._ask = (conversation, token, address, now)
        self._webhook = webhook
        self._loop = asyncio.new_event_loop()
        self._stop = asyncio.Event()
        self._tick: Callable[[], Awaitable[None]] | None = None
        self.error: BaseException | None = None
        self.thread = threading.Thread(target=self._run)
        self.thread.start()

    def _run(self) -> None:
        conversation, token, address, now = self._ask
        try:
            with asyncio.Runner(loop_factory=lambda: self._loop) as runner:
                runner.run(
                    serve(conversation, token, address, self._stop, self._timetable, now, QUICK, webhook=self._webhook)
                )
        except BaseException as error:  # noqa: BLE001 - the test looks at it
            self.error = error

    def _timetable(self, tick: Callable[[], Awaitable[None]]) -> Any:
        self._tick = tick
        return self

    def shutdown(self, *, wait: bool) -> None:
        """Nothing to do: this timetable strikes only when a test says so."""

    def tick(self) -> None:
        self.tick_without_waiting().result(DEADLINE_S)

    def tick_without_waiting(self) -> Future[None]:
        wait_for(lambda: self._tick is not None, "the door to open")

        async def once() -> None:
            assert self._tick is not None
            await self._tick()

        return asyncio.run_coroutine_threadsafe(once(), self._loop)

    def ask_to_stop(self) -> None:
        if self.thread.is_alive():
            self._loop.call_soon_threadsafe(self._stop.set)

    def stop(self) -> None:
        """Ask it to close, and see that it does: it takes a second or so, and a door that hangs never does."""
        self.ask_to_stop()
        self.thread.join(CLOSES_WITHIN_S)
        assert not self.thread.is_alive(), "the door does not close"


@contextmanager
def door_open(
    conversation: Conversation,
    token: str,
    address: str,
    now: Callable[[], datetime],
    webhook: Webhook | None = None,
) -> Iterator[OpenDoor]:
    door = OpenDoor(conversation, token, address, now, webhook)
    try:
        yield door
    finally:
        door.stop()
    if door.error is not None:
        raise door.error
