"""When the world outside last answered: for the health of a deployment, whichever of its programs it answered."""

import json
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

import sqlalchemy as sa

from bot.logbook.rounds import note_state, read_state

NOBODYS: Final = ""  # the state belongs to no garden
NOTED_EVERY: Final = timedelta(minutes=1)


class Outside(StrEnum):
    """Whom we depend on."""

    MESSENGER = "messenger heard"
    WEATHER = "weather heard"


def note_heard(c: sa.Connection, whom: Outside, now: datetime) -> None:
    """An answer came; written down once a minute at most."""
    before = heard_utc(c, whom)
    if before is None or not timedelta(0) <= now - before < NOTED_EVERY:
        note_state(c, NOBODYS, whom, json.dumps(now.isoformat()))


def heard_utc(c: sa.Connection, whom: Outside) -> datetime | None:
    """When the last answer came, to a minute; None where none ever did."""
    told = read_state(c, NOBODYS, whom)
    return datetime.fromisoformat(json.loads(told)) if told else None
