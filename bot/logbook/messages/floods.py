"""How fast a chat has been talking to us."""

from datetime import datetime
from typing import Final, NamedTuple

import sqlalchemy as sa

from bot.logbook.database.tables import inbox


class Earlier(NamedTuple):
    """An update taken before, as it came."""

    raw: str
    got_utc: datetime


_TAKEN: Final = (
    sa.select(inbox.c.raw, inbox.c.got_utc)
    .where(
        inbox.c.chat_id == sa.bindparam("chat"),
        inbox.c.state == "done",
        inbox.c.update_id != sa.bindparam("update"),
    )
    .order_by(inbox.c.id.desc())
    .offset(sa.bindparam("back", type_=sa.Integer()))
    .limit(1)
)


def taken_before(c: sa.Connection, chat_id: int, update_id: int, back: int) -> Earlier | None:
    """The update of this chat that was taken `back` updates before this one; None where there were fewer."""
    row = c.execute(_TAKEN, {"chat": chat_id, "update": update_id, "back": back - 1}).first()
    return Earlier(row.raw, row.got_utc) if row is not None else None
