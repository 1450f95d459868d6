"""One claimed message -> one call of the Bot API, and what became of it."""

import logging
from pathlib import Path
from typing import Any, Final

import httpx
from telegram import (
    Bot,
    InlineKeyboardButton,
    InlineKeyboardMarkup,
    InputMediaPhoto,
    KeyboardButton,
    LinkPreviewOptions,
    Message,
    ReplyKeyboardMarkup,
    ReplyParameters,
)
from telegram.error import (
    BadRequest,
    ChatMigrated,
    Forbidden,
    InvalidToken,
    NetworkError,
    RetryAfter,
    TelegramError,
)

from bot.messages import ASKS_LOCATION, Button, in_words, redacted
from bot.outbox import Claimed, Outcome, SendOutcome
from bot.telegram_chat.transport import seconds_asked

NEVER_LEFT: Final = (httpx.ConnectError, httpx.ConnectTimeout, httpx.PoolTimeout)
LONGEST_TEXT: Final = 4096  # Bot API, sendMessage; in UTF-16 units to be safe
LONGEST_CAPTION: Final = 1024  # Bot API, sendPhoto
PNG: Final = b"\x89PNG"  # how a picture begins; any other file goes as a file
IN_A_ROW: Final = 3  # buttons side by side on a narrow phone
TOPIC_IS_GONE: Final = ("message thread not found", "topic_closed", "topic_deleted")  # the server's words; from memory
IS_A_PICTURE: Final = "there is no text in the message to edit"  # Bot API, of a message that has a caption instead

NO_PREVIEW: Final = LinkPreviewOptions(is_disabled=True)  # a credit is no advertisement

Keyboard = InlineKeyboardMarkup | ReplyKeyboardMarkup | None

log = logging.getLogger(__name__)


class TelegramSender:
    """Sends claimed messages with one bot, as plain text, so that no name can break the markup."""

    def __init__(self, bot: Bot) -> None:
        self._bot = bot

    async def send(self, claimed: Claimed) -> SendOutcome:
        """What became of one message; never raises, since one message must not close the door for all others."""
        try:
            if claimed.reaction and await self._reacted(claimed):
                return SendOutcome(outcome=Outcome.SENT)
            message_id = await self._call(claimed)
        except TelegramError as error:
            return outcome_of(error)
        except Exception as error:  # noqa: BLE001 - a fault of ours or of the library; where, nobody knows
            return SendOutcome(outcome=Outcome.UNKNOWN, reason=redacted(repr(error)))
        return SendOutcome(outcome=Outcome.SENT, message_id=message_id)

    async def _reacted(self, claimed: Claimed) -> bool:
        """Whether a reaction said it; a group may allow none, and then the words do."""
        if claimed.replies_to is None:
            return False
        try:
            return bool(await self._bot.set_message_reaction(claimed.chat_id, claimed.replies_to, claimed.reaction))
        except BadRequest as error:
            log.info("no reaction, so the words: %s", redacted(str(error)))
            return False

    async def acknowledge(self, tap_id: str) -> None:
        """Stop the spinner of a tapped button; too late is no harm."""
        try:
            await self._bot.answer_callback_query(tap_id)
        except TelegramError as error:
            log.info("a tap was not acknowledged: %s", redacted(str(error)))

    async def _call(self, claimed: Claimed) -> int:
        keyboard = _keyboard(claimed.buttons)
        picture = _picture(claimed)
        if claimed.edits_message_id is not None:
            below = keyboard if isinstance(keyboard, InlineKeyboardMarkup) else None
            return await self._edit(claimed, claimed.edits_message_id, picture, below)
        try:
            return await self._send_new(claimed, picture, keyboard, claimed.topic)
        except BadRequest as error:
            if claimed.topic is None or not any(words in str(error).lower() for words in TOPIC_IS_GONE):
                raise
            return await self._send_new(claimed, picture, keyboard, None)

    async def _send_new(self, claimed: Claimed, picture: bytes | None, keyboard: Keyboard, topic: int | None) -> int:
        how: dict[str, Any] = {
            "reply_markup": keyboard, "disable_notification": claimed.silent, "message_thread_id": topic,
        }  # fmt: skip
        if claimed.replies_to is not None:
            how["reply_parameters"] = ReplyParameters(claimed.replies_to, allow_sending_without_reply=True)
        if picture is None:
            text = shortened(claimed.text, LONGEST_TEXT)
            sent = await self._bot.send_message(claimed.chat_id, text, link_preview_options=NO_PREVIEW, **how)
            return sent.message_id
        how["caption"] = shortened(claimed.text, LONGEST_CAPTION)
        if picture.startswith(PNG):
            return (await self._bot.send_photo(claimed.chat_id, picture, **how)).message_id
        name = Path(claimed.picture or "").name
        return (await self._bot.send_document(claimed.chat_id, picture, filename=name, **how)).message_id

    async def _edit(
        self, claimed: Claimed, message_id: int, picture: bytes | None, keyboard: InlineKeyboardMarkup | None
    ) -> int:
        """An edit in place: of the picture, of the text, or, where the message turns out to be one, of its caption."""
        edited: Message | bool
        target: dict[str, Any] = {"chat_id": claimed.chat_id, "message_id": message_id}
        caption = shortened(claimed.text, LONGEST_CAPTION)
        if picture is not None:
            media = InputMediaPhoto(picture, caption=caption)
            edited = await self._bot.edit_message_media(media, **target, reply_markup=keyboard)
        else:
            text = shortened(claimed.text, LONGEST_TEXT)
            try:
                edited = await self._bot.edit_message_text(
                    text, **target, reply_markup=keyboard, link_preview_options=NO_PREVIEW
                )
            except BadRequest as error:
                if IS_A_PICTURE not in str(error).lower():
                    raise
                edited = await self._bot.edit_message_caption(**target, caption=caption, reply_markup=keyboard)
        return edited.message_id if isinstance(edited, Message) else message_id


