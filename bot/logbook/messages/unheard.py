"""Answers that were given up: what was noted stands, but who said it never heard. Told at the next sign of life.

A sign of life is whatever the person sends, and any message of ours that surely reaches their chat.
"""

import json
from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import cache
from itertools import accumulate
from typing import Any, Final

import sqlalchemy as sa

from bot.logbook.database.tables import outbox
from bot.logbook.messages.outgoing import SendState
from bot.logbook.messages.sendable import MOST_REPEATS
from bot.messages import Button, OnUnknown, Outgoing

REPLY: Final = "reply:"  # begins the keys of answers
UNHEARD: Final = "unheard:"
HEAD: Final = "My last answer may not have reached you:\n"
TOLD_WITHIN: Final = timedelta(days=7)  # as long as the line that says what was left out; assumed, no source
LONGEST: Final = 2500  # letters at once, well below what a message may have; the rest follows when it has arrived

Rows = Sequence[sa.Row[tuple[Any, ...]]]


def unheard(c: sa.Connection, chat_id: int, now: datetime) -> Outgoing | None:
    """The answers to a chat that were given up and matter, as many as one message holds; they count as told then."""
    times = {"now": now, "oldest": now - TOLD_WITHIN}
    rows = _as_many_as_fit(c.execute(_given_up(), {"chat": chat_id, **times}).all())
    if not rows:
        return None
    told = sa.update(outbox).where(outbox.c.id.in_([row.id for row in rows]))
    c.execute(told.values(on_unknown=OnUnknown.HOLD.value))
    buttons = tuple(Button(label=label, data=data) for label, data in json.loads(rows[-1].buttons))
    return Outgoing(
        key=f"{UNHEARD}{rows[-1].id}",
        chat_id=chat_id,
        text=HEAD + "\n".join(row.text.removeprefix(HEAD) for row in rows),
        buttons=buttons,
        due_utc=now,
        expires_utc=now + TOLD_WITHIN,
        on_unknown=OnUnknown.RESEND,
    )


def _as_many_as_fit(rows: Rows) -> Rows:
    lengths = accumulate(len(row.text) for row in rows)
    return [row for row, length in zip(rows, lengths, strict=True) if row is rows[0] or length <= LONGEST]


@cache
def _given_up() -> sa.Select[tuple[Any, ...]]:
    """Never sent and never to be, or sent as often as we dare without a word that it arrived."""
    resend, tell = OnUnknown.RESEND.value, OnUnknown.TELL.value
    no_more = sa.or_(outbox.c.repeats >= MOST_REPEATS, outbox.c.expires_utc <= sa.bindparam("now"))
    unclear = outbox.c.state == SendState.UNKNOWN.value
    unclear = sa.and_(unclear, sa.or_(outbox.c.on_unknown == tell, sa.and_(outbox.c.on_unknown == resend, no_more)))
    dead = sa.and_(outbox.c.state == SendState.DEAD.value, outbox.c.on_unknown.in_([resend, tell]))
    is_answer = sa.or_(outbox.c.key.startswith(REPLY), outbox.c.key.startswith(UNHEARD))
    of_chat = outbox.c.chat_id == sa.bindparam("chat"), outbox.c.finished_utc > sa.bindparam("oldest"), is_answer
    return sa.select(outbox).where(*of_chat, sa.or_(unclear, dead)).order_by(outbox.c.id)
