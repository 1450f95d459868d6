"""Messages that can't wait: last calls nobody has answered yet, and the word that the rounds have stopped."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

import sqlalchemy as sa

from bot.logbook.database.tables import nudges, outbox, people
from bot.nudges import NudgeState, Stage

CANNOT_WAIT: Final = (Stage.LAST_CALL.value, Stage.WAKE.value)
ALARM_KEY: Final = "alarm:"


@dataclass(frozen=True, kw_only=True)
class Urgent:
    """One such message to one person, on its way or not; `asks` for an answer, or only tells."""

    key: str
    garden: str
    person: str
    text: str
    due_utc: datetime
    asks: bool


def urgent_messages(c: sa.Connection, now: datetime) -> list[Urgent]:
    """All that are due and still of use, oldest first; an answer by anybody of the household ends a last call."""
    there = sa.and_(people.c.garden == outbox.c.garden, people.c.chat_id == outbox.c.chat_id)
    told = outbox.join(people, there).outerjoin(nudges, nudges.c.key == outbox.c.nudge_key)
    unanswered = sa.and_(nudges.c.stage.in_(CANNOT_WAIT), nudges.c.state == NudgeState.OPEN.value)
    alarm = sa.and_(outbox.c.nudge_key.is_(None), outbox.c.key.startswith(ALARM_KEY))
    in_time = sa.and_(outbox.c.due_utc <= now, outbox.c.expires_utc > now, outbox.c.edits.is_(None))
    found = sa.select(outbox, people.c.name, nudges.c.stage).select_from(told).where(in_time, alarm | unanswered)
    return [
        Urgent(
            key=row.key,
            garden=row.garden,
            person=row.name,
            text=row.text,
            due_utc=row.due_utc,
            asks=row.stage is not None,
        )
        for row in c.execute(found.order_by(outbox.c.id))
    ]
