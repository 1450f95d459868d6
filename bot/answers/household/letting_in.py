"""Whoever is not known yet: let in by a one-time code, or told so politely, no more often than it helps."""

import re
from datetime import datetime, timedelta
from typing import Final

from bot.answers.exchange import ANSWER_LIVES
from bot.logbook import Connection, Person, let_in_tries_left, use_let_in_code
from bot.messages import Incoming, Outgoing

CODE_LASTS: Final = timedelta(hours=48)
STRANGER: Final = (
    "This is the bot of a private garden. If you tend it, ask its owner for a one-time code and send it to me here."
)
# Twelve letters and figures, in fours or not; only such a text counts as a try, a greeting does not.
CODE_SHAPE: Final = re.compile(r"(?:[0-9a-z]{4}[- ]?){2}[0-9a-z]{4}", re.IGNORECASE)
WRONG_CODE: Final = "That code is wrong, used up or out of date. Ask the garden's owner for a fresh one."
TOO_MANY_CODES: Final = "Too many wrong codes. Please try again in an hour."


def let_in_by_code(c: Connection, incoming: Incoming, at: datetime) -> Person | Outgoing:
    """The person a code lets in; else a stranger's one polite line a day, or that a code is wrong, five an hour."""
    chat_id = incoming.chat_id
    code = incoming.text.removeprefix("/start").strip()
    if CODE_SHAPE.fullmatch(code) is None:
        return strangers_line(incoming, at)
    if let_in_tries_left(c, chat_id, at) == 0:
        return _line(incoming, at, f"too-many:{chat_id}:{at:%Y-%m-%d-%H}", TOO_MANY_CODES)
    person = use_let_in_code(c, code, chat_id, incoming.person, at)
    return person or _line(incoming, at, f"wrong-code:{incoming.update_id}", WRONG_CODE)


def strangers_line(incoming: Incoming, at: datetime) -> Outgoing:
    """The one polite line a day."""
    return _line(incoming, at, f"stranger:{incoming.chat_id}:{at:%Y-%m-%d}", STRANGER)


def _line(incoming: Incoming, at: datetime, key: str, text: str) -> Outgoing:
    return Outgoing(key=key, chat_id=incoming.chat_id, text=text, due_utc=at, expires_utc=at + ANSWER_LIVES)
