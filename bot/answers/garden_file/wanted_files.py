"""Files sent to a garden that are still with the messenger: wanted, fetched by the door, then read."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Final

from bot.logbook import Connection, note_state, note_to_fetch, read_state
from bot.messages import Incoming

STATE: Final = "files wanted"
FETCHED_WITHIN: Final = timedelta(hours=1)  # who sent a file waits for the answer; no source


@dataclass(frozen=True, kw_only=True)
class WantedFile:
    """A file whose bytes are to be fetched: its name, under which the messenger keeps it, and who waits for it."""

    file_id: str
    name: str
    chat_id: int
    update_id: int
    at: str

    def is_late(self, now: datetime) -> bool:
        """Whether it was asked for too long ago to be answered still."""
        return now - datetime.fromisoformat(self.at) > FETCHED_WITHIN


def note_wanted(c: Connection, garden: str, came: Incoming) -> None:
    """Want the file that came with a message."""
    file = WantedFile(
        file_id=came.file_id, name=came.file_name, chat_id=came.chat_id, update_id=came.update_id,
        at=came.at_utc.isoformat(),
    )  # fmt: skip
    _write(c, garden, [*wanted_files(c, garden), file])
    note_to_fetch(c, garden)


def wanted_files(c: Connection, garden: str) -> list[WantedFile]:
    """The files still to be fetched, oldest first."""
    return [WantedFile(**one) for one in json.loads(read_state(c, garden, STATE) or "[]")]


def no_longer_wanted(c: Connection, garden: str, file: WantedFile) -> bool:
    """Whether the file was wanted until now; it is no longer."""
    wanted = wanted_files(c, garden)
    _write(c, garden, [one for one in wanted if one != file])
    return file in wanted


def _write(c: Connection, garden: str, files: Sequence[WantedFile]) -> None:
    note_state(c, garden, STATE, json.dumps([asdict(file) for file in files]))
