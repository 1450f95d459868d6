"""Which messages may go out now: at most one per chat, in order, paced, none out of date and none twice unmarked."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from functools import cache
from typing import Any, Final

import sqlalchemy as sa

from bot.logbook.database.tables import along_the_index, chats, doors, insert_into, outbox
from bot.logbook.garden.people import is_reachable
from bot.logbook.messages.outgoing import TERMINAL_CHAT, Door, SendState, enqueue
from bot.messages import OnUnknown, Outgoing

# Bot API: about 1 message a second to a person, 20 a minute to a group, 30 a second in all. The server counts when they
# arrive, so they leave evenly: in a burst a second, a late one and an early one would meet in one of its seconds.
PRIVATE_PAUSE = timedelta(seconds=1.05)
GROUP_PAUSE = timedelta(seconds=3.1)
PER_SECOND = 29
SECOND = timedelta(seconds=1)
AT_ONCE = 5  # within
BURST = timedelta(seconds=0.1)
SLOW = timedelta(seconds=0.1)  # a send that takes longer may have reached the server only at its end. Assumed
# From a standing start connections are opened first, and what left over a second arrives at once. Assumed.
START_PER_SECOND = 20
MORE_A_SECOND = 5
# The limits are not published in full and vary: who has been told to wait sends fewer for a while. Assumed.
CAREFUL_PER_SECOND = 27
CAREFUL_FOR = timedelta(minutes=1)
LONGEST_WAIT = timedelta(hours=1)  # a wait longer than this is a clock that was set back: ask again
CLOCK_SLACK = timedelta(minutes=5)  # as above, for a claim made "in the future"
# A send that merely got no answer is repeated once. One whose sender died may never have left: it is tried again after
# each of a few deaths, but not by a program that dies of it for ever. Assumed, no source.
MOST_REPEATS = 3
CATCH_UP_LASTS = timedelta(days=7)  # assumed, no source
CATCH_UP_KEY = "catch-up:"
CATCH_UP = (
    "I could not reach you for a while, and some of what I had to say is out of date now, so I left it out."
    ' Ask "due" for what stands.'
)

# These questions are put many times a second: each is written once, with these in place of the times.
NOW: Final = sa.bindparam("now", type_=outbox.c.due_utc.type)
TOO_FAR: Final = sa.bindparam("too_far", type_=outbox.c.due_utc.type)
LATELY_TO_A_PERSON: Final = sa.bindparam("lately_to_a_person", type_=outbox.c.due_utc.type)
LATELY_TO_A_GROUP: Final = sa.bindparam("lately_to_a_group", type_=outbox.c.due_utc.type)
ROOM: Final = sa.bindparam("room", type_=sa.Integer())
LATER: Final = sa.bindparam("later", type_=outbox.c.due_utc.type)
SINCE: Final = sa.bindparam("since", type_=outbox.c.due_utc.type)

CatchUp = Callable[[int, datetime], Outgoing | None]
Rows = Sequence[sa.Row[tuple[object, ...]]]


def claim_rows(
    c: sa.Connection,
    now: datetime,
    limit: int,
    who: str,
    lease: timedelta,
    door: Door,
    catch_up: CatchUp,
    *,
    tidy: bool,
) -> Rows:
    """The outbox rows now leased to `who`, with the message an edit replaces; answers before nudges, oldest first.

    With `tidy` what hangs or is out of date is settled first: it looks at all that waits, so not at every claim.
    """
    held = c.scalar(sa.select(doors.c.hold_until_utc).where(doors.c.door == door.value).with_for_update())
    if tidy:
        _give_up_leases(c, now)
        _bury_out_of_date(c, now, door, catch_up)
        _queue_repeats(c, now)
    if held is not None and now < held <= now + LONGEST_WAIT:
        return []
    room = min(limit, _room(_lately(c, now), held, now)) if door is Door.TELEGRAM else limit
    rows = _first_ready(c, now, door, room) if room else []
    if rows:
        _lease(c, rows, now, who, now + lease)
    return rows


def _first_ready(c: sa.Connection, now: datetime, door: Door, room: int) -> list[sa.Row[tuple[object, ...]]]:
    along_the_index(c)
    rows: list[sa.Row[tuple[object, ...]]] = []
    for answers in (True, False):  # who has written waits for an answer
        if len(rows) < room:
            rows += c.execute(_ready(door, answers=answers), {**_times(now), ROOM.key: room - len(rows)}).all()
    return rows


def _times(now: datetime) -> dict[str, Any]:
    return {
        NOW.key: now,
        TOO_FAR.key: now + LONGEST_WAIT,
        LATELY_TO_A_PERSON.key: now - PRIVATE_PAUSE,
        LATELY_TO_A_GROUP.key: now - GROUP_PAUSE,
    }


def catch_up_message(chat_id: int, now: datetime) -> Outgoing:
    """One line in place of all that went out of date before it could be sent."""
    return Outgoing(
        key=f"{CATCH_UP_KEY}{chat_id}:{now.timestamp():.0f}",
        chat_id=chat_id,
        text=CATCH_UP,
        due_utc=now,
        expires_utc=now + CATCH_UP_LASTS,
        silent=True,
    )


def _of_door(door: Door) -> sa.ColumnElement[bool]:
    terminal = outbox.c.chat_id == TERMINAL_CHAT
    return terminal if door is Door.TERMINAL else ~terminal


def _give_up_leases(c: sa.Connection, now: datetime) -> None:
    """An expired lease means nobody knows; only an edit of a message can be made twice without harm."""
    for settled in _given_up():
        c.execute(settled, {NOW.key: now, LATER.key: now + CLOCK_SLACK})


@cache
def _given_up() -> tuple[sa.Update, sa.Update]:
    expired = sa.or_(outbox.c.lease_until_utc <= NOW, outbox.c.claimed_utc > LATER)
    given_up = sa.update(outbox).where(outbox.c.state == SendState.SENDING.value, expired)
    is_edit = sa.and_(outbox.c.edits.is_not(None), outbox.c.message_id.is_not(None))
    lost = {"state": SendState.UNKNOWN.value, "error": "the sender stopped in the middle", "finished_utc": NOW}
    return given_up.where(is_edit).values(state=SendState.QUEUED.value), given_up.values(**lost)


def _queue_repeats(c: sa.Connection, now: datetime) -> None:
    c.execute(_repeated(), {NOW.key: now})


@cache
def _repeated() -> sa.Update:
    unknown = sa.update(outbox).where(outbox.c.state == SendState.UNKNOWN.value, outbox.c.repeats < MOST_REPEATS)
    again = unknown.where(outbox.c.on_unknown == OnUnknown.RESEND.value, outbox.c.expires_utc > NOW)
    return again.values(state=SendState.QUEUED.value, repeats=outbox.c.repeats + 1, finished_utc=None)


@cache
def _buried(door: Door) -> sa.sql.dml.ReturningUpdate[tuple[object, ...]]:
    late = sa.update(outbox).where(outbox.c.state == SendState.QUEUED.value, outbox.c.expires_utc <= NOW)
    dead = {"state": SendState.DEAD.value, "error": "out of date before it could be sent", "finished_utc": NOW}
    return late.where(_of_door(door)).values(**dead).returning(outbox)


def _bury_out_of_date(c: sa.Connection, now: datetime, door: Door, catch_up: CatchUp) -> None:
    buried = c.execute(_buried(door), {NOW.key: now}).all()
    silenced = {row.chat_id: row.garden for row in buried if not row.repeats and row.edits is None}
    for chat_id, garden in silenced.items():
        if is_reachable(c, chat_id) and not _catch_up_waits(c, chat_id):
            message = catch_up(chat_id, now)
            if message is not None:
                enqueue(c, message, garden)


def _catch_up_waits(c: sa.Connection, chat_id: int) -> bool:
    waiting = sa.and_(outbox.c.state == SendState.QUEUED.value, outbox.c.key.startswith(CATCH_UP_KEY))
    return bool(c.scalar(sa.select(sa.func.count()).where(outbox.c.chat_id == chat_id, waiting)))


def next_room_utc(c: sa.Connection, now: datetime) -> datetime:
    """From when on the pace lets the messenger have one message more."""
    held = c.scalar(sa.select(doors.c.hold_until_utc).where(doors.c.door == Door.TELEGRAM.value))
    lately = _lately(c, now)
    most = _pace(lately, held, now)
    full = [lately[-count] + span for count, span in ((most, SECOND), (AT_ONCE, BURST)) if len(lately) >= count]
    return max([now, *full])


def _pace(lately: Sequence[datetime], held: datetime | None, now: datetime) -> int:
    """How many messages a second; fewer from a standing start, and for a while after the server held us up."""
    before = sum(at <= now - SECOND for at in lately)
    careful = held is not None and now - CAREFUL_FOR < held <= now
    return min(CAREFUL_PER_SECOND if careful else PER_SECOND, max(START_PER_SECOND, before + MORE_A_SECOND))


def _lately(c: sa.Connection, now: datetime) -> list[datetime]:
    """When the messages of the last two seconds reached the server, in order: a slow one at the latest it may have."""
    since = now - 2 * SECOND
    rows = c.execute(_recent(), {NOW.key: now, SINCE.key: since})
    reached = [_reached(row.claimed_utc, now if row.under_way else row.finished_utc) for row in rows]
    return sorted(at for at in reached if since < at <= now)


@cache
def _recent() -> sa.Select[tuple[object, ...]]:
    left, ended = outbox.c.claimed_utc, outbox.c.finished_utc
    under_way = outbox.c.state == SendState.SENDING.value
    recent = sa.or_(sa.and_(left > SINCE, left <= NOW), sa.and_(ended > SINCE, ended <= NOW), under_way)
    return sa.select(left, ended, under_way.label("under_way")).where(
        recent, left.is_not(None), _of_door(Door.TELEGRAM)
    )


def _reached(left: datetime, until: datetime | None) -> datetime:
    return until if until is not None and until - left > SLOW else left


def _room(lately: Sequence[datetime], held: datetime | None, now: datetime) -> int:
    last_second, just_now = (sum(at > now - span for at in lately) for span in (SECOND, BURST))
    return max(0, min(_pace(lately, held, now) - last_second, AT_ONCE - just_now))


@cache
def _ready(door: Door, *, answers: bool) -> sa.Select[tuple[object, ...]]:
    """The first messages that may go, answers or nudges; takes `_times` and the room there is."""
    target = outbox.alias("target")
    replaced = sa.select(target.c.message_id).where(target.c.key == outbox.c.edits).scalar_subquery()
    waits = sa.or_(outbox.c.retry_utc <= NOW, outbox.c.retry_utc > TOO_FAR, outbox.c.retry_utc.is_(None))
    due = sa.and_(outbox.c.state == SendState.QUEUED.value, outbox.c.due_utc <= NOW, waits)
    kind = outbox.c.nudge_key.is_(None) if answers else outbox.c.nudge_key.is_not(None)
    ready = sa.select(outbox, replaced.label("replaced_id")).where(due, outbox.c.expires_utc > NOW, _of_door(door))
    ready = ready.where(kind, ~_chat_is_busy(), ~_ahead(), ~_target_under_way(), ~_chat_pauses())
    first = ready.order_by(outbox.c.due_utc, outbox.c.id).limit(ROOM)
    return first.with_for_update(skip_locked=True, of=outbox)


def _chat_is_busy() -> sa.Exists:
    """Another message of the same chat is under way.

    A question of its own beside `_ahead`: one index answers each, whatever the server knows of the table. Both in one
    cost 11 s a claim with 10,000 messages just written (PostgreSQL 15, measured).
    """
    other = outbox.alias("other")
    return sa.exists().where(other.c.chat_id == outbox.c.chat_id, other.c.state == SendState.SENDING.value)


def _ahead() -> sa.Exists:
    """Another message of the same chat is due earlier."""
    first = outbox.alias("first")
    earlier = sa.or_(
        first.c.due_utc < outbox.c.due_utc, sa.and_(first.c.due_utc == outbox.c.due_utc, first.c.id < outbox.c.id)
    )
    its_edit = sa.and_(first.c.edits.is_not(None), first.c.edits == outbox.c.key)  # it waits for us, not we for it
    queued = sa.and_(first.c.state == SendState.QUEUED.value, first.c.due_utc <= NOW, earlier, ~its_edit)
    return sa.exists().where(first.c.chat_id == outbox.c.chat_id, queued)


def _target_under_way() -> sa.Exists:
    target = outbox.alias("target")
    under_way = target.c.state.in_([SendState.QUEUED.value, SendState.SENDING.value])
    return sa.exists().where(target.c.key == outbox.c.edits, under_way)


def _chat_pauses() -> sa.Exists:
    last = chats.c.last_claim_utc
    too_soon = sa.or_(
        sa.and_(chats.c.chat_id > 0, last > LATELY_TO_A_PERSON), sa.and_(chats.c.chat_id < 0, last > LATELY_TO_A_GROUP)
    )
    # a last claim in the future is a clock that was set back, and must not silence the chat until then
    pauses = sa.or_(chats.c.unreachable_utc.is_not(None), sa.and_(too_soon, last <= NOW))
    return sa.exists().where(chats.c.chat_id == outbox.c.chat_id, pauses)


def _lease(c: sa.Connection, rows: Rows, now: datetime, who: str, until: datetime) -> None:
    """These rows leased, and their chats paced; at most one row is of each chat."""
    mine = {"lease_by": who, "lease_until_utc": until, "claimed_utc": now, "message_id": None}
    all_of_them = sa.update(outbox).where(outbox.c.id.in_([row.id for row in rows]))
    c.execute(all_of_them.values(state=SendState.SENDING.value, attempts=outbox.c.attempts + 1, retry_utc=None, **mine))
    for row in rows:
        if row.replaced_id is not None:
            c.execute(sa.update(outbox).where(outbox.c.id == row.id).values(message_id=row.replaced_id))
    paced = insert_into(c, chats).values([{"chat_id": row.chat_id, "last_claim_utc": now} for row in rows])
    c.execute(paced.on_conflict_do_update(index_elements=["chat_id"], set_={"last_claim_utc": now}))
