"""Whoever is not known yet: let in by a one-time code, or told so politely, no more often than it helps."""

import json
import re
from datetime import timedelta
from typing import Final

from bot.answers.exchange import ANSWER_LIVES
from bot.logbook import Connection, Person, hash_of_code, let_in_tries_left, read_state, use_code_hash
from bot.logbook.garden.invitations import use_invitation
from bot.logbook.garden.people import BOT_NAME
from bot.logbook.programs.last_heard import NOBODYS
from bot.messages import Incoming, Outgoing

LINK: Final = "https://t.me/{name}?start={code}"  # Bot API, "Deep linking": letters, figures, _ and -, 64 at most
CODE_LASTS: Final = timedelta(hours=48)
STRANGER: Final = (
    "This is the bot of a private garden. If you tend it, ask its owner for a one-time code and send it to me here."
)
IN_A_GROUP: Final = (
    "This is the bot of a private garden. In a group I hear commands, answers to my messages and my name. To let this "
    "group in, ask the garden's owner for a one-time code and send it here as: /start CODE"
)
# Twelve letters and figures, in fours or not; only such a text counts as a try, a greeting does not.
CODE_SHAPE: Final = re.compile(r"(?:[0-9a-z]{4}[- ]?){2}[0-9a-z]{4}", re.IGNORECASE)
WRONG_CODE: Final = "That code is wrong, used up or out of date. Ask the garden's owner for a fresh one."
TOO_MANY_CODES: Final = "Too many wrong codes. Please try again in an hour."


def deep_link(c: Connection, code: str) -> str:
    """The address that opens the messenger with a code typed; empty while the bot has never told what it is called."""
    name = json.loads(read_state(c, NOBODYS, BOT_NAME) or "null")
    return LINK.format(name=name, code=code) if name else ""


def let_in_by_code(c: Connection, incoming: Incoming) -> Person | Outgoing:
    """The person a code lets in; else a stranger's one polite line a day, or that a code is wrong, five an hour.

    Whether it is in time goes by our clock, from when it reached us: the date of a message counts for nothing.
    """
    at, chat_id, code_hash = incoming.reached_us_utc, incoming.chat_id, _code_sent(incoming)
    if not code_hash:
        return strangers_line(incoming, IN_A_GROUP if incoming.is_group else STRANGER)
    if let_in_tries_left(c, chat_id, at) == 0:
        return _line(incoming, f"too-many:{chat_id}:{at:%Y-%m-%d-%H}", TOO_MANY_CODES)
    person = use_invitation(c, code_hash, chat_id, incoming.person, at)
    person = person or use_code_hash(c, code_hash, chat_id, incoming.person, at)
    return person or _line(incoming, f"wrong-code:{incoming.update_id}", WRONG_CODE)


def _code_sent(incoming: Incoming) -> str:
    """The hash of the one-time code that was sent; empty where it was none."""
    code = incoming.text.removeprefix("/start").strip()
    return incoming.code_hash or (hash_of_code(code) if CODE_SHAPE.fullmatch(code) else "")


def strangers_line(incoming: Incoming, text: str = STRANGER) -> Outgoing:
    """The one polite line a day."""
    return _line(incoming, f"stranger:{incoming.chat_id}:{incoming.reached_us_utc:%Y-%m-%d}", text)


def joined(incoming: Incoming) -> list[Outgoing]:
    """A group that we were put into is told how to let itself in: there we may not hear a plain code."""
    key = f"joined:{incoming.chat_id}:{incoming.reached_us_utc:%Y-%m-%d}"
    return [_line(incoming, key, IN_A_GROUP)] if incoming.is_group else []


def _line(incoming: Incoming, key: str, text: str) -> Outgoing:
    at = incoming.reached_us_utc
    return Outgoing(key=key, chat_id=incoming.chat_id, text=text, due_utc=at, expires_utc=at + ANSWER_LIVES)
