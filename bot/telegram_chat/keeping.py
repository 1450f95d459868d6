"""Raw updates into the inbox: each is kept, or put aside with a note, and either way holds up none after it."""

import json
from datetime import datetime
from typing import Any, Final

from bot.inbox import RawUpdate, put_aside, store
from bot.logbook import Connection
from bot.telegram_chat.one_time_codes import without_codes
from bot.telegram_chat.reading import chat_of
from bot.telegram_chat.shallow import is_deep

ODD: Final = (ValueError, TypeError, KeyError, AttributeError)  # what a strange shape comes to


def keep(c: Connection, update: dict[str, Any], got_utc: datetime) -> None:
    """One update as it came, without its codes; once the transaction has ended it may be confirmed."""
    chat_id = chat_of(update)
    aside = RawUpdate(update["update_id"], "", got_utc, chat_id)
    if is_deep(update):
        put_aside(c, aside, "it is nested too deep to be read")
        return
    try:
        kept = json.dumps(without_codes(c, update, chat_id))
    except ODD as error:
        put_aside(c, aside, f"{type(error).__name__}: {error}")
        return
    store(c, [aside._replace(raw=kept)])
