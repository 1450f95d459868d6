"""One raw update of the Bot API -> one Incoming, or nothing where it is no concern of ours."""

import json

from telegram import CallbackQuery, ChatMemberUpdated, Message, Update

from bot.messages import Incoming, IncomingKind

LONGEST_TEXT = 1000  # a reply is a few words; what is longer is cut, no source


def read_update(raw: str) -> Incoming | None:
    """What a person did, read from the JSON of one update.

    Raises
    ------
    ValueError, KeyError, TypeError
        The JSON is cut or has not the shape of an update; the inbox marks that one row as failed.
    """
    update = Update.de_json(json.loads(raw), None)
    if update.callback_query is not None:
        return _tap(update.update_id, update.callback_query)
    if update.message is not None:
        return _message(update.update_id, update.message, IncomingKind.TEXT)
    if update.edited_message is not None:
        return _message(update.update_id, update.edited_message, IncomingKind.EDITED)
    if update.my_chat_member is not None:
        return _member(update.update_id, update.my_chat_member)
    return None


def _message(update_id: int, message: Message, kind: IncomingKind) -> Incoming | None:
    if message.from_user is None or message.from_user.is_bot:
        return None
    quoted = message.reply_to_message
    return Incoming(
        update_id=update_id,
        chat_id=message.chat.id,
        person=message.from_user.first_name,
        kind=kind,
        text=(message.text or message.caption or "")[:LONGEST_TEXT],
        message_id=message.message_id,
        quoted_id=quoted.message_id if quoted else None,
        at_utc=message.edit_date or message.date,
        is_group=message.chat.type != "private",
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
        is_group=message.chat.type != "private",
    )


def _member(update_id: int, change: ChatMemberUpdated) -> Incoming:
    gone = change.new_chat_member.status in ("kicked", "left")
    return Incoming(
        update_id=update_id,
        chat_id=change.chat.id,
        person=change.from_user.first_name,
        kind=IncomingKind.GONE if gone else IncomingKind.BACK,
        at_utc=change.date,
        is_group=change.chat.type != "private",
    )
