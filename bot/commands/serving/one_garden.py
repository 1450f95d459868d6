"""`bedstraw chat`, `serve` and `let-in`: the doors, and the key to them."""

import asyncio
import logging
import signal
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from bot.answers.garden_file.attachments import attachments_of
from bot.answers.household.letting_in import CODE_LASTS
from bot.commands.opening import open_setting, warn_of_strangers
from bot.commands.serving.sensors import sensors_heard
from bot.commands.serving.watchdog import Watched, watchdog_of, webhook_of
from bot.hosting.one_garden import Watch
from bot.logbook import TERMINAL_CHAT, list_people, make_let_in_code, note_person
from bot.logbook.database.leader_lock import poller_of
from bot.logbook.garden.people import FIRST
from bot.logbook.serving import served_alone
from bot.settings import Role, wants_plain_text
from bot.upkeep.alarm import tell_of_silence
from bot.upkeep.logs import logged_to_file

WORDS = [
    *("wrapped", "closed", "opened", "stripped", "can't today", "later", "undo"),
    *("due", "tonight", "trees", "why", "season", "picture"),
]


def utc_now() -> datetime:
    """The present."""
    return datetime.now(UTC)


def chat(path: Path) -> int:
    """Talk in the terminal; through a pipe where the input is none."""
    from bot.terminal_chat import Terminal, chat_on_terminal, chat_through_pipe, history_of, opening

    setting, secrets = open_setting(path)
    owner = setting.garden.people[0]
    with setting.logbook.begin() as c:
        note_person(c, setting.garden.name, TERMINAL_CHAT, owner.name, owner.role)
    watch = Watch(setting)
    terminal = Terminal(watch, sys.stdout, utc_now, person=owner.name)
    try:
        with logged_to_file(log_of(path)), sensors_heard(watch, secrets, beside_another=True):
            if sys.stdin.isatty() and sys.stdout.isatty() and not wants_plain_text():
                # of two names that begin alike a Tab could complete neither
                names = [word for tree in setting.garden.trees for word in tree.short_names or (tree.name,)]
                sys.stdout.write(f"{opening(setting.garden.name)}\n")
                asyncio.run(chat_on_terminal(terminal, [*WORDS, *names], history_of(setting.logbook.path)))
            else:
                chat_through_pipe(terminal, sys.stdin)
    finally:
        setting.logbook.close()
    return 0


def log_of(garden_file: Path) -> Path:
    """Where a chat writes its log: beside the garden file, not between the lines of whoever talks."""
    return garden_file.with_suffix(".chat.log")


def serve(path: Path) -> int:
    """Serve the garden on Telegram until told to stop."""
    from bot.telegram_chat import serve as serve_telegram
    from bot.timetable import start_timetable

    setting, secrets = open_setting(path)
    token = secrets.token_needed
    logging.getLogger("bot").info("serving %s", setting.garden.name)
    warn_of_strangers(setting.logbook, [setting.garden.name])

    async def run() -> None:
        stop = asyncio.Event()
        loop = asyncio.get_running_loop()
        for sign in (signal.SIGINT, signal.SIGTERM):
            loop.add_signal_handler(sign, stop.set)
        await serve_telegram(
            watched,
            token,
            secrets.telegram_address,
            stop,
            start_timetable,
            shelf=attachments_of(setting, utc_now),
            webhook=webhook_of(secrets),
        )

    def alarm(now: datetime) -> None:
        with setting.logbook.begin() as c:
            tell_of_silence(c, setting, now)

    dog = watchdog_of(setting.logbook, secrets, alarm)
    watch = Watch(setting)
    watched = Watched(watch, dog)
    try:
        with served_alone(setting.logbook, poller_of(token)):
            dog.start()
            try:
                with sensors_heard(watch, secrets):
                    asyncio.run(run())
            finally:
                dog.stop()
    finally:
        setting.logbook.close()
    return 0


def let_in(path: Path, *, owner: bool = False) -> str:
    """A fresh one-time code, with what to do with it; the first phone is let in as the owner's."""
    setting, _ = open_setting(path)
    name = setting.garden.name
    try:
        with setting.logbook.begin() as c:
            phones = [person for person in list_people(c, name) if person.chat_id != TERMINAL_CHAT]
            is_first = not any(person.role == Role.OWNER for person in phones)
            role = Role.OWNER if owner else FIRST if is_first else Role.HELPER
            code = make_let_in_code(c, name, utc_now(), CODE_LASTS, role)
    finally:
        setting.logbook.close()
    whose = {Role.OWNER: ", the owner's", FIRST: "; the first phone that joins is the owner's"}.get(role, "")
    return (
        f"{code}\nSend this to the bot from the phone that is to be let in{whose}. "
        f"It works once, within {CODE_LASTS / timedelta(hours=1):.0f} hours."
    )
