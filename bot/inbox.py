"""The durable inbox: each update is stored before it is confirmed to the server, then taken exactly once."""

import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from functools import cache
from typing import Any, Final, NamedTuple, Protocol

import sqlalchemy as sa

from bot.logbook import Door, Logbook, LogbookError, enqueue, garden_of_chat
from bot.logbook.database.tables import inbox, insert_new
from bot.logbook.messages.outgoing import note_topic
from bot.messages import ERROR_LENGTH, Incoming, Outgoing, in_words, redacted

log = logging.getLogger(__name__)

# The server offers an update again for 24 h (Bot API, getUpdates); twice that, so that a late repeat is still known,
# and no longer, because after a quiet week it starts again at a random id.
DONE_KEPT = timedelta(hours=48)

Parse = Callable[[str], Incoming | None]
Answer = Callable[[sa.Connection, Incoming], list[Outgoing]]


class Conversation(Protocol):
    """What stands behind a door: it answers what came in and ticks with the clock, each in a thread of its own."""

    logbook: Logbook

    def take_pending(self, read: Parse, now: Callable[[], datetime], door: Door = Door.TELEGRAM) -> None:
        """Answer all that waits in the inbox of a door."""

    def tick(self, now: datetime) -> None:
        """Look at the weather and the clock, and write what is due into the outbox."""


class NotAtHandError(Exception):
    """What an answer stands on has to be made first, and takes too long for inside a transaction; `make` makes it.

    Nothing is written, and once it is made the update is taken anew. Whoever raises it sees to it that this ends.
    """

    def __init__(self, make: Callable[[], None]) -> None:
        super().__init__("not at hand")
        self.make = make


class UpdateState(StrEnum):
    """What became of an update."""

    PENDING = "pending"
    DONE = "done"
    FAILED = "failed"


class RawUpdate(NamedTuple):
    """One update as it came: its id, its JSON, when we got it, and its chat where the door can tell.

    Ids must differ between doors too, since replies are keyed by them: Telegram's are below 2^31, the terminal
    counts microseconds since 1970. With a `chat_id`, several workers keep the order within a chat.
    """

    update_id: int
    raw: str
    got_utc: datetime
    chat_id: int | None = None


@dataclass(frozen=True, kw_only=True)
class Taken:
    """How many updates were answered, and how many could not be."""

    done: int
    failed: int


def store(
    c: sa.Connection, updates: Iterable[RawUpdate | tuple[int, str, datetime]], door: Door = Door.TELEGRAM
) -> int:
    """How many of these updates are new; one that is known already stays as it is.

    Confirm them to the server only after the transaction has ended.
    """
    new = 0
    for each in updates:
        update = RawUpdate(*each)
        row = {**update._asdict(), "door": door.value, "state": UpdateState.PENDING.value}
        new += insert_new(c, inbox, ["door", "update_id"], **row)
    return new


def put_aside(c: sa.Connection, update: RawUpdate, why: str, door: Door = Door.TELEGRAM) -> None:
    """Keep that an update came which cannot be kept as it is, so that it can be confirmed and does not come again."""
    words = redacted(why)[:ERROR_LENGTH]
    log.error("update %s is put aside: %s", update.update_id, words)
    row = {**update._asdict(), "door": door.value, "state": UpdateState.FAILED.value}
    insert_new(c, inbox, ["door", "update_id"], **row, done_utc=update.got_utc, error=words)


def pending(c: sa.Connection, door: Door = Door.TELEGRAM, limit: int = 100) -> list[RawUpdate]:
    """The updates that may be taken now: the first of each chat, and all whose chat is not known, as they came."""
    return [RawUpdate(*row) for row in c.execute(_first_pending(door), {"most": limit})]


