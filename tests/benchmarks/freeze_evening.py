"""A freeze evening: one nudge to each of many people at once through the real door, while some of them write to us.

    python tests/benchmarks/freeze_evening.py [PEOPLE] [REPLIES] [QUEUED] [strict]

On PostgreSQL, with QUEUED nudges waiting in all, of which the sending of the first PEOPLE is timed. The door, the wire
and the emulator are those of the tests, the clock is the real one. How strictly the real server counts its 30 messages
a second is not published. Here it keeps a bucket of 30 that fills at 30 a second, or with `strict` answers 429 to each
message past the 30 of any sliding second. Prints messages a second against those 30, and how long replies took from
typing to the phone. The conversation is an echo: this times the road, not the outlook.
"""

import collections
import json
import os
import sys
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np

from bot.logbook import enqueue, open_logbook
from bot.logbook.claims import ALLOWED_PER_SECOND
from bot.messages import OnUnknown, Outgoing
from tests.bot.postgres_server import running_server
from tests.bot.telegram.emulator import Emulator, Mended
from tests.bot.telegram.open_door import Echo, door_open, wait_for
from tests.bot.telegram.phone import Phone
from tests.bot.telegram.proxy import Answer, Call, proxied, refusal

TALKERS = 90_000  # chats from here on are of people who write


def now() -> datetime:
    return datetime.now(UTC)


class Limited:
    """The server's own limit over all chats: a bucket, or strictly within each sliding second."""

    def __init__(self, mended: Mended, *, strict: bool) -> None:
        self._mended, self._strict = mended, strict
        self._lately: collections.deque[float] = collections.deque()
        self._left, self._at_s = float(ALLOWED_PER_SECOND), time.monotonic()
        self._counting = threading.Lock()
        self.refused = self.most = 0

    def __call__(self, call: Call, forward: Callable[[], Answer]) -> Answer:
        if call.method == "sendMessage" and not self._allows():
            fault = refusal("sendMessage", 429, "Too Many Requests: retry after 3", retry_after=3)
            return 429, json.dumps(fault.body).encode()
        return self._mended(call, forward)

    def _allows(self) -> bool:
        with self._counting:
            at_s = time.monotonic()
            while self._lately and self._lately[0] <= at_s - 1:
                self._lately.popleft()
            self._lately.append(at_s)
            self.most = max(self.most, len(self._lately))
            self._left = min(ALLOWED_PER_SECOND, self._left + (at_s - self._at_s) * ALLOWED_PER_SECOND)
            self._at_s = at_s
            allows = len(self._lately) <= ALLOWED_PER_SECOND if self._strict else self._left >= 1
            self._left -= allows
            self.refused += not allows
            return allows


def main() -> None:
    people, replies, queued = [int(v) for v in sys.argv[1:4]] + [500, 30, 10_000][len(sys.argv[1:4]) :]
    emulator = Emulator()
    with running_server() as server:
        server.run("CREATE DATABASE evening")
        logbook = open_logbook(server.url("evening"))
        token, mended = emulator.fresh_token(), Mended(lambda: now().timestamp())
        limited = Limited(mended, strict="strict" in sys.argv)
        with logbook.begin() as c:
            for number in range(max(people, queued)):
                at = now()
                nudge = Outgoing(
                    key=f"n{number}", chat_id=1000 + number, text="Close the cap by 16:50.", due_utc=at,
                    expires_utc=at + timedelta(hours=2), on_unknown=OnUnknown.RESEND,
                )  # fmt: skip
                enqueue(c, nudge, "Kestrel Bench", f"n{number}")
        with proxied(emulator.port, limited) as wire, door_open(Echo(logbook), token, wire.address, now):
            wait_for(lambda: wire.accepted("sendMessage"), "the first nudge", 60)
            began, before = time.monotonic(), len(wire.accepted("sendMessage"))
            took: list[float] = []

            def talk() -> None:
                for number in range(replies):
                    phone = Phone(emulator, mended, token, now, TALKERS + number, "Rowan", TALKERS + number)
                    typed = time.monotonic()
                    phone.says(f"closed {number}")
                    wait_for(phone.screen, "an answer", 60)
                    took.append(time.monotonic() - typed)

            talker = threading.Thread(target=talk)
            talker.start()
            wait_for(lambda: len(wire.accepted("sendMessage")) >= people, "the nudges", people)
            evening, sent = time.monotonic() - began, len(wire.accepted("sendMessage")) - before
            talker.join()
        logbook.close()
    emulator.stop()
    rate = sent / evening
    p50, p99 = np.percentile(took, [50, 99])
    print(f"{queued} nudges queued, {sent} messages sent in {evening:.1f} s: {rate:.1f} a second, ", end="")
    print(f"{rate / ALLOWED_PER_SECOND:.0%} of {ALLOWED_PER_SECOND}; at most {limited.most} within a second")
    print(f"{limited.refused} answered 429; {len(took)} replies meanwhile: p50 {p50:.2f} s, p99 {p99:.2f} s")
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
