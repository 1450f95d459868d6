"""The library that carries the Bot API, set up as a transport and nothing else."""

import asyncio
import ssl
import warnings
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import httpx
from telegram import Bot
from telegram.error import Conflict, RetryAfter, TelegramError, TimedOut
from telegram.request import HTTPXRequest
from telegram.warnings import PTBUserWarning

from bot.logbook import LogbookError
from bot.settings import SecretsError
from bot.telegram_chat.shallow import read_shallow

KINDS: Final = ["message", "edited_message", "callback_query", "my_chat_member"]
CONNECT_S: Final = 5.0
POOL_S: Final = 5.0
WRITE_S: Final = 15.0
BIGGEST_ID: Final = 2**63 - 1  # what a column of the logbook holds

RawUpdates = list[dict[str, Any]]


class TokenError(SecretsError):
    """The messenger refuses the token; the sentence says what to do and never holds it."""

    def __init__(self) -> None:
        super().__init__(
            "Telegram does not know this token. Ask @BotFather for it again and put it into BEDSTRAW_TOKEN, "
            "or into the file that BEDSTRAW_TOKEN_FILE names."
        )


@dataclass(frozen=True, kw_only=True)
class Pauses:
    """How long the door waits, all in seconds; no source but the one named.

    `first_s` doubles up to `longest_s` while there is no network; a second poller (`conflict_s`) is most often the old
    program at a roll-over, so dying would not help; `send_s` is between looks into the outbox when nothing was due.
    `answer_s` outlasts a slow answer, which must not be taken for a lost message. `webhook_s` is between two tellings
    of where updates are to be brought, should somebody else have told the messenger otherwise. `logbook_s` is the
    longest while the logbook is out of reach: it is our own, and people wait for answers. `introduction_s` is
    between two tries to set the menu of commands, which nobody waits for.
    """

    first_s: float = 1.0
    longest_s: float = 60.0
    logbook_s: float = 5.0
    introduction_s: float = 600.0
    conflict_s: float = 15.0
    send_s: float = 0.5
    webhook_s: float = 600.0
    answer_s: float = 15.0
    long_poll_s: int = 25  # Bot API, getUpdates: at most 50


@cache
def _certificates() -> ssl.SSLContext:
    """Those the library would trust by itself, read once: it would read them for each of the two connections."""
    return httpx.create_ssl_context()


class BoundedRequest(HTTPXRequest):
    """Calls that end within a time as a whole, and whose answers are read within bounds.

    The library bounds only the silence between two bytes, and goes as deep as an answer nests.
    """

    def __init__(self, *, within_s: float, **options: Any) -> None:
        super().__init__(**options)
        self._within_s = within_s

    async def do_request(self, *call: Any, **options: Any) -> tuple[int, bytes]:
        """One call; TimedOut where it drips for longer, and then nobody knows what came of it."""
        try:
            async with asyncio.timeout(self._within_s):
                return await super().do_request(*call, **options)
        except TimeoutError as error:
            raise TimedOut from error

    @staticmethod
    def parse_json_payload(payload: bytes) -> dict[str, Any]:
        """The answer, cut off where it nests too deep; raises TelegramError where it is no JSON."""
        try:
            answer: dict[str, Any] = read_shallow(payload.decode("utf-8", "replace"))
        except ValueError as error:
            raise TelegramError("Invalid server response") from error
        return answer


@asynccontextmanager
async def connected(token: str, address: str, pauses: Pauses) -> AsyncIterator[Bot]:
    """The bot as a transport. It asks nothing of the server yet, so that a start without network is no error."""
    answer_s, before_s = pauses.answer_s, POOL_S + CONNECT_S + WRITE_S
    trust = {"verify": _certificates()}
    sending = BoundedRequest(
        within_s=before_s + answer_s,
        connection_pool_size=20,
        connect_timeout=CONNECT_S,
        read_timeout=answer_s,
        write_timeout=WRITE_S,
        pool_timeout=POOL_S,
        httpx_kwargs=trust,
    )
    poll_s = pauses.long_poll_s + answer_s
    asking = BoundedRequest(within_s=before_s + poll_s, connection_pool_size=1, read_timeout=poll_s, httpx_kwargs=trust)
    async with sending, asking:
        yield Bot(
            token,
            base_url=f"{address}/bot",
            base_file_url=f"{address}/file/bot",
            request=sending,
            get_updates_request=asking,
        )


async def get_updates(bot: Bot, offset: int | None, long_poll_s: int) -> RawUpdates:
    """Raw updates, since one that the library cannot parse would stop it for ever.

    Raises
    ------
    TelegramError
        No answer, a refusal, or an answer that holds nothing with the shape of an update.
    """
    ask: dict[str, Any] = {"timeout": long_poll_s, "allowed_updates": KINDS}
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", category=PTBUserWarning, message="Please use")
        raw = await bot.do_api_request("getUpdates", ask | ({"offset": offset} if offset else {}))
    found = [update for update in raw if is_update(update)] if isinstance(raw, list) else []
    if raw and not found:
        raise TelegramError("the answer holds no updates")
    return found


def is_update(update: Any) -> bool:
    """Whether this has the shape of an update, as far as it takes to keep it."""
    return isinstance(update, dict) and is_id(update.get("update_id"))


def is_id(number: object) -> bool:
    """Whether this is a whole number that the logbook can keep."""
    return type(number) is int and abs(number) <= BIGGEST_ID


def bot_id_of(token: str) -> int | None:
    """The bot's own id, which is the first half of its token; None where it is no number.

    >>> bot_id_of("12345678:AAbbCCddEEffGGhhIIjjKKll_mm")
    12345678
    """
    number = token.partition(":")[0]
    return int(number) if number.isascii() and number.isdigit() else None


def seconds_asked(error: RetryAfter) -> float:
    """How long the server asks us to wait [s]; the library gives a number or a timedelta, by its settings."""
    wait = error.retry_after
    return float(wait if isinstance(wait, int | float) else wait.total_seconds())


def wait_s(error: Exception, pause_s: float, pauses: Pauses) -> float:
    """How long to wait after this trouble with polling [s]; `pause_s` where nothing else is known."""
    if isinstance(error, RetryAfter):
        return seconds_asked(error)
    if isinstance(error, LogbookError):
        return min(pause_s, pauses.logbook_s)
    return pauses.conflict_s if isinstance(error, Conflict) else pause_s
