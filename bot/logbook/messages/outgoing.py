"""Messages put into the outbox in the transaction of what they rest on; bot/outbox takes them from there."""

import json
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

import sqlalchemy as sa

from bot.logbook.database.tables import insert_into, insert_new, outbox, states
from bot.messages import OnUnknown, Outgoing

TOPIC = "topic "  # begins the name of the state of a group that says where it speaks of its garden
TERMINAL_CHAT = 0  # the one chat of the terminal door; the messenger's ids are positive (people) or negative (groups)


class Door(StrEnum):
    """The two doors."""

    TELEGRAM = "telegram"
    TERMINAL = "terminal"


class SendState(StrEnum):
    """Where a message is on its way."""

    QUEUED = "queued"
    SENDING = "sending"  # leased by a worker
    SENT = "sent"
    UNKNOWN = "unknown"  # sent, but no answer came: it may have arrived
    DEAD = "dead"  # never arrived and never will; `error` says why


@dataclass(frozen=True, kw_only=True)
class NudgeMessage:
    """One message that carries a nudge: its outbox key (for `Outgoing.edits`) and where it went."""

    key: str
    chat_id: int
    message_id: int | None
    state: SendState


def note_topic(c: sa.Connection, chat_id: int, topic: int | None) -> None:
    """Where in a group the garden was last spoken of: what is said there unasked goes to the same topic."""
    row = insert_into(c, states).values(garden="", name=f"{TOPIC}{chat_id}", body=json.dumps(topic))
    c.execute(row.on_conflict_do_update(index_elements=["garden", "name"], set_={"body": json.dumps(topic)}))


def _topic_of(c: sa.Connection, chat_id: int) -> int | None:
    if chat_id >= 0:
        return None
    one = sa.and_(states.c.garden == "", states.c.name == f"{TOPIC}{chat_id}")
    topic = json.loads(c.scalar(sa.select(states.c.body).where(one)) or "null")
    return int(topic) if topic is not None else None


def enqueue(c: sa.Connection, outgoing: Outgoing, garden: str | None, nudge_key: str | None = None) -> bool:
    """Whether the message is new; False if its key is on record already, and then nothing changes."""
    topic = outgoing.topic if outgoing.topic is not None else _topic_of(c, outgoing.chat_id)
    buttons = json.dumps([[button.label, button.data] for button in outgoing.buttons], ensure_ascii=False)
    return insert_new(
        c,
        outbox,
        ["key"],
        key=outgoing.key,
        garden=garden,
        nudge_key=nudge_key,
        chat_id=outgoing.chat_id,
        topic=topic,
        replies_to=outgoing.replies_to,
        reaction=outgoing.reaction or None,
        text=outgoing.text,
        buttons=buttons,
        picture=outgoing.picture,
        silent=outgoing.silent,
        edits=outgoing.edits,
        due_utc=outgoing.due_utc,
        expires_utc=outgoing.expires_utc,
        on_unknown=outgoing.on_unknown.value,
        state=SendState.QUEUED.value,
        attempts=0,
        repeats=0,
    )


def withdraw(c: sa.Connection, nudge_key: str, now: datetime, reason: str) -> int:
    """How many queued messages of a nudge were taken back; one under way is not sent a second time either."""
    of_nudge = sa.and_(outbox.c.nudge_key == nudge_key, outbox.c.edits.is_(None))
    under_way = outbox.c.state.in_([SendState.SENDING.value, SendState.UNKNOWN.value])
    c.execute(sa.update(outbox).where(of_nudge, under_way).values(on_unknown=OnUnknown.HOLD.value))
    queued = sa.update(outbox).where(of_nudge, outbox.c.state == SendState.QUEUED.value)
    return c.execute(queued.values(state=SendState.DEAD.value, error=reason, finished_utc=now)).rowcount


def messages_of_nudge(c: sa.Connection, nudge_key: str) -> list[NudgeMessage]:
    """The messages that carried a nudge, one per chat, oldest first; where it changed an earlier one, that one."""
    of_nudge, is_new = outbox.c.nudge_key == nudge_key, outbox.c.edits.is_(None)
    changed = sa.select(outbox.c.edits).where(of_nudge, outbox.c.edits.is_not(None))
    first = sa.select(outbox).where(is_new, sa.or_(of_nudge, outbox.c.key.in_(changed)))
    return [
        NudgeMessage(key=row.key, chat_id=row.chat_id, message_id=row.message_id, state=SendState(row.state))
        for row in c.execute(first.order_by(outbox.c.id))
    ]


def nudge_of_message(c: sa.Connection, chat_id: int, message_id: int) -> str | None:
    """The key of the nudge that a message on the grower's screen carried; None if it carried none."""
    one = sa.and_(outbox.c.chat_id == chat_id, outbox.c.message_id == message_id)
    newest = sa.select(outbox.c.nudge_key).where(one, outbox.c.nudge_key.is_not(None))
    return c.scalar(newest.order_by(outbox.c.id.desc()).limit(1))
