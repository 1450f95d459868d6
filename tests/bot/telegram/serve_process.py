"""A Telegram bot in a process of its own, to be killed.

Run as `serve_process.py LOGBOOK ADDRESS TOKEN KIND`. For each line on standard input the parent forks one bot and
answers with its process id and how the one before ended. Forking spares the start-up of Python; the bot is a real
process all the same. KIND is `durable` for our door, `naive` for the plain polling of the library, as a control.
"""

import asyncio
import logging
import os
import signal
import sys
import time
from collections.abc import Callable
from datetime import datetime, timedelta

from telegram import Update
from telegram.ext import Application, ContextTypes, MessageHandler

from bot.logbook import Logbook, enqueue, open_logbook
from bot.logs import quiet_logs
from bot.messages import OnUnknown, Outgoing
from bot.telegram_chat import serve
from bot.timetable import start_timetable
from tests.bot.telegram.open_door import QUICK, STARTED, Echo

SPEED = 50
NUDGES = 30
NUDGE_EVERY = timedelta(seconds=4)
WORK_S = 0.05  # what a plain bot needs to answer one message


def clock(started_s: float) -> Callable[[], datetime]:
    return lambda: STARTED + SPEED * timedelta(seconds=time.monotonic() - started_s)


class Nudging(Echo):
    """An echo that also speaks up by itself."""

    def tick(self, now: datetime) -> None:
        write_nudges(self.logbook, now)


def write_nudges(logbook: Logbook, now: datetime) -> None:
    """What is due is worked out anew each time, so that a restart forgets none and repeats none."""
    due = min(NUDGES, (now - STARTED) // NUDGE_EVERY)
    with logbook.begin() as c:
        for number in range(due):
            message = Outgoing(
                key=f"nudge:{number}",
                chat_id=1000 + number % 10,
                text=f"nudge-{number}.",
                due_utc=now,
                expires_utc=now + timedelta(days=1),
                on_unknown=OnUnknown.RESEND,
            )
            enqueue(c, message, "Kestrel Bench")


def durable(path: str, address: str, token: str, now: Callable[[], datetime]) -> None:
    logbook = open_logbook(path)

    async def run() -> None:
        stop = asyncio.Event()
        asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, stop.set)
        await serve(Nudging(logbook), token, address, stop, lambda tick: start_timetable(tick, 0.1), now, QUICK)

    asyncio.run(run())
    logbook.close()


def naive(_path: str, address: str, token: str, _now: Callable[[], datetime]) -> None:
    async def answer(update: Update, _: ContextTypes.DEFAULT_TYPE) -> None:
        assert update.message is not None
        await asyncio.sleep(WORK_S)
        await update.message.reply_text(f"heard text: {update.message.text}")

    bot = Application.builder().token(token).base_url(f"{address}/bot").job_queue(None).build()
    bot.add_handler(MessageHandler(None, answer))
    bot.run_polling(allowed_updates=["message"], bootstrap_retries=5)


def main() -> None:
    path, address, token, kind = sys.argv[1:]
    run = {"durable": durable, "naive": naive}[kind]
    started_s, before, status = time.monotonic(), 0, 0
    quiet_logs(logging.CRITICAL)  # what a killed bot has to say is not of interest
    for _line in sys.stdin:
        if before:
            status = os.waitstatus_to_exitcode(os.waitpid(before, 0)[1])
        before = os.fork()
        if before == 0:
            try:
                run(path, address, token, clock(started_s))
            except BaseException:  # noqa: BLE001 - the fork must never come back into the loop of its parent
                sys.excepthook(*sys.exc_info())
                sys.stderr.flush()
                os._exit(1)
            os._exit(0)
        print(before, status, flush=True)
    print(0, os.waitstatus_to_exitcode(os.waitpid(before, 0)[1]), flush=True)


if __name__ == "__main__":
    main()
