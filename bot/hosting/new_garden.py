"""A door before a garden that does not exist yet, which gives way to its watch once its file is there."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from bot.answers.household.letting_in import let_in_by_code, strangers_line
from bot.forecasts import Transport
from bot.hosting.first_evening import FirstEvening, Heights, outgoing
from bot.hosting.one_garden import Watch, apology
from bot.inbox import Parse, take
from bot.logbook import TERMINAL_CHAT, Connection, Door, Logbook, garden_of_chat, note_person
from bot.messages import Incoming, IncomingKind, Outgoing
from bot.settings import Garden, Role


class NewGarden:
    """Stands behind a door until a garden's file is begun, and gives way to its watch then.

    What was said so far is in the logbook: a restart goes on where it was. `begun` opens the watch of the new file;
    where `when_begun` is set it is called instead, and the door is to be opened anew.
    """

    def __init__(
        self, path: Path, name: str, logbook: Logbook, transport: Transport, begun: Callable[[], Watch]
    ) -> None:
        self.logbook = logbook
        self._path, self._name, self._begun = path, name, begun
        self._heights = Heights(logbook, transport)
        self._watch: Watch | None = None
        self.when_begun: Callable[[], object] | None = None

    @property
    def watch(self) -> Watch | None:
        """The watch of the garden, once its file is there."""
        if self._watch is None and self.when_begun is None and self._path.exists():
            self._watch = self._begun()
        return self._watch

    @property
    def garden(self) -> Garden | None:
        """The garden as its watch has it; None until it is begun, and once it was deleted."""
        return self._watch.garden if self._watch is not None else None

    def tick(self, now: datetime) -> None:
        """Nothing to watch while there is no garden."""
        if self.watch is not None:
            self.watch.tick(now)

    def take_pending(self, read: Parse, now: Callable[[], datetime], door: Door = Door.TELEGRAM) -> None:
        """Answer all that waits in the inbox of a door."""
        while self.watch is None:
            taken = take(self.logbook, lambda c, came: self._answer(c, came, now()), read, now, door=door,
                         apology=apology, limit=1)  # fmt: skip
            if taken.done + taken.failed == 0:
                return
            if self.when_begun is not None and self._path.exists():
                self.when_begun()
                return
        self.watch.take_pending(read, now, door)

    def _answer(self, c: Connection, incoming: Incoming, now: datetime) -> list[Outgoing]:
        if incoming.kind in (IncomingKind.GONE, IncomingKind.BACK, IncomingKind.MOVED):
            return []
        person = garden_of_chat(c, incoming.chat_id)
        if person is None and incoming.chat_id == TERMINAL_CHAT:
            note_person(c, self._name, TERMINAL_CHAT, incoming.person, Role.OWNER)
        elif person is None:
            return self._let_in(c, incoming, now)
        return outgoing(self._evening(c, incoming, now).answers(), incoming, now)

    def _let_in(self, c: Connection, incoming: Incoming, now: datetime) -> list[Outgoing]:
        if incoming.is_group:
            return [strangers_line(incoming)]
        let_in = let_in_by_code(c, incoming)
        if isinstance(let_in, Outgoing):
            return [let_in]
        return outgoing(self._evening(c, incoming, now).begin(), incoming, now)

    def _evening(self, c: Connection, incoming: Incoming, now: datetime) -> FirstEvening:
        return FirstEvening(c, self._path, self._name, incoming, now, self._heights)
