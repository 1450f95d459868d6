"""A small bot that is killed: inbox, answer, tick and outbox in one loop, forked from a parent that stays alive.

Run as `worker.py LOGBOOK ADDRESS KIND`; for the lines on standard input see `fork_bots`.
"""

import json
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from http.client import HTTPConnection
from typing import Any

import sqlalchemy as sa

from bot import inbox, outbox
from bot import logbook as lb
from bot.messages import Incoming, IncomingKind, OnUnknown, Outgoing
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind
from tests.bot.forked import fork_bots

GARDEN = "Larkmoor"
STARTED = datetime(2026, 11, 25, 16, tzinfo=UTC)
NUDGES = 40
NUDGE_EVERY = timedelta(seconds=5)
LASTS = timedelta(days=1)


class Server:
    """The messenger as the bot sees it."""

    def __init__(self, address: str) -> None:
        self._address = address

    def ask(self, method: str, **fields: Any) -> Any:
        connection = HTTPConnection(self._address, timeout=5)
        connection.request("POST", f"/{method}", json.dumps(fields))
        answer = json.loads(connection.getresponse().read())
        connection.close()
        return answer

    def send(self, claimed: outbox.Claimed) -> outbox.SendOutcome:
        fields = {"key": claimed.key, "text": claimed.text, "edits": claimed.edits_message_id}
        return outbox.SendOutcome(outcome=outbox.Outcome.SENT, message_id=self.ask("send", **fields))


def message(key: str, chat_id: int, now: datetime, on_unknown: OnUnknown, edits: str | None = None) -> Outgoing:
    until = now + LASTS
    return Outgoing(
        key=key, chat_id=chat_id, text=key, due_utc=now, expires_utc=until, on_unknown=on_unknown, edits=edits
    )


def parse(raw: str) -> Incoming:
    said = json.loads(raw)
    chat_id, text = said["chat_id"], said["text"]
    return Incoming(
        update_id=said["id"], chat_id=chat_id, person="Rowan", kind=IncomingKind.TEXT, text=text, at_utc=STARTED
    )


def answer(c: sa.Connection, incoming: Incoming) -> list[Outgoing]:
    """A deed noted, a reply (every second one worth a repeat), and now and then an edit of that reply."""
    number = incoming.update_id
    source = lb.Source(garden=GARDEN, person="Rowan", update_id=number, noted_utc=STARTED)
    deed = Deed(tree="Porch fig", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=STARTED)
    lb.note_entry(c, source, deed)
    seen = int(lb.read_state(c, GARDEN, "count") or 0)
    lb.note_state(c, GARDEN, "count", str(seen + 1))
    policy = OnUnknown.RESEND if number % 2 else OnUnknown.HOLD
    reply = message(f"reply:{number}:0", incoming.chat_id, STARTED, policy)
    edit = message(f"edit:{number}:1", incoming.chat_id, STARTED, OnUnknown.RESEND, edits=reply.key)
    return [reply] if number % 5 else [reply, edit]


def tick(logbook: lb.Logbook, now: datetime) -> None:
    """What is due is worked out anew each time, so that a restart forgets none and repeats none."""
    due = min(NUDGES, (now - STARTED) // NUDGE_EVERY)
    with logbook.begin() as c:
        for number in range(due):
            key = f"nudge:{number}"
            nudge = lb.Nudge(
                key=key,
                garden=GARDEN,
                stage="evening",
                ask="close",
                trees=("Porch fig",),
                night=date(2026, 11, 25),
                opened_utc=now,
                expires_utc=now + LASTS,
            )
            if lb.open_nudge(c, nudge):
                lb.enqueue(c, message(key, 1000 + number, now, OnUnknown.RESEND), GARDEN, key)


def durable(path: str, server: Server, now: Callable[[], datetime]) -> None:
    logbook = lb.open_logbook(path)
    outbox.recover(logbook, "bot", now())
    offset = 0
    while True:
        asked = server.ask("getUpdates", offset=offset)
        if asked["updates"]:
            rows = [inbox.RawUpdate(u["id"], json.dumps(u), now(), u["chat_id"]) for u in asked["updates"]]
            with logbook.begin() as c:
                inbox.store(c, rows)
            offset = max(row.update_id for row in rows) + 1  # confirmed by the next call, after the commit
        inbox.take(logbook, answer, parse, now)
        tick(logbook, now())
        sent = outbox.deliver(logbook, server.send, now, "bot", limit=5)
        if asked["stop"] and not sent and not asked["updates"] and _nothing_left(logbook):
            return


def _nothing_left(logbook: lb.Logbook) -> bool:
    with logbook.begin() as c:
        waiting = lb.database.tables.outbox.c.state.in_(["queued", "sending"])
        left = c.scalar(sa.select(sa.func.count()).select_from(lb.database.tables.outbox).where(waiting))
        return not left and len(lb.nudges_since(c, GARDEN, STARTED)) == NUDGES


def naive(path: str, server: Server, now: Callable[[], datetime]) -> None:
    """The same bot written as one would at first: updates wait in memory, messages are sent as they come up."""
    logbook = lb.open_logbook(path)
    offset = nudged = 0
    while True:
        asked = server.ask("getUpdates", offset=offset)
        offset = max([u["id"] + 1 for u in asked["updates"]], default=offset)
        server.ask("getUpdates", offset=offset)  # confirmed before it is stored
        for raw in asked["updates"]:
            with logbook.begin() as c:
                replies = answer(c, parse(json.dumps(raw)))
            for reply in replies:
                server.ask("send", key=reply.key, text=reply.text, edits=None)
        due = min(NUDGES, (now() - STARTED) // NUDGE_EVERY)
        for number in range(nudged, due):
            server.ask("send", key=f"nudge:{number}", text=f"nudge:{number}", edits=None)
        nudged = due
        if asked["stop"] and not asked["updates"] and due == NUDGES:
            return


def main() -> None:
    path, address, kind = sys.argv[1:]
    run = {"durable": durable, "naive": naive}[kind]
    fork_bots(lambda now: run(path, Server(address), now), STARTED)


if __name__ == "__main__":
    main()
