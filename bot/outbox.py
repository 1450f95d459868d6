"""The outbox: each message claimed by one worker, sent once, its outcome noted; given up only with a reason."""

import json
import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

import sqlalchemy as sa

from bot.logbook import TERMINAL_CHAT, Door, Logbook, SendState, enqueue, mark_unreachable, move_chat, with_codes
from bot.logbook.database.tables import doors, outbox
from bot.logbook.messages.sendable import LONGEST_WAIT, CatchUp, catch_up_message, claim_rows, next_room_utc
from bot.logbook.messages.unheard import unheard
from bot.messages import ERROR_LENGTH, Button, OnUnknown, in_words, redacted

__all__ = ["Claimed", "Outcome", "SendOutcome", "claim", "deliver", "enqueue", "finish", "recover"]

log = logging.getLogger(__name__)

# Longer than the worst send: 5 s to connect, 15 s to write, 15 s to read, 5 s in the pool, and as much again.
LEASE = timedelta(seconds=90)
LONGEST_BACKOFF_S = 300.0
AFTER_429 = timedelta(seconds=0.5)  # on top of what the server asks for
REPEAT_WORDS = "Sending this again in case the first did not arrive."


class Outcome(StrEnum):
    """How a send ended."""

    SENT = "sent"
    NOT_SENT = "not sent"  # surely: no connection, or the server asked us to wait
    UNKNOWN = "unknown"  # it may have arrived: reset, late answer, 5xx
    REFUSED = "refused"  # the server will never take this message
    CHAT_GONE = "chat gone"  # blocked or closed
    CHAT_MOVED = "chat moved"  # a group got a new id
    FORBIDDEN_TOKEN = "forbidden token"  # noqa: S105 - a name, not a secret; the door must stop


@dataclass(frozen=True, kw_only=True)
class SendOutcome:
    """How a send ended, with what the outbox needs to go on.

    `message_id` with SENT; `retry_after_s` [s] with NOT_SENT when the server asked the whole bot to wait;
    `new_chat_id` with CHAT_MOVED; `reason` with all others.
    """

    outcome: Outcome
    message_id: int | None = None
    retry_after_s: float | None = None
    new_chat_id: int | None = None
    reason: str = ""

    def __post_init__(self) -> None:
        if self.outcome is Outcome.CHAT_MOVED and self.new_chat_id is None:
            raise ValueError("a chat that moved needs its new_chat_id, got none")


@dataclass(frozen=True, kw_only=True)
class Claimed:
    """One message leased to one worker, ready to send as it is.

    `edits_message_id` is the message to replace; None means a new message. `is_repeat` messages say so in `text`.
    `attempt` and `worker` fence the outcome: a worker whose lease was given up can't overwrite another's.
    """

    row_id: int
    key: str
    garden: str | None
    nudge_key: str | None
    chat_id: int
    text: str
    buttons: tuple[Button, ...]
    silent: bool
    picture: str | None
    edits_message_id: int | None
    is_repeat: bool
    topic: int | None
    replies_to: int | None
    reaction: str
    attempt: int
    worker: str


Send = Callable[[Claimed], SendOutcome]


def claim(
    logbook: Logbook,
    now: datetime,
    limit: int,
    who: str,
    *,
    lease: timedelta = LEASE,
    door: Door = Door.TELEGRAM,
    catch_up: CatchUp = catch_up_message,
    tidy: bool = True,
) -> list[Claimed]:
    """The messages that `who` shall send now, oldest first, at most one per chat.

    Each chat is kept in order and paced (1.05 s a person, 3.1 s a group, 29 a second in all, fewer after the server
    asked for a pause; the terminal is not paced, so ask again until nothing comes). On the way, leases that ran out
    become unknown, unknown ones that protect wood are queued once more as marked repeats, and what is out of date is
    given up; `catch_up` may say so in one line per chat. Not `tidy` leaves all that to another claim. Claim no more
    than you send at the same time: of a worker that dies, all that it had claimed is unknown, sent or not.
    """
    with logbook.begin() as c:
        rows = claim_rows(c, now, limit, who, lease, door, catch_up, tidy=tidy)
        return [_claimed(row, who, with_codes(c, row.text)) for row in rows]


def pace_s(logbook: Logbook, now: datetime) -> float:
    """How long until the pace lets the messenger have one message more [s]; 0 where it does now."""
    with logbook.begin() as c:
        return (next_room_utc(c, now) - now).total_seconds()


def _claimed(row: sa.Row[tuple[object, ...]], who: str, text: str) -> Claimed:
    return Claimed(
        row_id=row.id,
        key=row.key,
        garden=row.garden,
        nudge_key=row.nudge_key,
        chat_id=row.chat_id,
        text=f"{REPEAT_WORDS}\n{text}" if row.repeats else text,
        buttons=tuple(Button(label=label, data=data) for label, data in json.loads(row.buttons)),
        silent=row.silent,
        picture=row.picture,
        edits_message_id=row.replaced_id,
        is_repeat=row.repeats > 0,
        topic=row.topic,
        replies_to=row.replies_to,
        reaction=row.reaction or "",
        attempt=row.attempts + 1,
        worker=who,
    )


