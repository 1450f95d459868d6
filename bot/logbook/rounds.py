"""Rounds as they were made, so that any advice can be replayed, and the small states a garden carries along."""

import json
import zlib
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

import sqlalchemy as sa

from bot.logbook.database.tables import (
    forecasts,
    insert_into,
    invitations,
    let_in_codes,
    let_in_tries,
    nudges,
    outbox,
    rounds,
    states,
)

LAST_ID: Final = 2**63
KEPT = timedelta(days=400)  # a winter and the one before it, so that this year can be set against last year


@dataclass(frozen=True, kw_only=True)
class KeptRound:
    """One round: when, on which forecast, and every number it could show, as JSON."""

    round_id: int
    garden: str
    at_utc: datetime
    forecast_id: int | None
    numbers: str


def note_round(c: sa.Connection, garden: str, now: datetime, forecast_id: int | None, numbers_json: str) -> int:
    """The id of a round just kept."""
    packed = zlib.compress(numbers_json.encode())
    row = sa.insert(rounds).values(garden=garden, at_utc=now, forecast_id=forecast_id, numbers=packed)
    return int(c.execute(row.returning(rounds.c.id)).scalar_one())


def round_by_id(c: sa.Connection, garden: str, round_id: int) -> KeptRound | None:
    """One round of this garden; None if there is no such round."""
    return _read(c, sa.and_(rounds.c.garden == garden, rounds.c.id == round_id))


def last_round(c: sa.Connection, garden: str) -> KeptRound | None:
    """The round made last."""
    return _read(c, rounds.c.garden == garden)


def rounds_of_evenings(c: sa.Connection, garden: str, moments: Mapping[date, datetime]) -> dict[date, dict[str, Any]]:
    """The numbers of the last round of the 24 h up to each moment, by its day; days without one are left out."""
    if not moments:
        return {}
    span = rounds.c.at_utc.between(min(moments.values()) - timedelta(days=1), max(moments.values()))
    asked = sa.select(rounds.c.id, rounds.c.at_utc).where(rounds.c.garden == garden, span)
    known = sorted((row.at_utc, row.id) for row in c.execute(asked))
    found: dict[date, dict[str, Any]] = {}
    for day, moment in moments.items():
        before = [round_id for at, round_id in known[: bisect_right(known, (moment, LAST_ID))][-1:]
                  if moment - at <= timedelta(days=1)]  # fmt: skip
        kept = round_by_id(c, garden, before[0]) if before else None
        if kept is not None:
            found[day] = json.loads(kept.numbers)
    return found


def _read(c: sa.Connection, which: sa.ColumnElement[bool]) -> KeptRound | None:
    newest = sa.select(rounds).where(which).order_by(rounds.c.at_utc.desc(), rounds.c.id.desc()).limit(1)
    row = c.execute(newest).first()
    if row is None:
        return None
    numbers = zlib.decompress(row.numbers).decode()
    return KeptRound(
        round_id=row.id, garden=row.garden, at_utc=row.at_utc, forecast_id=row.forecast_id, numbers=numbers
    )


# written once, as each reply and each tick asks several times
_STATE: Final = sa.select(states.c.body).where(
    states.c.garden == sa.bindparam("garden"), states.c.name == sa.bindparam("name")
)


def note_state(c: sa.Connection, garden: str, name: str, body_json: str) -> None:
    """Keep a named state of a garden in place of the one before."""
    row = insert_into(c, states)
    row = row.on_conflict_do_update(index_elements=["garden", "name"], set_={"body": row.excluded.body})
    c.execute(row, {"garden": garden, "name": name, "body": body_json})


def read_state(c: sa.Connection, garden: str, name: str) -> str | None:
    """A named state of a garden, as JSON; None if it was never kept."""
    return c.scalar(_STATE, {"garden": garden, "name": name})


def read_states(c: sa.Connection, garden: str, names: Iterable[str]) -> dict[str, str]:
    """Named states of a garden, as JSON; those never kept are left out."""
    wanted = sa.select(states.c.name, states.c.body).where(states.c.garden == garden, states.c.name.in_(list(names)))
    return {row.name: row.body for row in c.execute(wanted)}


def purge(c: sa.Connection, now: datetime) -> int:
    """How many rows were let go: forecasts, rounds and finished messages past 400 days, codes past their use.

    Records, nudges and past hours stay for ever, and so does the round a nudge rests on, with its forecast.
    """
    old, stale = now - KEPT, now - timedelta(days=1)
    told = sa.select(nudges.c.round_id).where(nudges.c.round_id.is_not(None))
    used = sa.select(rounds.c.forecast_id).where(rounds.c.forecast_id.is_not(None))
    gone = (
        sa.delete(rounds).where(rounds.c.at_utc < old, rounds.c.id.not_in(told)),
        sa.delete(forecasts).where(forecasts.c.seen_utc < old, forecasts.c.id.not_in(used)),
        sa.delete(outbox).where(outbox.c.finished_utc < old),
        sa.delete(let_in_codes).where(let_in_codes.c.expires_utc < stale),
        sa.delete(let_in_tries).where(let_in_tries.c.at_utc < stale),
        sa.delete(invitations).where(invitations.c.expires_utc < stale),
    )
    return sum(c.execute(each).rowcount for each in gone)
