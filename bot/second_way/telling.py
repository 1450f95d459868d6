"""What can't wait, told by the second way too: a while after the messenger, at once where the messenger is silent."""

import hashlib
import json
import logging
import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Final

from bot.logbook import Connection, Logbook, LogbookError, note_state, read_state
from bot.logbook.messages.urgent import Urgent, urgent_messages
from bot.logbook.programs.last_heard import Outside, heard_utc
from bot.second_way.addresses import Ways, send

LOOK_S: Final = 20.0
ANSWER_WAITED_FOR: Final = timedelta(minutes=5)  # a tap in the messenger spares the second message; assumed, no source
MESSENGER_SILENT: Final = timedelta(minutes=10)  # it answers every half a minute
LONGEST_PAUSE_S: Final = 300.0

Send = Callable[[str, str, str], bool]

log = logging.getLogger(__name__)


class SecondWay:
    """A thread of its own, so that neither a round nor the messenger can hold it up.

    What was told stands in the logbook: a restart tells nothing twice. A death between sending and noting may.
    """

    def __init__(self, logbook: Logbook, ways: Ways, now: Callable[[], datetime], send_by: Send = send) -> None:
        self._logbook, self._ways, self._now, self._send = logbook, ways, now, send_by
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True, name="second way")

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self) -> None:
        """End after what is under way."""
        self._stop.set()
        self._thread.join(LOOK_S)

    def _run(self) -> None:
        while not self._stop.wait(LOOK_S):
            try:
                self.look()
            except LogbookError as error:
                log.error("the second way cannot see what is urgent: %s", error)  # noqa: TRY400 - it says it all

    def look(self) -> int:
        """How many messages were told by the second way now."""
        now = self._now()
        with self._logbook.begin() as c:
            heard = heard_utc(c, Outside.MESSENGER)
            is_silent = heard is None or now - heard >= MESSENGER_SILENT
            due = [
                (one, address)
                for one in urgent_messages(c, now)
                if is_silent or not one.asks or now - one.due_utc >= ANSWER_WAITED_FOR
                for address in self._ways.of(one.garden, one.person)
                if _may_go(c, one, address, now)
            ]
        return sum(self._tell(one, address, is_silent=is_silent) for one, address in due)  # outside any transaction

    def _tell(self, one: Urgent, address: str, *, is_silent: bool) -> bool:
        kind = "last call" if one.asks else "I cannot see"
        is_sent = self._send(address, f"{one.garden}: {kind}", _words(one, is_silent=is_silent))
        with self._logbook.begin() as c:
            _note(c, one, address, self._now(), is_sent=is_sent)
        log.info("second way: %s %s", one.key, "told" if is_sent else "not taken, will be tried again")
        return is_sent


def _words(one: Urgent, *, is_silent: bool) -> str:
    if not one.asks:
        return one.text
    rest = "The messenger does not answer me, so this comes here alone." if is_silent else "Answer in the chat."
    return f"{one.text}\n{rest}"


def _name(one: Urgent, address: str) -> str:
    """Under which the logbook keeps what became of it; the address itself may hold a password and stands nowhere."""
    return f"second way {hashlib.sha256(address.encode()).hexdigest()[:12]} {one.key}"


def _may_go(c: Connection, one: Urgent, address: str, now: datetime) -> bool:
    kept = json.loads(read_state(c, one.garden, _name(one, address)) or "{}")
    return not kept.get("told") and ("again" not in kept or datetime.fromisoformat(kept["again"]) <= now)


def _note(c: Connection, one: Urgent, address: str, now: datetime, *, is_sent: bool) -> None:
    """Told; or tried, and when again: after 20, 40, … 300 s, as long as it is of use."""
    name = _name(one, address)
    tries = json.loads(read_state(c, one.garden, name) or "{}").get("tries", 0) + 1
    again = now + timedelta(seconds=min(LONGEST_PAUSE_S, LOOK_S * 2 ** (tries - 1)))
    kept = {"told": now.isoformat()} if is_sent else {"tries": tries, "again": again.isoformat()}
    note_state(c, one.garden, name, json.dumps(kept))
