"""kill -9 in the middle of a conversation over real HTTP: nothing lost, nothing twice without saying so.

By hand, for more kills: python -m tests.bot.telegram.test_telegram_crash 100
"""

import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Self

import pytest
import sqlalchemy as sa

from bot.logbook import Logbook, open_logbook, read_state
from bot.logbook.database.tables import inbox, outbox
from bot.outbox import REPEAT_WORDS
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.emulator import Emulator, Mended
from tests.bot.telegram.open_door import fast_clock, wait_for
from tests.bot.telegram.proxy import proxied
from tests.bot.telegram.serve_process import NUDGES

ROOT = Path(__file__).parents[3]
SCRIPT = Path(__file__).with_name("serve_process.py")
PER_START = 3  # messages typed before each start
LONGEST_S = 0.3  # life of a bot after its first poll
WORDS = re.compile(r"(message|nudge)-\d+\.")


class Processes:
    """One bot after the other, in real processes."""

    def __init__(self, town: Town, path: Path, kind: str) -> None:
        command = [sys.executable, str(SCRIPT), str(path), town.wire.address, town.token, kind]
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        self.town, self.typed = town, 0
        self.parent = subprocess.Popen(
            command, text=True, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        """Leave no process behind, whatever happened."""
        if self.parent.poll() is None:
            os.kill(self.bot, signal.SIGKILL)
            self.parent.kill()
            self.parent.communicate()

    def start(self) -> tuple[int, int]:
        """Its process id, and how the one before ended."""
        assert self.parent.stdin is not None
        assert self.parent.stdout is not None
        self.parent.stdin.write("go\n")
        self.parent.stdin.flush()
        bot, ended = self.parent.stdout.readline().split()
        self.bot = int(bot)
        return self.bot, int(ended)

    def end(self) -> int:
        """How the last one ended."""
        assert self.parent.stdin is not None
        assert self.parent.stdout is not None
        self.parent.stdin.close()
        ended = int(self.parent.stdout.readline().split()[1])
        self.parent.stdout.close()
        self.parent.wait()
        return ended

    def type(self, count: int) -> None:
        for _ in range(count):
            self.typed += 1
            self.town.phone(self.typed % 7 + 1).says(f"message-{self.typed}.")

    def kill_often(self, kills: int, seed: int) -> list[int]:
        chance, ends = random.Random(seed), []
        for _ in range(kills):
            self.type(PER_START)
            polls = len(self.town.wire.asked("getUpdates"))
            bot, ended = self.start()
            ends.append(ended)
            wait_for(lambda polls=polls: len(self.town.wire.asked("getUpdates")) > polls, "the first poll")  # type: ignore[misc]
            threading.Event().wait(chance.uniform(0, LONGEST_S))
            os.kill(bot, signal.SIGKILL)
        return ends[1:]

    def finish(self, is_done: Callable[[], bool]) -> list[int]:
        """Start once more, let it finish, ask it to stop; how the last two ended."""
        self.type(PER_START)
        bot, ended = self.start()
        try:
            wait_for(is_done, "the last bot to finish its work")
        finally:
            os.kill(bot, signal.SIGTERM)
        return [ended, self.end()]


@dataclass
class Tally:
    """What became of all messages and nudges."""

    messages: int
    kills: int
    lost: list[str]
    doubled: list[str]
    repeats: int  # marked as such
    held: int  # small talk of unclear outcome, not worth a repeat
    held_unseen: int  # of these, what never arrived


def arrivals(town: Town) -> Counter[str]:
    found = (WORDS.search(call.fields["text"]) for call in town.wire.accepted("sendMessage"))
    return Counter(match[0] for match in found if match)


def nothing_left(logbook: Logbook, typed: int) -> bool:
    with logbook.begin() as c:
        taken = c.scalar(sa.select(sa.func.count()).where(inbox.c.state == "done"))
        waiting = outbox.c.state.in_(["queued", "sending"])
        left = c.scalar(sa.select(sa.func.count()).select_from(outbox).where(waiting))
        nudged = c.scalar(sa.select(sa.func.count()).where(outbox.c.key.startswith("nudge")))
    return (taken, left, nudged) == (typed, 0, NUDGES)


def tally(town: Town, logbook: Logbook, typed: int, kills: int) -> Tally:
    arrived = arrivals(town)
    sent = [call.fields["text"] for call in town.wire.accepted("sendMessage")]
    plain = Counter(text for text in sent if not text.startswith(REPEAT_WORDS))
    with logbook.begin() as c:
        counted = int(read_state(c, "Larkmoor", "heard") or 0)
        unclear = sa.select(outbox.c.text).where(outbox.c.state == "unknown", outbox.c.on_unknown == "hold")
        held = {match[0] for text in c.scalars(unclear) if (match := WORDS.search(text))}
    wanted = [f"message-{n + 1}." for n in range(typed)] + [f"nudge-{n}." for n in range(NUDGES)]
    lost = [words for words in wanted if not arrived[words] and words not in held]
    lost += [] if counted == typed else [f"the state counts {counted} of {typed}"]
    return Tally(
        messages=typed,
        kills=kills,
        lost=lost,
        doubled=[text for text, count in plain.items() if count > 1],
        repeats=len(sent) - plain.total(),
        held=len(held),
        held_unseen=sum(not arrived[words] for words in held),
    )


def crash_often(town: Town, path: Path, kills: int) -> tuple[list[int], Tally]:
    logbook = open_logbook(path)
    with Processes(town, path, "durable") as bots:
        ends = bots.kill_often(kills, seed=2026)
        ends += bots.finish(lambda: nothing_left(logbook, bots.typed))
    found = tally(town, logbook, bots.typed, kills)
    logbook.close()
    return ends, found


@pytest.mark.processes
def test_kills_lose_nothing_and_repeat_nothing_unmarked(town: Town, tmp_path: Path) -> None:
    ends, found = crash_often(town, tmp_path / "larkmoor.logbook", kills=8)
    assert ends == [-signal.SIGKILL] * 8 + [0]  # killed by us, never by itself; the last one stopped when asked to
    assert (found.lost, found.doubled) == ([], [])
    assert found.messages == 27


@pytest.mark.processes
def test_a_bot_that_only_polls_fails_this_test(town: Town, tmp_path: Path) -> None:
    with Processes(town, tmp_path / "none.logbook", "naive") as bots:
        for _ in range(2):
            bots.type(PER_START)
            seen = len(arrivals(town))
            bot, _ended = bots.start()
            wait_for(lambda seen=seen: len(arrivals(town)) > seen, "an answer")  # type: ignore[misc]
            os.kill(bot, signal.SIGKILL)
        bots.finish(lambda: arrivals(town)[f"message-{bots.typed}."] > 0)
    assert len(arrivals(town)) < bots.typed


def main() -> None:
    emulator, kills = Emulator(), int(sys.argv[1])
    token, now = emulator.fresh_token(), fast_clock()
    mended = Mended(lambda: now().timestamp())
    with proxied(emulator.port, mended) as wire, tempfile.TemporaryDirectory() as folder:
        ends, found = crash_often(Town(emulator, wire, mended, token, now), Path(folder) / "larkmoor.logbook", kills)
    emulator.stop()
    print(found, f"strange ends: {[end for end in ends[:-1] if end != -signal.SIGKILL]}, last: {ends[-1]}")


if __name__ == "__main__":
    main()
