"""Nudges on record: opened once, settled once, found again by key, by number or by the message that carried them."""

import json
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

import sqlalchemy as sa

from bot.logbook.database.tables import insert_new, nudges
from bot.logbook.messages.outgoing import withdraw
from bot.nudges import NudgeState


@dataclass(frozen=True, kw_only=True)
class Nudge:
    """One thing asked of a garden's people, and what became of it.

    `key` is unique for ever; `nudge_id` is short enough for a button; `generation` tells a tap on an old button from
    one on today's. `numbers` is the JSON of every number the message showed.
    """

    key: str
    garden: str
    stage: str
    ask: str
    trees: tuple[str, ...]
    night: date
    opened_utc: datetime
    expires_utc: datetime
    numbers: str = "{}"
    round_id: int | None = None
    generation: int = 0
    state: NudgeState = NudgeState.OPEN
    settled_by: str | None = None
    settled_by_id: int | None = None
    settled_utc: datetime | None = None
    settled_update_id: int | None = None
    nudge_id: int | None = None


def open_nudge(c: sa.Connection, nudge: Nudge) -> bool:
    """Whether this nudge is new; False if its key is on record already, and then nothing changes."""
    return insert_new(
        c,
        nudges,
        ["key"],
        key=nudge.key,
        garden=nudge.garden,
        stage=nudge.stage,
        ask=nudge.ask,
        trees=json.dumps(nudge.trees),
        night=nudge.night,
        generation=nudge.generation,
        opened_utc=nudge.opened_utc,
        expires_utc=nudge.expires_utc,
        state=nudge.state.value,
        numbers=nudge.numbers,
        round_id=nudge.round_id,
    )


def open_nudges(c: sa.Connection, garden: str) -> list[Nudge]:
    """The nudges not yet settled, oldest first."""
    return _read(c, _OPEN, garden=garden)


def nudges_since(c: sa.Connection, garden: str, since_utc: datetime) -> list[Nudge]:
    """All nudges opened since then, oldest first."""
    return _read(c, _SINCE, garden=garden, since=since_utc)


def nudge_by_key(c: sa.Connection, key: str) -> Nudge | None:
    """The nudge of a key."""
    return next(iter(_read(c, _ALL.where(nudges.c.key == key))), None)


def nudge_by_id(c: sa.Connection, garden: str, nudge_id: int) -> Nudge | None:
    """The nudge a button names; None if it is another garden's."""
    return next(iter(_read(c, _OF_GARDEN.where(nudges.c.id == nudge_id), garden=garden)), None)


def settle_nudge(
    c: sa.Connection,
    key: str,
    state: NudgeState,
    by: str | None,
    now: datetime,
    update_id: int | None = None,
    by_id: int | None = None,
) -> bool:
    """Whether the nudge was open and is settled now; the first answer counts. `by` is a name to be read.

    What the outbox still held of it is withdrawn, edits excepted: after an answer nothing more is asked.
    """
    settled = {"settled_by": by, "settled_by_id": by_id, "settled_utc": now, "settled_update_id": update_id}
    still_open = sa.and_(nudges.c.key == key, nudges.c.state == NudgeState.OPEN.value)
    if c.execute(sa.update(nudges).where(still_open).values(state=state.value, **settled)).rowcount == 0:
        return False
    withdraw(c, key, now, f"nudge {state.value}")
    return True


def expire_nudges(c: sa.Connection, garden: str, now: datetime) -> list[Nudge]:
    """The open nudges for which it became too late, settled as expired."""
    late = [nudge for nudge in open_nudges(c, garden) if nudge.expires_utc <= now]
    return [nudge for nudge in late if settle_nudge(c, nudge.key, NudgeState.EXPIRED, None, now)]


def reopen_nudges(c: sa.Connection, garden: str, update_id: int) -> list[str]:
    """The keys of the nudges which that reply had settled, open again because the reply is undone."""
    by_reply = sa.and_(nudges.c.garden == garden, nudges.c.settled_update_id == update_id)
    unsettled = {"settled_by": None, "settled_by_id": None, "settled_utc": None, "settled_update_id": None}
    back = sa.update(nudges).where(by_reply).values(state=NudgeState.OPEN.value, **unsettled)
    return list(c.scalars(back.returning(nudges.c.key)))


def rename_tree_nudges(c: sa.Connection, garden: str, old: str, new: str) -> None:
    """Open nudges speak of a tree under its new name."""
    for nudge in open_nudges(c, garden):
        if old in nudge.trees:
            trees = json.dumps([new if tree == old else tree for tree in nudge.trees])
            c.execute(sa.update(nudges).where(nudges.c.key == nudge.key).values(trees=trees))


_ALL: Final = sa.select(nudges).order_by(nudges.c.id)
_OF_GARDEN: Final = _ALL.where(nudges.c.garden == sa.bindparam("garden"))
_OPEN: Final = _OF_GARDEN.where(nudges.c.state == NudgeState.OPEN.value)
_SINCE: Final = _OF_GARDEN.where(nudges.c.opened_utc >= sa.bindparam("since"))


def _read(c: sa.Connection, which: sa.Select[Any], **given: object) -> list[Nudge]:
    return [_nudge(dict(row)) for row in c.execute(which, given).mappings()]


def _nudge(row: dict[str, object]) -> Nudge:
    row["nudge_id"] = row.pop("id")
    row["trees"] = tuple(json.loads(str(row["trees"])))
    row["state"] = NudgeState(str(row["state"]))
    return Nudge(**row)  # type: ignore[arg-type]  # the columns are the fields, which a test holds