def _picture(claimed: Claimed) -> bytes | None:
    """The picture to send; None where there is none, or where its file is gone: the words matter more."""
    if not claimed.picture:
        return None
    try:
        return Path(claimed.picture).read_bytes()
    except OSError as error:
        log.warning("%s goes without its picture: %s", claimed.key, error)
        return None


def outcome_of(error: TelegramError) -> SendOutcome:
    """What an exception of the transport says about a message: whether it arrived, and what to do.

    The order matters: BadRequest and TimedOut are both NetworkErrors, and only the cause tells whether a request ever
    left this machine.
    """
    reason = in_words(error)
    if isinstance(error, RetryAfter):
        return SendOutcome(outcome=Outcome.NOT_SENT, retry_after_s=seconds_asked(error), reason=reason)
    if isinstance(error, ChatMigrated):
        return SendOutcome(outcome=Outcome.CHAT_MOVED, new_chat_id=error.new_chat_id, reason=reason)
    if isinstance(error, Forbidden):
        return SendOutcome(outcome=Outcome.CHAT_GONE, reason=reason)
    if isinstance(error, InvalidToken):
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


def _keyboard(buttons: tuple[Button, ...]) -> Keyboard:
    """Buttons below the message; one that sends a place can only stand in place of the letters, and goes when used."""
    if not buttons:
        return None
    places = [KeyboardButton(button.label, request_location=True) for button in buttons if button.data == ASKS_LOCATION]
    if places:
        return ReplyKeyboardMarkup([places], one_time_keyboard=True, resize_keyboard=True)
    made = [InlineKeyboardButton(button.label, callback_data=button.data) for button in buttons]
    return InlineKeyboardMarkup([made[i : i + IN_A_ROW] for i in range(0, len(made), IN_A_ROW)])
