"""A conversation whose rounds a watchdog counts."""

import logging
from collections.abc import Callable
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from bot.inbox import Conversation, Parse
from bot.logbook import Door, Logbook, LogbookClosedError, LogbookError
from bot.messages import in_words
from bot.settings import Secrets, SecretsError
from bot.upkeep.logs import ToldOnce
from bot.upkeep.watchdog import Watchdog

if TYPE_CHECKING:
    from bot.telegram_chat import Webhook  # the door is dear to import, and a terminal needs none


log = logging.getLogger("bot")


class Watched:
    """The same conversation, telling the watchdog of each beat that ended; one that raised did not."""

    def __init__(self, conversation: Conversation, dog: Watchdog) -> None:
        self.logbook = conversation.logbook
        self._conversation = conversation
        self._dog = dog
        self._told = ToldOnce()

    def take_pending(self, read: Parse, now: Callable[[], datetime], door: Door = Door.TELEGRAM) -> None:
        """Answer all that waits in the inbox of a door."""
        self._conversation.take_pending(read, now, door)

    def tick(self, now: datetime) -> None:
        """One beat of the rounds. What goes wrong in beat after beat is told once in the log, and no beat ends us."""
        try:
            self._conversation.tick(now)
        except LogbookClosedError:
            return  # left behind by the end of the program; the next start begins it anew
        except Exception as error:
            if self._told.is_new("round", error):
                words, is_ours = in_words(error), not isinstance(error, LogbookError)
                log.exception("the round failed: %s", words, exc_info=is_ours)
        else:
            self._told.over("round")
            self._dog.ticked()


def webhook_of(secrets: Secrets) -> "Webhook | None":
    """Where the messenger is to bring updates, as the environment asks for it; None where it is asked for them."""
    from bot.telegram_chat import Webhook

    if secrets.webhook_port is None:
        return None
    return Webhook(address=secrets.webhook_address, port=secrets.webhook_port)


def watchdog_of(
    logbook: Logbook,
    secrets: Secrets,
    alarm: Callable[[datetime], object],
    slowest_s: Callable[[], float] = lambda: 0.0,
) -> Watchdog:
    """The watchdog as the environment asks for it.

    Raises
    ------
    SecretsError
        The port of the health endpoint cannot be used.
    """
    try:
        return Watchdog(
            logbook,
            lambda: datetime.now(UTC),
            notify_socket=secrets.notify_socket,
            health_port=secrets.health_port,
            alarm=alarm,
            slowest_s=slowest_s,
        )
    except OSError as error:
        raise SecretsError(f"BEDSTRAW_HEALTH_PORT {secrets.health_port} cannot be used: {error.strerror}.") from None
