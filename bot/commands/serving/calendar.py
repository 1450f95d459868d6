"""The calendar as a feed: read on loopback under an address that nobody can guess."""

import hmac
import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from http import HTTPStatus
from typing import Final

from bot.hosting.one_garden import Watch
from bot.logbook import LogbookError
from bot.settings import Secrets, SecretsError
from bot.upkeep.loopback import JsonRequests, LoopbackServer

KIND: Final = "text/calendar; charset=utf-8"

log = logging.getLogger("bot")


@contextmanager
def calendar_read(watch: Watch, secrets: Secrets) -> Iterator[LoopbackServer | None]:
    """The feed, open until the end; None where the environment asks for none.

    Raises
    ------
    SecretsError
        The port cannot be used.
    """
    if secrets.calendar_port is None or secrets.calendar_secret is None:
        yield None
        return
    feed = calendar_feed(watch.calendar, secrets.calendar_secret, secrets.calendar_port, lambda: datetime.now(UTC))
    feed.start()
    log.info("the calendar is read on loopback, port %d", feed.port)
    try:
        yield feed
    finally:
        feed.stop()


def calendar_feed(
    calendar: Callable[[datetime], bytes | None], secret: str, port: int, now: Callable[[], datetime]
) -> LoopbackServer:
    """`GET /SECRET.ics` gives the calendar; every other address is not found, as if there were none.

    Raises
    ------
    SecretsError
        The port cannot be used.
    """

    class Answering(JsonRequests):
        def do_GET(self) -> None:  # noqa: N802 - the library's
            if not hmac.compare_digest(self.path.encode(), f"/{secret}.ics".encode()):
                self.answer(HTTPStatus.NOT_FOUND, {"error": "There is nothing here."})
                return
            try:
                made = calendar(now())
            except LogbookError:
                made = None
            if made is None:
                self.answer(HTTPStatus.SERVICE_UNAVAILABLE, {"error": "There is no calendar yet."}, Retry_After="60")
                return
            self.answer_with(HTTPStatus.OK, made, KIND, Cache_Control="private, no-store")

    try:
        return LoopbackServer(Answering, port, "calendar")
    except OSError as error:
        raise SecretsError(f"BEDSTRAW_CALENDAR_PORT {port} cannot be used: {error.strerror}.") from None
