"""A Telegram bot in a process of its own, to be killed.

Run as `serve_process.py LOGBOOK ADDRESS TOKEN KIND`; for the lines on standard input see `fork_bots`. KIND is
`durable` for our door, `naive` for the plain polling of the library, as a control.
"""

import asyncio
import logging
import signal
import sys
from collections.abc import Callable
from datetime import datetime, timedelta

from telegram import Update
from telegram.ext import Application, ContextTypes, MessageHandler

from bot.logbook import Logbook, enqueue, open_logbook
from bot.messages import OnUnknown, Outgoing
from bot.telegram_chat import serve
from bot.timetable import start_timetable
from bot.upkeep.logs import quiet_logs
from tests.bot.forked import fork_bots
from tests.bot.telegram.open_door import QUICK, STARTED, Echo

NUDGES = 30
NUDGE_EVERY = timedelta(seconds=4)
WORK_S = 0.05  # what a plain bot needs to answer one message


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
            enqueue(c, message, "Larkmoor")


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
    quiet_logs(logging.CRITICAL)  # what a killed bot has to say is not of interest
    fork_bots(lambda now: run(path, address, token, now), STARTED)


if __name__ == "__main__":
    main()