@cache
def _first_pending(door: Door) -> sa.Select[Any]:
    """Written once, as it is asked after every update."""
    first, waiting = inbox.alias("first"), UpdateState.PENDING.value
    earlier = sa.select(first.c.id).where(
        first.c.chat_id == inbox.c.chat_id, first.c.id < inbox.c.id, first.c.door == door.value
    )
    asked = sa.select(inbox.c.update_id, inbox.c.raw, inbox.c.got_utc, inbox.c.chat_id).where(
        inbox.c.state == waiting, inbox.c.door == door.value, ~earlier.where(first.c.state == waiting).exists()
    )
    # An earlier row that another worker holds is still pending to us: its chat waits, and so keeps its order.
    in_order = asked.order_by(inbox.c.id).limit(sa.bindparam("most", type_=sa.Integer()))
    return in_order.with_for_update(skip_locked=True)


def take(
    logbook: Logbook,
    answer: Answer,
    parse: Parse,
    now: Callable[[], datetime],
    *,
    door: Door = Door.TELEGRAM,
    apology: Answer | None = None,
    limit: int | None = None,
) -> Taken:
    """All pending updates of a door taken, each once, in their order; with `limit` no more than so many.

    For each one, "done", all that `answer` writes and the messages it returns are one transaction. An update that
    can't be parsed, or whose answer raises, is marked failed with the redacted error and holds up nobody; `apology`
    may then answer in its place. `parse` returns None for what is no concern of ours. Whatever an answer lacks
    (`NotAtHandError`) is made between two transactions.

    Raises
    ------
    LogbookError
        The logbook itself fails; the update stays pending.
    """
    done = failed = 0
    while limit is None or done + failed < limit:
        update = None
        try:
            with logbook.begin() as c:
                update = next(iter(pending(c, door, limit=1)), None)
                if update is None:
                    return Taken(done=done, failed=failed)
                _settle(c, update, door, UpdateState.DONE, now())
                _answer(c, update, parse, answer)
            done += 1
        except LogbookError:
            raise
        except NotAtHandError as missing:
            missing.make()
        except Exception as error:
            if update is None:
                raise
            _fail(logbook, update, door, error, now())
            failed += 1
            if apology is not None:
                _apologise(logbook, update, parse, apology)
    return Taken(done=done, failed=failed)


_SETTLED: Final = sa.update(inbox).where(
    inbox.c.door == sa.bindparam("of_door"),
    inbox.c.update_id == sa.bindparam("update"),
    inbox.c.state == UpdateState.PENDING.value,
)


def _settle(
    c: sa.Connection, update: RawUpdate, door: Door, state: UpdateState, now: datetime, error: str | None = None
) -> None:
    one = {"of_door": door.value, "update": update.update_id}
    c.execute(_SETTLED, {**one, "state": state.value, "done_utc": now, "error": error})


def _answer(c: sa.Connection, update: RawUpdate, parse: Parse, answer: Answer) -> None:
    incoming = parse(update.raw)
    if incoming is None:
        return
    if incoming.is_group and garden_of_chat(c, incoming.chat_id) is not None:
        note_topic(c, incoming.chat_id, incoming.topic)
    for outgoing in answer(c, replace(incoming, got_utc=update.got_utc)):
        person = garden_of_chat(c, outgoing.chat_id)
        topic = incoming.topic if outgoing.chat_id == incoming.chat_id else None  # answered where it was said
        enqueue(c, replace(outgoing, topic=topic), person.garden if person else None)


def _fail(logbook: Logbook, update: RawUpdate, door: Door, error: Exception, now: datetime) -> None:
    words = in_words(error)[:ERROR_LENGTH]
    log.error("update %s could not be taken: %s", update.update_id, words)
    with logbook.begin() as c:
        _settle(c, update, door, UpdateState.FAILED, now, words)


def _apologise(logbook: Logbook, update: RawUpdate, parse: Parse, apology: Answer) -> None:
    try:
        with logbook.begin() as c:
            _answer(c, update, parse, apology)
    except LogbookError:
        raise
    except Exception as error:  # noqa: BLE001 - what can't be parsed can't be apologised for
        log.error("no apology for update %s: %s", update.update_id, redacted(repr(error)))  # noqa: TRY400


def purge(c: sa.Connection, now: datetime) -> int:
    """How many settled updates were let go because the server can't offer them again."""
    settled = sa.and_(inbox.c.state != UpdateState.PENDING.value, inbox.c.done_utc < now - DONE_KEPT)
    return c.execute(sa.delete(inbox).where(settled)).rowcount
