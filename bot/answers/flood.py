"""A chat that talks faster than any person does gets one polite line, and costs next to nothing."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Final

from bot.inbox import Answer, Parse
from bot.logbook import Connection
from bot.logbook.messages.floods import Earlier, taken_before
from bot.messages import Incoming, IncomingKind, Outgoing

MOST: Final = 30  # messages a minute: a person who notes a whole orchard tree by tree stays below it; no source
WITHIN: Final = timedelta(minutes=1)
LINE_LIVES: Final = timedelta(minutes=10)
LINE: Final = (
    "That was a lot at once. I did not read on from there, so what you sent last is not noted. "
    "Please wait a minute, then tell me again in one message."
)


def unless_flooded(answer: Answer, read: Parse, heard_utc: Callable[[], datetime]) -> Answer:
    """`answer`, but one line in ten minutes for what is more than 30 messages a minute in one chat.

    Judged by when things were said, so that a backlog after an outage is answered in full.
    """

    def answered(c: Connection, incoming: Incoming) -> list[Outgoing]:
        now = heard_utc()
        earlier = taken_before(c, incoming.chat_id, incoming.update_id, MOST)
        if earlier is None or not timedelta(0) <= _said(incoming, now) - _said_before(earlier, read) < WITHIN:
            return answer(c, incoming)
        if incoming.kind in (IncomingKind.GONE, IncomingKind.BACK, IncomingKind.MOVED):
            return answer(c, incoming)
        slot = int(now.timestamp() // LINE_LIVES.total_seconds())
        key = f"flood:{incoming.chat_id}:{slot}"
        return [
            Outgoing(key=key, chat_id=incoming.chat_id, text=LINE, due_utc=now, expires_utc=now + LINE_LIVES)
        ]  # the same key again is the same message: it is sent once

    return answered


def _said(incoming: Incoming, heard_utc: datetime) -> datetime:
    """A tap carries only the time of the message it is on."""
    return heard_utc if incoming.kind is IncomingKind.TAP else incoming.at_utc


def _said_before(earlier: Earlier, read: Parse) -> datetime:
    try:
        incoming = read(earlier.raw)
    except (ValueError, KeyError, TypeError):
        return earlier.got_utc
    return earlier.got_utc if incoming is None else _said(incoming, earlier.got_utc)
