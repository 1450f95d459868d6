"""One bot after another, forked from a parent that stays alive and is told on standard input when.

For each line the parent forks one bot and answers with its process id and how the one before ended. Forking spares the
start-up of Python; the bot is a real process all the same.
"""

import os
import sys
import time
from collections.abc import Callable
from datetime import datetime, timedelta

SPEED = 50  # how much faster a bot's clock runs, so that its pauses between messages cost little


def fork_bots(run: Callable[[Callable[[], datetime]], None], started: datetime) -> None:
    """Fork a bot for each line of standard input; each runs by the same clock, which is `started` now."""
    began_s, before, status = time.monotonic(), 0, 0

    def clock() -> datetime:
        return started + SPEED * timedelta(seconds=time.monotonic() - began_s)

    for _line in sys.stdin:
        if before:
            status = os.waitstatus_to_exitcode(os.waitpid(before, 0)[1])
        before = os.fork()
        if before == 0:
            try:
                run(clock)
            except BaseException:  # noqa: BLE001 - the fork must never come back into the loop of its parent
                sys.excepthook(*sys.exc_info())
                sys.stderr.flush()
                os._exit(1)
            os._exit(0)
        print(before, status, flush=True)
    print(0, os.waitstatus_to_exitcode(os.waitpid(before, 0)[1]), flush=True)
