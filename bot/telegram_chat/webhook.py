"""Updates that the messenger brings to an address of ours, in place of our asking for them.

The server here listens on loopback only; the operator's own web server, which has the certificate, hands on to it what
comes in at the public address. An update is stored before the messenger hears that it has arrived.
"""

import hmac
import logging
from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any, Final

from bot.logbook import LogbookError
from bot.telegram_chat.shallow import read_shallow
from bot.telegram_chat.transport import is_update
from bot.upkeep.loopback import CallError, JsonRequests, LoopbackServer, length_told

SECRET_HEADER: Final = "X-Telegram-Bot-Api-Secret-Token"  # noqa: S105 - a name (Bot API, setWebhook)
LONGEST_BODY: Final = 256 * 1024  # bytes; a text has 4,096 characters, with all its marks some tens of kB. Assumed
AT_ONCE: Final = 4  # deliveries at a time: few, so that what one person says keeps its order. Assumed

log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Webhook:
    """Where updates are brought: the public address (https), and the port on loopback it is handed on to."""

    address: str
    port: int


class UpdateServer(LoopbackServer):
    """Hears of updates in threads of its own and keeps each one before it says so.

    `POST` to any path with the secret that only the messenger was told. `keep` stores one update; when it raises
    LogbookError the messenger is asked to bring the update again. What is being kept when it stops is kept, since only
    then it is confirmed.
    """

    def __init__(self, port: int, secret: str, keep: Callable[[dict[str, Any]], None]) -> None:
        self._secret, self._keep = secret, keep
        super().__init__(_answering(self), port, "webhook")

    def take(self, secret: str, body: bytes) -> None:
        """Keep the update of one call.

        Raises
        ------
        CallError
            Another secret, or no update; or the logbook cannot be written now.
        """
        if not hmac.compare_digest(secret.encode(), self._secret.encode()):
            log.warning("somebody who is not the messenger called at the webhook")
            raise CallError(HTTPStatus.FORBIDDEN, "The secret is missing or wrong.")
        try:
            update = read_shallow(body.decode("utf-8", "replace"))
        except ValueError:
            raise CallError(HTTPStatus.BAD_REQUEST, "This is not JSON.") from None
        if not is_update(update):
            raise CallError(HTTPStatus.BAD_REQUEST, "This is not an update.")
        try:
            self._keep(update)
        except LogbookError as error:
            log.error("an update waits with the messenger: %s", error)  # noqa: TRY400 - the sentence says it all
            raise CallError(HTTPStatus.SERVICE_UNAVAILABLE, "It cannot be kept now; bring it again.") from None


def _answering(updates: UpdateServer) -> type[JsonRequests]:
    class Answering(JsonRequests):
        def do_POST(self) -> None:  # noqa: N802 - the library's
            self.close_connection = True
            try:
                # read before the secret is looked at: a caller whose words are cut off never hears the answer
                body = self.rfile.read(length_told(self.headers.get("Content-Length", ""), LONGEST_BODY))
                updates.take(self.headers.get(SECRET_HEADER, ""), body)
            except CallError as refused:
                self.answer(refused.status, {"error": str(refused)})
            else:
                self.answer(HTTPStatus.OK, {})

    return Answering