def finish(logbook: Logbook, claimed: Claimed, result: SendOutcome, now: datetime) -> bool:
    """Whether the outcome was noted; False when the lease was given up meanwhile and the row went on without us."""
    with logbook.begin() as c:
        changed = c.execute(_fenced(claimed, result).values(**_after(claimed, result, now))).rowcount == 1
        match result.outcome:
            case Outcome.CHAT_GONE:
                mark_unreachable(c, claimed.chat_id, now)
            case Outcome.CHAT_MOVED if result.new_chat_id is not None:
                move_chat(c, claimed.chat_id, result.new_chat_id)
            case Outcome.SENT if changed:
                _tell_unheard(c, claimed, now)
            case Outcome.NOT_SENT if result.retry_after_s is not None:
                _hold_all(c, claimed, result.retry_after_s, now)
    return changed


def _tell_unheard(c: sa.Connection, claimed: Claimed, now: datetime) -> None:
    """The chat is reached again: what it should have heard and never did goes after this message."""
    lost = unheard(c, claimed.chat_id, now)
    if lost is not None:
        enqueue(c, lost, claimed.garden)


def _fenced(claimed: Claimed, result: SendOutcome) -> sa.Update:
    mine = sa.and_(
        outbox.c.id == claimed.row_id, outbox.c.lease_by == claimed.worker, outbox.c.attempts == claimed.attempt
    )
    states = [SendState.SENDING.value]
    if result.outcome is Outcome.SENT:  # good news may come late, as long as nobody has claimed the row again
        states += [SendState.UNKNOWN.value, SendState.QUEUED.value]
    return sa.update(outbox).where(mine, outbox.c.state.in_(states))


def _after(claimed: Claimed, result: SendOutcome, now: datetime) -> dict[str, object]:
    """The columns of the row after this outcome."""
    error = redacted(result.reason)[:ERROR_LENGTH] or result.outcome.value
    is_edit = claimed.edits_message_id is not None
    queued: dict[str, object] = {"state": SendState.QUEUED.value, "error": error}
    match result.outcome:
        case Outcome.SENT:
            sent_as = result.message_id if result.message_id is not None else claimed.edits_message_id
            return {"state": SendState.SENT.value, "message_id": sent_as, "finished_utc": now, "error": None}
        case Outcome.REFUSED if is_edit:  # too old or gone: say it in a new message
            return {**queued, "edits": None, "message_id": None}
        case Outcome.REFUSED | Outcome.CHAT_GONE:
            return {"state": SendState.DEAD.value, "finished_utc": now, "error": error}
        case Outcome.UNKNOWN if not is_edit:
            given_up = OnUnknown.TELL if claimed.nudge_key is None else OnUnknown.HOLD  # a nudge has its ladder
            once = {"on_unknown": given_up.value} if claimed.is_repeat else {}
            return {"state": SendState.UNKNOWN.value, "finished_utc": now, "error": error, **once}
        case Outcome.UNKNOWN | Outcome.NOT_SENT:  # the same edit twice does no harm
            wait_s = min(LONGEST_BACKOFF_S, 2.0**claimed.attempt)
            return {**queued, "retry_utc": now + timedelta(seconds=wait_s if result.retry_after_s is None else 0)}
        case _:
            return queued


def _hold_all(c: sa.Connection, claimed: Claimed, retry_after_s: float, now: datetime) -> None:
    door = Door.TERMINAL if claimed.chat_id == TERMINAL_CHAT else Door.TELEGRAM
    until = now + min(timedelta(seconds=retry_after_s) + AFTER_429, LONGEST_WAIT)
    c.execute(sa.update(doors).where(doors.c.door == door.value).values(hold_until_utc=until))


def recover(logbook: Logbook, who: str, now: datetime) -> int:
    """How many sends a worker of this name left unfinished when it died; call at its start, before the first claim.

    Their outcome is unknown, and with this nobody waits until their leases run out.
    """
    with logbook.begin() as c:
        left = sa.update(outbox).where(outbox.c.lease_by == who, outbox.c.state == SendState.SENDING.value)
        return c.execute(left.values(lease_until_utc=now)).rowcount


def deliver(
    logbook: Logbook,
    send: Send,
    now: Callable[[], datetime],
    who: str,
    *,
    limit: int = 10,
    door: Door = Door.TELEGRAM,
) -> int:
    """How many messages were tried, one after the other, `limit` at most; the loop body of a door that need not wait.

    Each is claimed just before it is sent. A `send` that raises is a send of unknown outcome.
    """
    for tried in range(limit):
        batch = claim(logbook, now(), 1, who, door=door)
        if not batch:
            return tried
        finish(logbook, batch[0], _tried(send, batch[0]), now())
    return limit


def _tried(send: Send, claimed: Claimed) -> SendOutcome:
    try:
        return send(claimed)
    except Exception as error:  # noqa: BLE001 - whatever it was, the message may have arrived
        reason = in_words(error)
        log.warning("outcome of %s is unknown: %s", claimed.key, reason)
        return SendOutcome(outcome=Outcome.UNKNOWN, reason=reason)
