"""Once a day: let go what nobody will ask for again, so that a logbook of ten years stays small."""

import json
from datetime import UTC, datetime
from typing import Final

from bot.inbox import purge as purge_inbox
from bot.logbook import Logbook, note_state, purge, read_state

NOBODYS: Final = ""  # the state belongs to no garden


def keep_house(logbook: Logbook, now: datetime) -> int:
    """How many rows were let go; none if that was done today already."""
    today = json.dumps(str(now.astimezone(UTC).date()))
    with logbook.begin() as c:
        if read_state(c, NOBODYS, "purged") == today:
            return 0
        note_state(c, NOBODYS, "purged", today)
        return purge(c, now) + purge_inbox(c, now)
