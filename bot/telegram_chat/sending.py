"""One claimed message -> one call of the Bot API, and what became of it."""

from pathlib import Path
from typing import Final

import httpx
from telegram import Bot, InlineKeyboardButton, InlineKeyboardMarkup, Message
from telegram.error import (
    BadRequest,
    ChatMigrated,
    Conflict,
    Forbidden,
    InvalidToken,
    NetworkError,
    RetryAfter,
    TelegramError,
)

from bot.messages import Button, redacted
from bot.outbox import Claimed, Outcome, SendOutcome

NEVER_LEFT: Final = (httpx.ConnectError, httpx.ConnectTimeout, httpx.PoolTimeout)
LONGEST_TEXT: Final = 4096  # Bot API, sendMessage; in UTF-16 units to be safe
LONGEST_CAPTION: Final = 1024  # Bot API, sendPhoto
IN_A_ROW: Final = 3  # buttons side by side on a narrow phone


class TelegramSender:
    """Sends claimed messages with one bot, as plain text, so that no name can break the markup."""

    def __init__(self, bot: Bot) -> None:
        self._bot = bot

    async def send(self, claimed: Claimed) -> SendOutcome:
        """What became of one message; never raises for what the messenger may do to it."""
        try:
            message_id = await self._call(claimed)
        except TelegramError as error:
            return outcome_of(error)
        return SendOutcome(outcome=Outcome.SENT, message_id=message_id)

    async def acknowledge(self, tap_id: str) -> None:
        """Stop the spinner of a tapped button; too late is no harm."""
        try:
            await self._bot.answer_callback_query(tap_id)
        except TelegramError:
            return

    async def _call(self, claimed: Claimed) -> int:
        keyboard = _keyboard(claimed.buttons)
        text = shortened(claimed.text, LONGEST_TEXT)
        if claimed.edits_message_id is not None:
            return await self._edit(claimed, text, keyboard)
        if claimed.picture:
            with Path(claimed.picture).open("rb") as picture:
                sent = await self._bot.send_photo(
                    claimed.chat_id,
                    picture,
                    caption=shortened(claimed.text, LONGEST_CAPTION),
                    reply_markup=keyboard,
                    disable_notification=claimed.silent,
                )
            return sent.message_id
        sent = await self._bot.send_message(
            claimed.chat_id, text, reply_markup=keyboard, disable_notification=claimed.silent
        )
        return sent.message_id

    async def _edit(self, claimed: Claimed, text: str, keyboard: InlineKeyboardMarkup | None) -> int:
        edited = await self._bot.edit_message_text(
            text, chat_id=claimed.chat_id, message_id=claimed.edits_message_id, reply_markup=keyboard
        )
        return edited.message_id if isinstance(edited, Message) else claimed.edits_message_id or 0


def outcome_of(error: TelegramError) -> SendOutcome:
    """What an exception of the transport says about a message: whether it arrived, and what to do.

    The order matters: BadRequest and TimedOut are both NetworkErrors, and only the cause tells whether a request ever
    left this machine.
    """
    reason = redacted(f"{type(error).__name__}: {error}")
    if isinstance(error, RetryAfter):
        wait = error.retry_after
        seconds = wait if isinstance(wait, int | float) else wait.total_seconds()
        return SendOutcome(outcome=Outcome.NOT_SENT, retry_after_s=float(seconds), reason=reason)
    if isinstance(error, ChatMigrated):
        return SendOutcome(outcome=Outcome.CHAT_MOVED, new_chat_id=error.new_chat_id, reason=reason)
    if isinstance(error, Forbidden):
        return SendOutcome(outcome=Outcome.CHAT_GONE, reason=reason)
    if isinstance(error, InvalidToken | Conflict):
        return SendOutcome(outcome=Outcome.FORBIDDEN_TOKEN, reason=reason)
    if isinstance(error, BadRequest):
        same = "message is not modified" in str(error).lower()
        return SendOutcome(outcome=Outcome.SENT if same else Outcome.REFUSED, reason=reason)
    if isinstance(error, NetworkError) and isinstance(error.__cause__, NEVER_LEFT):
        return SendOutcome(outcome=Outcome.NOT_SENT, reason=reason)
    return SendOutcome(outcome=Outcome.UNKNOWN, reason=reason)


def shortened(text: str, units: int) -> str:
    """The text cut to at most `units` UTF-16 code units, with an ellipsis where it was cut.

    >>> shortened("frost", 4)
    'fro…'
    """
    packed = text.encode("utf-16-le")
    if len(packed) <= 2 * units:
        return text
    return packed[: 2 * (units - 1)].decode("utf-16-le", errors="ignore") + "…"


def _keyboard(buttons: tuple[Button, ...]) -> InlineKeyboardMarkup | None:
    if not buttons:
        return None
    made = [InlineKeyboardButton(button.label, callback_data=button.data) for button in buttons]
    return InlineKeyboardMarkup([made[i : i + IN_A_ROW] for i in range(0, len(made), IN_A_ROW)])
