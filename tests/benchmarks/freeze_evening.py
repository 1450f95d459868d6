"""A freeze evening: one nudge to each of many people at once through the real door, while some of them write to us.

    python tests/benchmarks/freeze_evening.py [PEOPLE] [REPLIES]

The door, the wire and the emulator are those of the tests, the clock is the real one. Prints messages a second against
the 25 that our own pacing allows (the messenger allows about 30), and how long replies took from typing to the phone.
"""

import sys
import tempfile
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from bot.logbook import enqueue, open_logbook
from bot.logbook.claims import PER_SECOND
from bot.messages import OnUnknown, Outgoing
from tests.bot.telegram.emulator import Emulator, Mended
from tests.bot.telegram.open_door import Echo, door_open, wait_for
from tests.bot.telegram.phone import Phone
from tests.bot.telegram.proxy import proxied

TALKERS = 90_000  # chats from here on are of people who write


def now() -> datetime:
    return datetime.now(UTC)


def main() -> None:
    people, replies = [int(v) for v in sys.argv[1:3]] + [500, 30][len(sys.argv) - 1 :]
    emulator = Emulator()
    with tempfile.TemporaryDirectory() as folder:
        token, mended = emulator.fresh_token(), Mended(lambda: now().timestamp())
        logbook = open_logbook(Path(folder) / "kestrel.logbook")
        with logbook.begin() as c:
            for number in range(people):
                at = now()
                nudge = Outgoing(
                    key=f"n{number}", chat_id=1000 + number, text="Close the cap by 16:50.", due_utc=at,
                    expires_utc=at + timedelta(hours=2), on_unknown=OnUnknown.RESEND,
                )  # fmt: skip
                enqueue(c, nudge, "Kestrel Bench", f"n{number}")
        with proxied(emulator.port, mended) as wire, door_open(Echo(logbook), token, wire.address, now):
            began = time.monotonic()
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

            def sent() -> int:
                return len([c for c in wire.accepted("sendMessage") if int(c.fields["chat_id"]) < TALKERS])

            wait_for(lambda: sent() >= people, "all nudges", people)
            evening = time.monotonic() - began
            talker.join()
            asked = len(wire.asked("sendMessage"))
        logbook.close()
    emulator.stop()
    rate = (people + min(replies, len(took))) / evening
    p50, p99 = np.percentile(took, [50, 99])
    print(f"{people} nudges in {evening:.1f} s: {rate:.1f} messages a second, {rate / PER_SECOND:.0%} of {PER_SECOND}")
    print(f"{len(took)} replies meanwhile: p50 {p50:.2f} s, p99 {p99:.2f} s")
    print(f"{asked} sends asked for {people + len(took)} messages")


if __name__ == "__main__":
    main()
