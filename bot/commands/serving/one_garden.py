"""`bedstraw chat`, `serve` and `let-in`: the doors, and the key to them."""

import asyncio
import logging
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from bot.answers.garden_file.attachments import attachments_of
from bot.answers.household.letting_in import CODE_LASTS, deep_link
from bot.commands.opening import open_setting, warn_of_strangers
from bot.commands.serving.calendar import calendar_read
from bot.commands.serving.deep_link import opened_by
from bot.commands.serving.second_way import second_way
from bot.commands.serving.sensors import sensors_heard
from bot.commands.serving.signals import on_hangup, stop_on_signals
from bot.commands.serving.watchdog import Watched, watchdog_of, webhook_of
from bot.hosting.one_garden import Watch
from bot.logbook import TERMINAL_CHAT, list_people, make_let_in_code, note_person
from bot.logbook.garden.people import FIRST
from bot.logbook.programs.leader_lock import poller_of
from bot.logbook.programs.served_alone import served_alone
from bot.logbook.programs.vital_signs import vital_signs
from bot.rounds import Setting
from bot.settings import Role, Secrets, wants_plain_text
from bot.upkeep.alarm import note_started, started_utc, tell_of_silence
from bot.upkeep.logs import logged_to_file

UNUSED = timedelta(hours=14)  # a look ahead is kept at least every twelve

WORDS = [
    *("wrapped", "closed", "opened", "stripped", "can't today", "later", "undo"),
    *("due", "tonight", "trees", "why", "season", "picture"),
]

log = logging.getLogger("bot")


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
    setting, secrets = open_setting(path)
    token = secrets.token_needed
    log.info("serving %s", setting.garden.name)
    warn_of_strangers(setting.logbook, [setting.garden.name])

    def alarm(now: datetime) -> None:
        with setting.logbook.begin() as c:
            tell_of_silence(c, setting, now)

    watch = Watch(setting)
    try:
        with served_alone(setting.logbook, poller_of(token)):
            dog = watchdog_of(setting.logbook, secrets, alarm)
            watched = Watched(watch, dog)
            with setting.logbook.begin() as c:
                note_started(c, utc_now())
            dog.start()
            try:
                with (
                    sensors_heard(watch, secrets),
                    calendar_read(watch, secrets),
                    second_way(setting.logbook, secrets),
                ):
                    asyncio.run(_door_open(watch, watched, setting, secrets))
            finally:
                dog.stop()
    finally:
        setting.logbook.close()
    return 0


async def _door_open(watch: Watch, watched: Watched, setting: Setting, secrets: Secrets) -> None:
    """The Telegram door until a signal shuts it; SIGHUP has the garden file read again meanwhile."""
    from bot.telegram_chat import serve as serve_telegram
    from bot.timetable import start_timetable

    stop, loop = asyncio.Event(), asyncio.get_running_loop()
    stop_on_signals(loop, stop.set)
    on_hangup(loop, lambda: loop.run_in_executor(None, _reread, watch))
    await serve_telegram(
        watched,
        secrets.token_needed,
        secrets.telegram_address,
        stop,
        start_timetable,
        shelf=attachments_of(setting, utc_now),
        webhook=webhook_of(secrets),
    )


def _reread(watch: Watch) -> None:
    """What SIGHUP asks for, in a thread of its own: the file may be dear to read."""
    watch.reread()
    log.info("the garden file was looked at again, as asked")


def let_in(path: Path, *, owner: bool = False, in_letters: bool = False, picture: Path | None = None) -> str:
    """A fresh one-time code, with what to do with it; the first phone is let in as the owner's.

    Where the bot has run once it comes with the address that opens the messenger with it; `in_letters` draws that as a
    QR code too, and `picture` is where one is saved.

    Raises
    ------
    LogbookError
        There is no logbook yet: in one that no bot reads a code would let nobody in.
    """
    setting, _ = open_setting(path, begun=True)
    name, now = setting.garden.name, utc_now()
    try:
        with setting.logbook.begin() as c:
            signs = [at for at in (vital_signs(c, now).last_round_utc, started_utc(c)) if at is not None]
            doubt = _unused(max(signs, default=None), now, setting.logbook.name)
            phones = [person for person in list_people(c, name) if person.chat_id != TERMINAL_CHAT]
            is_first = not any(person.role == Role.OWNER for person in phones)
            role = Role.OWNER if owner else FIRST if is_first else Role.HELPER
            code = make_let_in_code(c, name, now, CODE_LASTS, role)
            link = deep_link(c, code)
    finally:
        setting.logbook.close()
    whose = {Role.OWNER: ", the owner's", FIRST: "; the first phone that joins is the owner's"}.get(role, "")
    return (
        f"{code}\nSend this to the bot from the phone that is to be let in{whose}. "
        f"It works once, within {CODE_LASTS / timedelta(hours=1):.0f} hours.{doubt}"
        f"{opened_by(link, in_letters=in_letters, picture=picture)}"
    )


def _unused(last_sign: datetime | None, now: datetime, place: str) -> str:
    """The warning that a code may be in the wrong logbook: a moved bot leaves its old one behind, unchanged."""
    if last_sign is not None and now - last_sign < UNUSED:
        return ""
    since = f"since {last_sign:%Y-%m-%d %H:%M} UTC" if last_sign else "yet"
    return (
        f"\nNo bot has used the logbook {place} {since}. If yours keeps another, this code works nowhere: run "
        "bedstraw --env FILE let-in GARDEN with the environment file of the bot."
    )
