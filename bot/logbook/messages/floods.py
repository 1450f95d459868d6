"""How fast a chat has been talking to us."""

from datetime import datetime
from typing import NamedTuple

import sqlalchemy as sa

from bot.logbook.database.tables import inbox


class Earlier(NamedTuple):
    """An update taken before, as it came."""

    raw: str
    got_utc: datetime


def taken_before(c: sa.Connection, chat_id: int, update_id: int, back: int) -> Earlier | None:
    """The update of this chat that was taken `back` updates before this one; None where there were fewer."""
    of_chat = sa.and_(inbox.c.chat_id == chat_id, inbox.c.state == "done", inbox.c.update_id != update_id)
    newest = sa.select(inbox.c.raw, inbox.c.got_utc).where(of_chat).order_by(inbox.c.id.desc())
    row = c.execute(newest.offset(back - 1).limit(1)).first()
    return Earlier(row.raw, row.got_utc) if row is not None else None
