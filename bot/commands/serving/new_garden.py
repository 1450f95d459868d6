"""`bedstraw chat --new` and `serve --new`: a garden begins with a conversation instead of a file."""

import asyncio
import sys
from datetime import timedelta
from pathlib import Path

from bot.answers.household.letting_in import CODE_LASTS
from bot.commands.opening import logbook_place, transport_of
from bot.commands.serving.one_garden import WORDS, log_of, utc_now
from bot.commands.serving.sensors import sensors_heard
from bot.commands.serving.signals import stop_on_signals
from bot.forecasts import Transport
from bot.hosting.new_garden import NewGarden
from bot.hosting.one_garden import Watch
from bot.logbook import TERMINAL_CHAT, list_people, make_let_in_code, note_person, open_logbook
from bot.logbook.garden.people import FIRST
from bot.rounds import Setting
from bot.settings import Role, Secrets, read_garden, read_secrets
from bot.settings.new_garden import name_of_file
from bot.upkeep.logs import logged_to_file

HELLO = "hello"
OWNER = "Owner"  # the terminal does not know a name


def begin_chat(path: Path) -> int:
    """Begin a garden in the terminal, and go on talking to it; an existing file is simply talked to."""
    from bot.terminal_chat import Terminal, chat_on_terminal, chat_through_pipe

    secrets = read_secrets(None, path)
    conversation = _conversation(path, secrets)
    terminal = Terminal(conversation, sys.stdout, utc_now, person=OWNER)
    with conversation.logbook.begin() as c:
        note_person(c, name_of_file(path), TERMINAL_CHAT, OWNER, Role.OWNER)
    try:
        with logged_to_file(log_of(path)):
            if not path.exists():
                terminal.hear(HELLO)
            with sensors_heard(conversation, secrets, beside_another=True):
                if sys.stdin.isatty() and sys.stdout.isatty():
                    asyncio.run(chat_on_terminal(terminal, WORDS))
                else:
                    chat_through_pipe(terminal, sys.stdin)
    finally:
        conversation.logbook.close()
    return 0


def begin_serving(path: Path) -> bool:
    """Whether the garden has its file now: the conversation on Telegram that begins it, let in by a printed code."""
    from bot.telegram_chat import serve as serve_telegram
    from bot.timetable import start_timetable

    secrets = read_secrets(None, path)
    token = secrets.token_needed
    if path.exists():
        return True
    conversation = _conversation(path, secrets)
    sys.stdout.write(f"{_welcome(conversation, path)}\n")
    sys.stdout.flush()

    async def run() -> None:
        stop, loop = asyncio.Event(), asyncio.get_running_loop()
        stop_on_signals(loop, stop.set)
        conversation.when_begun = lambda: loop.call_soon_threadsafe(stop.set)
        await serve_telegram(conversation, token, secrets.telegram_address, stop, start_timetable)

    try:
        asyncio.run(run())
    finally:
        conversation.logbook.close()
    return path.exists()


def _conversation(path: Path, secrets: Secrets) -> NewGarden:
    logbook = open_logbook(logbook_place(secrets))

    def watch() -> Watch:
        garden = read_garden(path)
        return Watch(Setting(garden=garden, logbook=logbook, transport=transport_of(garden, secrets), path=path))

    return NewGarden(path, name_of_file(path), logbook, Transport(addresses=secrets.service_addresses), watch)


def _welcome(conversation: NewGarden, path: Path) -> str:
    name = name_of_file(path)
    with conversation.logbook.begin() as c:
        if any(person.role == Role.OWNER for person in list_people(c, name) if person.chat_id != TERMINAL_CHAT):
            return f"Going on with {name}: write to your bot on Telegram."
        code = make_let_in_code(c, name, utc_now(), CODE_LASTS, FIRST)
    hours = f"{CODE_LASTS / timedelta(hours=1):.0f}"
    return f"{code}\nSend this to your bot on Telegram within {hours} hours; it asks you for the rest of {name}."
