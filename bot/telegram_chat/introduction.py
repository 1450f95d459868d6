"""What the messenger shows of the bot: its menu of commands and its description, set by the program itself."""

import asyncio
import json
import logging
from collections.abc import Awaitable, Callable
from typing import Any, Final

from telegram import Bot, BotCommand
from telegram.error import NetworkError, TelegramError

from bot.logbook import Logbook, LogbookError, note_state, read_state
from bot.logbook.garden.people import BOT_NAME
from bot.logbook.programs.last_heard import NOBODYS
from bot.messages import redacted

INTRODUCED: Final = "introduced"  # what the messenger was told last: told again only where it changed
MENU: Final = (
    ("tonight", "the coming night, tree by tree"),
    ("due", "what is to be done this week"),
    ("trees", "how each tree and its cover stands"),
    ("why", "the reasons behind what I ask for"),
    ("page", "all of the garden on one page"),
    ("calendar", "the weeks ahead as a file for your calendar"),
    ("season", "the season so far"),
    ("settings", "your units, hours and people, and how to change them"),
    ("help", "what you can say"),
)
SHORT: Final = "Tells you when to cover and uncover your half-hardy fruit trees."
LONG: Final = (
    "I watch the forecast for your half-hardy fruit trees, work out the cold inside each cover, and tell you in time "
    "what to wrap, close or open. I talk only with people whom the owner of a garden has let in."
)

log = logging.getLogger(__name__)

InThread = Callable[[Callable[[], Any]], Awaitable[Any]]


async def introduce(bot: Bot, logbook: Logbook, in_thread: InThread, pause_s: float) -> None:
    """Tell the messenger once who we are; without a network again and again, whatever else goes on meanwhile."""
    while True:
        try:
            await _introduced(bot, logbook, in_thread)
        except NetworkError as error:
            log.info("not introduced yet: %s", redacted(str(error)))
            await asyncio.sleep(pause_s)
        except (TelegramError, LogbookError) as error:
            log.warning("the menu of commands was not set: %s", redacted(f"{type(error).__name__}: {error}"))
            return
        else:
            return


async def _introduced(bot: Bot, logbook: Logbook, in_thread: InThread) -> None:
    me = await bot.get_me()
    told = json.dumps([me.username, MENU, SHORT, LONG])
    await in_thread(lambda: _note(logbook, BOT_NAME, json.dumps(me.username)))
    if await in_thread(lambda: _told(logbook)) == told:
        return
    await bot.set_my_commands([BotCommand(name, words) for name, words in MENU])
    await bot.set_my_short_description(SHORT)
    await bot.set_my_description(LONG)
    await in_thread(lambda: _note(logbook, INTRODUCED, told))


def _told(logbook: Logbook) -> str | None:
    with logbook.begin() as c:
        return read_state(c, NOBODYS, INTRODUCED)


def _note(logbook: Logbook, name: str, body: str) -> None:
    with logbook.begin() as c:
        note_state(c, NOBODYS, name, body)
