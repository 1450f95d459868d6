"""`bedstraw` in processes of their own without the start-up of Python: each forked from a parent that has it imported.

Such a program is killed, limited and waited for like any other. `python -m tests.bot.preloaded` is the parent; it is
told in lines of JSON whom to start and whose end to look for, and takes all of them with it when its input ends.
"""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).parents[2]


class Program:
    """A running `bedstraw`, with what the tests need of a `Popen`."""

    def __init__(self, words: Sequence[str], environment: Mapping[str, str], log: Path, cwd: Path = ROOT) -> None:
        """Started with these words and no more of an environment than this; what it says goes to the end of `log`."""
        asked = {"words": list(words), "environment": dict(environment), "log": str(log), "cwd": str(cwd)}
        self.pid: int = _parent_told(asked)
        self._ended: int | None = None

    def poll(self) -> int | None:
        """How it ended, negative by a signal; None while it lives."""
        if self._ended is None:
            self._ended = _parent_told({"ended": self.pid})
        return self._ended

    def wait(self, timeout: float = 300.0) -> int:
        """The same, once it has ended."""
        until_s = time.monotonic() + timeout
        while (ended := self.poll()) is None:
            assert time.monotonic() < until_s, f"process {self.pid} still lives after {timeout} s"
            _pause()
        return ended

    def send_signal(self, sign: signal.Signals) -> None:
        """Sent, unless it has ended."""
        if self.poll() is None:
            os.kill(self.pid, sign)

    def kill(self) -> None:
        """Ended at once."""
        self.send_signal(signal.SIGKILL)


@cache
def _parent() -> "subprocess.Popen[str]":
    """Ends by itself with the tests, when its input does."""
    words = [sys.executable, "-m", "tests.bot.preloaded"]
    return subprocess.Popen(words, cwd=ROOT, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE)


def _parent_told(asked: dict[str, Any]) -> Any:
    parent = _parent()
    assert parent.stdin is not None
    assert parent.stdout is not None
    print(json.dumps(asked), file=parent.stdin, flush=True)
    return json.loads(parent.stdout.readline())


def _pause() -> None:
    """Room for the process to end; not a test's own sleep."""
    import threading

    threading.Event().wait(0.02)


def be_parent() -> None:
    """Start and wait for programs as told, until nobody tells any more."""
    import bot.commands.serving.many_gardens
    import bot.commands.serving.one_garden
    import bot.hosting.fan_out
    import bot.telegram_chat
    import bot.timetable  # noqa: F401 - so that the programs find all of these imported

    alive: set[int] = set()
    for line in sys.stdin:
        asked = json.loads(line)
        if "ended" in asked:
            told = _how_ended(asked["ended"])
            alive -= {asked["ended"]} if told is not None else set()
        else:
            told = os.fork()
            if told == 0:
                sys.exit(_be_program(asked))
            alive.add(told)
        print(json.dumps(told), flush=True)
    for pid in alive:
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)


def _how_ended(pid: int) -> int | None:
    ended, status = os.waitpid(pid, os.WNOHANG)
    return os.waitstatus_to_exitcode(status) if ended else None


def _be_program(asked: dict[str, Any]) -> int:
    """Nothing of the parent is left but what it has imported."""
    from bot.__main__ import main

    nothing, log = os.open(os.devnull, os.O_RDONLY), os.open(asked["log"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.dup2(nothing, 0)
    for output in (1, 2):
        os.dup2(log, output)
    os.chdir(asked["cwd"])
    os.environ.clear()
    os.environ.update(asked["environment"])
    return main(asked["words"])


if __name__ == "__main__":
    be_parent()
