"""One raw update of the Bot API -> one Incoming, or nothing where it is no concern of ours."""

import json
import re
from dataclasses import replace
from datetime import datetime
from typing import Any, Final

from telegram import CallbackQuery, ChatMemberUpdated, MaybeInaccessibleMessage, Message, Update

from bot.messages import LARGEST_FILE_BYTES, LARGEST_PHOTO_BYTES, Incoming, IncomingKind
from bot.telegram_chat.one_time_codes import CODE_KEY
from bot.telegram_chat.transport import KINDS, is_id

LONGEST_TEXT: Final = 1000  # a reply is a few words; what is longer is cut, no source
LONGEST_NAME: Final = 64  # letters of a first name (Bot API); a longer one would fill a message
ADDRESS: Final = re.compile(r"^(/\w+)@\w+")  # in a group a command may name the bot it is meant for
MENTION: Final = re.compile(r"(?<![\w/])@\w{2,29}bot\b,?", re.IGNORECASE)  # every bot's name ends so, by the Bot API
GONE: Final = ("kicked", "left")


def read_update(raw: str, bot_id: int | None = None) -> Incoming | None:
    """What a person did, read from the JSON of one update.

    Parameters
    ----------
    raw
        The JSON as it came.
    bot_id
        Our own id: in a group only commands and answers to our messages are ours, whatever its privacy setting.

    Raises
    ------
    ValueError, KeyError, TypeError, AttributeError
        The JSON is cut or has not the shape of an update; the inbox marks that one row as failed.
    """
    return _sound(_read(raw, bot_id))


def _read(raw: str, bot_id: int | None) -> Incoming | None:
    kept = _keepable(json.loads(raw))
    code_hash = str(kept.get(CODE_KEY, "")) if isinstance(kept, dict) else ""
    update = Update.de_json(kept, None)
    if update.callback_query is not None:
        return _tap(update.update_id, update.callback_query)
    if update.my_chat_member is not None:
        return _member(update.update_id, update.my_chat_member)
    if update.message is not None:
        return _message(update.update_id, update.message, IncomingKind.TEXT, bot_id, code_hash)
    if update.edited_message is not None:
        return _message(update.update_id, update.edited_message, IncomingKind.EDITED, bot_id, code_hash)
    return None


def _sound(incoming: Incoming | None) -> Incoming | None:
    """The same; raises ValueError where a part is of another kind than the Bot API says: the library does not look."""
    if incoming is None:
        return None
    texts = (incoming.person, incoming.text, incoming.button, incoming.tap_id)
    files = (incoming.photo_id, incoming.file_id, incoming.file_name)
    numbers = (incoming.message_id, incoming.quoted_id, incoming.new_chat_id, incoming.sender_id, incoming.topic)
    is_sound = (
        all(isinstance(one, str) for one in (*texts, *files))
        and is_id(incoming.chat_id)
        and all(one is None or is_id(one) for one in numbers)
        and isinstance(incoming.at_utc, datetime)
        and all(isinstance(one, int | float) and -180 <= one <= 180 for one in incoming.location or ())
    )
    if not is_sound:
        raise ValueError(
            "a name, a text, a number, the place or the time of this update is of another kind than it must be"
        )
    return replace(incoming, person=incoming.person[:LONGEST_NAME])


def _keepable(value: Any) -> Any:
    """The same without what no database keeps: half a surrogate pair, which JSON can name, and NUL."""
    if isinstance(value, str):
        return value.replace("\0", "").encode("utf-8", "replace").decode()
    if isinstance(value, dict):
        return {key: _keepable(one) for key, one in value.items()}
    return [_keepable(one) for one in value] if isinstance(value, list) else value


def chat_of(update: dict[str, Any]) -> int | None:
    """The chat of a raw update, so that a chat keeps its order; None where its shape is strange."""
    for kind in KINDS:
        part = update.get(kind)
        if kind == "callback_query" and isinstance(part, dict):
            part = part.get("message")
        chat = part.get("chat") if isinstance(part, dict) else None
        if isinstance(chat, dict) and is_id(chat.get("id")):
            return int(chat["id"])
    return None


