"""How the bot is doing, as the logbook shows it: what waits, what failed, who can be reached."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import sqlalchemy as sa

from bot.logbook.database.tables import inbox, outbox, rounds, turns
from bot.logbook.messages.outgoing import SendState
from bot.logbook.programs.last_heard import Outside, heard_utc

LATELY = timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class VitalSigns:
    """Counts and times of all gardens in a logbook.

    `waiting` are messages that should have gone out by now, `oldest_due_utc` the first of them; `unread` are updates
    not taken yet, `oldest_unread_utc` the first of them. Failures are those of the last 24 hours. `turn_due_utc` is
    since when the garden that waits longest is due, in a deployment of many. `forecast_utc` is when a forecast for any
    of the gardens last came from a service, `messenger_utc` when the messenger last answered the one who asks it.
    """

    last_round_utc: datetime | None
    waiting: int
    oldest_due_utc: datetime | None
    unread: int
    oldest_unread_utc: datetime | None
    unclear: int
    dead: int
    last_error: str | None
    failed: int
    turn_due_utc: datetime | None
    forecast_utc: datetime | None
    messenger_utc: datetime | None


def vital_signs(c: sa.Connection, now: datetime) -> VitalSigns:
    """How things stand at `now`."""
    due = sa.and_(outbox.c.state == SendState.QUEUED.value, outbox.c.due_utc <= now, outbox.c.expires_utc > now)
    unread = inbox.c.state == "pending"
    lately = outbox.c.finished_utc > now - LATELY
    gone_wrong = sa.and_(lately, outbox.c.state.in_([SendState.UNKNOWN.value, SendState.DEAD.value]))
    newest = sa.select(outbox.c.error).where(gone_wrong).order_by(outbox.c.finished_utc.desc()).limit(1)
    waiting, oldest_due = _count_and_first(c, outbox.c.due_utc, due)
    pending, oldest_unread = _count_and_first(c, inbox.c.got_utc, unread)
    return VitalSigns(
        last_round_utc=_first(c, rounds.c.at_utc, last=True),
        waiting=waiting,
        oldest_due_utc=oldest_due,
        unread=pending,
        oldest_unread_utc=oldest_unread,
        unclear=_count(c, outbox, sa.and_(lately, outbox.c.state == SendState.UNKNOWN.value)),
        dead=_count(c, outbox, sa.and_(lately, outbox.c.state == SendState.DEAD.value)),
        last_error=c.scalar(newest),
        failed=_count(c, inbox, sa.and_(inbox.c.state == "failed", inbox.c.done_utc > now - LATELY)),
        turn_due_utc=_first(c, turns.c.due_utc),
        forecast_utc=heard_utc(c, Outside.WEATHER),
        messenger_utc=heard_utc(c, Outside.MESSENGER),
    )


def _count(c: sa.Connection, table: sa.Table, which: sa.ColumnElement[bool]) -> int:
    return c.scalar(sa.select(sa.func.count()).select_from(table).where(which)) or 0


def _count_and_first(
    c: sa.Connection, time: sa.Column[datetime], which: sa.ColumnElement[bool]
) -> tuple[int, datetime | None]:
    row = c.execute(sa.select(sa.func.count(), sa.func.min(time, type_=time.type)).where(which)).one()
    return row[0], row[1]


def _first(c: sa.Connection, time: sa.Column[datetime], *, last: bool = False) -> datetime | None:
    row = c.execute(sa.select(time).order_by(time.desc() if last else time).limit(1)).first()
    return row[0] if row is not None else None
