"""kill -9 at random moments while replies and nudges flow: nothing lost, nothing twice without saying so."""

import json
import os
import random
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from bot.logbook import NudgeState, open_logbook, read_state
from bot.logbook.database.tables import nudges, outbox, records
from bot.outbox import REPEAT_WORDS

ROOT = Path(__file__).parents[3]
WORKER = Path(__file__).with_name("worker.py")
NUDGES = 40
PER_START = 2  # updates typed before each start of the bot
LONGEST_LIFE_S = 0.12  # after its first poll
DEADLINE_S = 120.0
LONGEST_ANSWER_S = 0.008


@dataclass
class Messenger:
    """The far side: hands out updates until they are confirmed, and writes down what it accepted, as it accepts it."""

    chance: random.Random
    updates: list[dict[str, Any]] = field(default_factory=list)
    polled: threading.Event = field(default_factory=threading.Event)
    confirmed: threading.Event = field(default_factory=threading.Event)
    killed: threading.Event = field(default_factory=threading.Event)
    keeps_waiting: bool = False  # who confirms waits for the answer until it is killed
    typed: int = 0
    accepted: list[dict[str, Any]] = field(default_factory=list)
    stop: bool = False
    lock: threading.Lock = field(default_factory=threading.Lock)

    def type(self, count: int) -> None:
        with self.lock:
            for number in range(self.typed + 1, self.typed + count + 1):
                self.updates.append({"id": number, "chat_id": number % 7 + 1, "text": "closed porch"})
            self.typed += count

    def get_updates(self, asked: dict[str, Any]) -> Any:
        with self.lock:
            left = [update for update in self.updates if update["id"] >= asked["offset"]]
            confirms, self.updates = len(left) < len(self.updates), left
        self.polled.set()
        if confirms:
            self.confirmed.set()
            if self.keeps_waiting:
                self.killed.wait(DEADLINE_S)
        return {"updates": left, "stop": self.stop}

    def send(self, asked: dict[str, Any]) -> Any:
        with self.lock:
            self.accepted.append(asked)
            number, pause_s = len(self.accepted), self.chance.uniform(0, LONGEST_ANSWER_S)
        threading.Event().wait(pause_s)  # accepted, but the bot does not know yet: where a kill hurts most
        return number


@contextmanager
def served(messenger: Messenger) -> Iterator[str]:
    class Door(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            if len(body) < int(self.headers["Content-Length"]):
                return  # the bot died while asking
            method = {"/getUpdates": messenger.get_updates, "/send": messenger.send}[self.path]
            answer = json.dumps(method(json.loads(body))).encode()
            self.send_response(200)
            self.send_header("Content-Length", str(len(answer)))
            self.end_headers()
            self.wfile.write(answer)

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002, ARG002 - the library's
            return

    class Quiet(ThreadingHTTPServer):
        daemon_threads = True

        def handle_error(self, request: Any, client_address: Any) -> None:
            if not isinstance(sys.exc_info()[1], ConnectionError):  # a killed bot does not listen to the answer
                super().handle_error(request, client_address)

    server = Quiet(("127.0.0.1", 0), Door)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    yield f"127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


def crash_often(place: Path | str, messenger: Messenger, kind: str, kills: int, seed: int) -> list[int]:
    """How each bot ended: killed again and again at random moments, the last one left to finish.

    A life begins with the first poll, however long the machine takes to come to it. One that confirms before it stores
    is killed as it confirms.
    """
    messenger.keeps_waiting = kind == "naive"
    moment = messenger.confirmed if messenger.keeps_waiting else messenger.polled
    chance = random.Random(seed)
    with served(messenger) as address:
        command = [sys.executable, str(WORKER), str(place), address, kind]
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
        with subprocess.Popen(command, text=True, env=environment, **pipes) as parent:  # type: ignore[call-overload]
            ends = []
            for _ in range(kills):
                messenger.type(PER_START)
                moment.clear()
                messenger.killed.clear()
                bot, ended = start_one(parent)
                ends.append(ended)
                assert moment.wait(DEADLINE_S), "the bot never came to ask"
                if not messenger.keeps_waiting:
                    threading.Event().wait(chance.uniform(0, LONGEST_LIFE_S))
                os.kill(bot, signal.SIGKILL)
                messenger.killed.set()
            messenger.type(PER_START)
            messenger.stop = True
            ends.append(start_one(parent)[1])
            parent.stdin.close()
            ends.append(int(parent.stdout.readline().split()[1]))
            return ends[1:]


def start_one(parent: Any) -> tuple[int, int]:
    parent.stdin.write("go\n")
    parent.stdin.flush()
    bot, ended = parent.stdout.readline().split()
    return int(bot), int(ended)


def faults(place: Path | str, messenger: Messenger) -> list[str]:
    """Everything that was lost, or came twice without saying so."""
    logbook = open_logbook(place)
    with logbook.begin() as c:
        counted = int(read_state(c, "Larkmoor", "count") or 0)
        deeds = list(c.scalars(sa.select(records.c.update_id).order_by(records.c.update_id)))
        rows = {row.key: row for row in c.execute(sa.select(outbox))}
        opened = set(c.scalars(sa.select(nudges.c.key).where(nudges.c.state == NudgeState.OPEN.value)))
    logbook.close()
    said = list(range(1, messenger.typed + 1))
    found = [] if deeds == said else [f"updates in the state: {deeds}, typed: {said}"]
    found += [] if counted == len(said) else [f"counted {counted} of {len(said)}"]
    wanted = {f"nudge:{n}" for n in range(NUDGES)} | {f"reply:{n}:0" for n in said}
    wanted |= {f"edit:{n}:1" for n in said if n % 5 == 0}
    for key in sorted(wanted):
        texts = [sent["text"] for sent in messenger.accepted if sent["key"] == key]
        known_as_unclear = key in rows and rows[key].state == "unknown" and rows[key].on_unknown == "hold"
        if not texts and (key.startswith("nudge") or not known_as_unclear):
            found.append(f"{key} never arrived")
        if key.startswith("nudge") and key not in opened and rows:
            found.append(f"{key} is not on record")
        if not key.startswith("edit"):
            found += [f"{key} came again unmarked" for text in texts[1:] if not text.startswith(REPEAT_WORDS)]
            if len(texts) > 1 and (key not in rows or rows[key].attempts < len(texts)):
                found.append(f"{key} was repeated without an unknown outcome")
    return found


@pytest.mark.processes
def test_six_kills_lose_no_reply_and_no_nudge_and_repeat_none_unmarked(place: Path | str) -> None:
    messenger = Messenger(chance=random.Random(1))
    ends = crash_often(place, messenger, "durable", kills=6, seed=2026)
    assert ends == [-signal.SIGKILL] * 6 + [0]  # killed by us, never by itself; the last one finished its work
    assert messenger.typed == 14
    assert faults(place, messenger) == []


@pytest.mark.processes
def test_a_bot_that_confirms_before_it_stores_fails_this_test(tmp_path: Path) -> None:
    messenger = Messenger(chance=random.Random(1))
    path = tmp_path / "larkmoor.logbook"
    crash_often(path, messenger, "naive", kills=2, seed=2026)
    found = faults(path, messenger)
    assert any("never arrived" in fault for fault in found)
    assert any("updates in the state" in fault for fault in found)
