"""A freeze evening: one nudge to each of many people at once through the real door, while growers answer and ask.

    python -m tests.benchmarks.freeze_evening [PEOPLE] [GARDENS] [QUEUED] [strict] [cold]

The program is `bedstraw serve-many` as it is started by hand, on PostgreSQL and the tests' emulator, by the real clock.
QUEUED nudges wait, of which the sending of the first PEOPLE is timed. Meanwhile one message a second comes in: the
grower of each of GARDENS gardens of six figs, whose rounds have been made, says "closed", and later asks "why". With
`cold` the program was started anew in between, so that for the first of the two no outlook is at hand. How strictly
the real server counts its 30 messages a second is not published. Here it keeps a bucket of 30 that fills at 30 a
second, or with `strict` answers 429 to each message past the 30 of any sliding second. Prints messages a second against
those 30, and how long replies took from typing to the phone.
"""

import collections
import json
import os
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from bot.logbook import Logbook, enqueue, last_round, note_person, open_logbook
from bot.messages import OnUnknown, Outgoing
from tests.bot.invented_gardens import write_garden_file
from tests.bot.postgres_server import running_server
from tests.bot.telegram.emulator import Emulator, Mended
from tests.bot.telegram.open_door import wait_for
from tests.bot.telegram.phone import Phone
from tests.bot.telegram.programs import serving_many
from tests.bot.telegram.proxy import Answer, Call, Wire, proxied, refusal

ALLOWED_PER_SECOND = 30  # messages to all chats together, as the messenger's own documentation says
GROWERS = 90_000  # chats from here on are of people who write
TREES = 6
A_MESSAGE_S = 1.0  # between what two growers say


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


def gardens_in(folder: Path, logbook: Logbook, count: int) -> list[str]:
    names = [f"Garden {number}" for number in range(count)]
    with logbook.begin() as c:
        for number, name in enumerate(names):
            write_garden_file(folder, name, f"Fig {number}", now(), trees=TREES)
            note_person(c, name, GROWERS + number, "Rowan", "owner")
    return names


def nudges(logbook: Logbook, count: int) -> None:
    with logbook.begin() as c:
        for number in range(count):
            at = now()
            nudge = Outgoing(
                key=f"n{number}", chat_id=1000 + number, text="Close the cap by 16:50.", due_utc=at,
                expires_utc=at + timedelta(hours=2), on_unknown=OnUnknown.RESEND,
            )  # fmt: skip
            enqueue(c, nudge, "Larkmoor", f"n{number}")


def rounds_made(logbook: Logbook, names: list[str]) -> bool:
    with logbook.begin() as c:
        return all(last_round(c, name) is not None for name in names)


def sent(wire: Wire) -> int:
    return len(wire.accepted("sendMessage"))


def told_after_s(wire: Wire, phone: Phone, words: str) -> float:
    """From typing to the answer on the phone."""
    before, typed = len(wire.accepted("sendMessage", chat_id=phone.chat_id)), time.monotonic()
    phone.says(words)
    wait_for(lambda: len(wire.accepted("sendMessage", chat_id=phone.chat_id)) > before, "an answer", 60)
    return time.monotonic() - typed


def talk(wire: Wire, phones: list[Phone]) -> list[tuple[str, float]]:
    """What each grower said, and after how long it was answered; nobody waits for the answer of another."""
    said = [(phone, words) for words in ("closed", "why") for phone in phones]
    began = time.monotonic()

    def after_a_while(number: int) -> tuple[str, float]:
        time.sleep(max(0.0, began + number * A_MESSAGE_S - time.monotonic()))
        phone, words = said[number]
        return words, told_after_s(wire, phone, words)

    with ThreadPoolExecutor(max_workers=10) as pool:
        return list(pool.map(after_a_while, range(len(said))))


def main() -> None:
    numbers = [int(one) for one in sys.argv[1:] if one.isdigit()]
    people, gardens, queued = numbers + [2400, 40, 10_000][len(numbers) :]
    emulator = Emulator()
    token, mended = emulator.fresh_token(), Mended(lambda: now().timestamp())
    limited = Limited(mended, strict="strict" in sys.argv)
    phones = [Phone(emulator, mended, token, now, GROWERS + n, "Rowan", GROWERS + n) for n in range(gardens)]
    with running_server() as server, tempfile.TemporaryDirectory() as place, proxied(emulator.port, limited) as wire:
        server.run("CREATE DATABASE evening")
        url, folder = server.url("evening"), Path(place)
        logbook = open_logbook(url)
        names = gardens_in(folder, logbook, gardens)
        with serving_many(folder, url, token, wire.address) as bot:
            wait_for(lambda: rounds_made(logbook, names), "a round of all gardens", 600)
            if "cold" not in sys.argv:
                evening(logbook, wire, limited, phones, people, queued)
            bot.send_signal(signal.SIGTERM)  # in order, so that the next one leads at once
            bot.wait()
        if "cold" in sys.argv:
            with serving_many(folder, url, token, wire.address):
                evening(logbook, wire, limited, phones, people, queued)
        logbook.close()
    emulator.stop()


def evening(logbook: Logbook, wire: Wire, limited: Limited, phones: list[Phone], people: int, queued: int) -> None:
    """The evening itself, and what was seen of it."""
    first = sent(wire)
    nudges(logbook, queued)
    wait_for(lambda: sent(wire) > first, "the first nudge", 60)
    began, before, told = time.monotonic(), sent(wire), list[tuple[str, float]]()
    talker = threading.Thread(target=lambda: told.extend(talk(wire, phones)))
    talker.start()
    while sent(wire) - before < people:
        time.sleep(0.2)
    took, rate = time.monotonic() - began, (sent(wire) - before) / (time.monotonic() - began)
    talker.join()
    print(f"{queued} nudges queued, {people} messages sent in {took:.1f} s: {rate:.1f} a second, ", end="")
    print(f"{rate / ALLOWED_PER_SECOND:.0%} of {ALLOWED_PER_SECOND}; at most {limited.most} within a second")
    print(f"{limited.refused} answered 429")
    for words in ("closed", "why"):
        p50, p99, worst = np.percentile([s for one, s in told if one == words], [50, 99, 100])
        print(f"{len(phones)} times {words!r}: answered in p50 {p50:.2f} s, p99 {p99:.2f} s, worst {worst:.2f} s")
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