def _message(
    update_id: int, message: Message, kind: IncomingKind, bot_id: int | None, code_hash: str
) -> Incoming | None:
    if message.migrate_to_chat_id is not None:
        return _moved(update_id, message, message.chat.id, message.migrate_to_chat_id)
    if message.migrate_from_chat_id is not None:
        return _moved(update_id, message, message.migrate_from_chat_id, message.chat.id)
    if message.from_user is None or message.from_user.is_bot or not (code_hash or _is_said_to_us(message, bot_id)):
        return None  # a code is for us, whoever else reads it
    text = message.text or message.caption or ""
    if not text and (kind is IncomingKind.EDITED or message.effective_attachment is None):
        return None  # a title changed, somebody joined, a live location moved on: nobody said anything
    quoted = message.reply_to_message
    return Incoming(
        update_id=update_id,
        chat_id=message.chat.id,
        person=message.from_user.first_name,
        kind=kind,
        text=_without_our_name(text, message)[:LONGEST_TEXT],
        message_id=message.message_id,
        quoted_id=quoted.message_id if quoted else None,
        at_utc=message.date,  # a mended word is still said when it was first typed
        is_group=_is_group(message),
        topic=_topic(message),
        sender_id=message.from_user.id,
        code_hash=code_hash,
        location=_place(message),
        photo_id=_photo_id(message),
        file_id=_file_id(message),
        file_name=_file_name(message),
    )


def _without_our_name(text: str, message: Message) -> str:
    return MENTION.sub(" ", ADDRESS.sub(r"\1", text)).strip() if _is_group(message) else ADDRESS.sub(r"\1", text)


def _place(message: Message) -> tuple[float, float] | None:
    pin = message.location
    return (pin.latitude, pin.longitude) if pin is not None else None


def _photo_id(message: Message) -> str:
    """Of the sizes a photo comes in, the largest we keep; a picture sent as a file counts as one."""
    sizes = [size for size in message.photo if (size.file_size or 0) <= LARGEST_PHOTO_BYTES]
    if sizes:
        return max(sizes, key=lambda size: size.width * size.height).file_id
    file = message.document
    return (
        file.file_id
        if file is not None and _is_picture(message) and (file.file_size or 0) <= LARGEST_PHOTO_BYTES
        else ""
    )


def _file_name(message: Message) -> str:
    """What a file is called that is no picture; "" where there is none."""
    file = None if _is_picture(message) else message.document
    return "" if file is None else file.file_name or "a file without a name"


def _file_id(message: Message) -> str:
    """Under which the messenger keeps a file that is no picture and not too large for a garden."""
    file = None if _is_picture(message) else message.document
    return file.file_id if file is not None and (file.file_size or 0) <= LARGEST_FILE_BYTES else ""


def _is_picture(message: Message) -> bool:
    return message.document is not None and (message.document.mime_type or "").startswith("image/")


def _is_said_to_us(message: Message, bot_id: int | None) -> bool:
    text = message.text or message.caption or ""
    if not _is_group(message) or text.startswith("/") or MENTION.search(text):
        return True
    quoted = message.reply_to_message
    writer = quoted.from_user if quoted else None
    return writer is not None and writer.is_bot and bot_id in (None, writer.id)


def _is_group(message: Message) -> bool:
    return message.chat.type != "private"


def _topic(message: MaybeInaccessibleMessage) -> int | None:
    """Of a group with topics; elsewhere a thread is but a row of answers to answers."""
    if isinstance(message, Message) and message.is_topic_message:
        return message.message_thread_id
    return None


def _moved(update_id: int, message: Message, old: int, new: int) -> Incoming:
    """A group became a supergroup. The news comes in both chats, and either may be first."""
    return Incoming(
        update_id=update_id,
        chat_id=old,
        person="",
        kind=IncomingKind.MOVED,
        at_utc=message.date,
        is_group=True,
        new_chat_id=new,
    )


def _tap(update_id: int, query: CallbackQuery) -> Incoming | None:
    message = query.message
    if message is None:
        return None
    return Incoming(
        update_id=update_id,
        chat_id=message.chat.id,
        person=query.from_user.first_name,
        kind=IncomingKind.TAP,
        button=query.data or "",
        message_id=message.message_id,
        quoted_id=message.message_id,
        at_utc=message.date,
        tap_id=query.id,
        sender_id=query.from_user.id,
        is_group=message.chat.type != "private",
        topic=_topic(message),
    )


def _member(update_id: int, change: ChatMemberUpdated) -> Incoming:
    return Incoming(
        update_id=update_id,
        chat_id=change.chat.id,
        person=change.from_user.first_name,
        kind=IncomingKind.GONE if change.new_chat_member.status in GONE else IncomingKind.BACK,
        at_utc=change.date,
        is_group=change.chat.type != "private",
    )
