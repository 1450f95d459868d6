"""The watchdog: tells systemd, and whoever asks on loopback, that the bot is alive; and its owners when it is not.

A thread of its own, so that it sees a round that hangs. Only the standard library.
"""

import logging
import socket
import threading
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from bot.logbook import Logbook, LogbookError
from bot.logbook.messages.vital_signs import VitalSigns, vital_signs
from bot.upkeep.loopback import JsonRequests, LoopbackServer

CHECK_S: Final = 20.0
# A round may ask three services three times each, 20 s of silence every time, and then look ahead; no source beyond it.
LONGEST_ROUND_S: Final = 900.0
ALARM_AFTER_S: Final = 1800.0  # by a clock that stands still in sleep, so that waking up is no alarm

log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Health:
    """What the health endpoint says; ages in seconds, None for what never was."""

    healthy: bool
    problem: str
    tick_age_s: float
    signs: VitalSigns | None

    def document(self, now: datetime) -> dict[str, Any]:
        """As JSON: counts and ages, no words of anybody and no names."""
        ages = {"tick_age_s": round(self.tick_age_s)}
        if self.signs is None:
            return {"healthy": self.healthy, "problem": self.problem, **ages}
        signs = self.signs
        times = {
            "round_age_s": signs.last_round_utc,
            "outbox_oldest_age_s": signs.oldest_due_utc,
            "inbox_oldest_age_s": signs.oldest_unread_utc,
            "turn_overdue_s": signs.turn_due_utc,
        }
        counts = {"outbox_waiting": signs.waiting, "inbox_waiting": signs.unread, "updates_failed": signs.failed}
        counts |= {"messages_unclear": signs.unclear, "messages_dead": signs.dead}
        old = {name: round((now - at).total_seconds()) if at else None for name, at in times.items()}
        return {"healthy": self.healthy, "problem": self.problem, **ages, **old, **counts}


class Watchdog:
    """Watches one process: `ticked()` after each round.

    `alarm` is called with the time once the rounds have been silent for half an hour of waking time.
    """

    def __init__(
        self,
        logbook: Logbook,
        now: Callable[[], datetime],
        *,
        notify_socket: str = "",
        health_port: int | None = None,
        alarm: Callable[[datetime], object] = lambda _now: None,
    ) -> None:
        self._logbook = logbook
        self.now = now
        self._notify_socket = notify_socket
        self._alarm = alarm
        self._ticked_s = time.monotonic()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True, name="watchdog")
        self._server = LoopbackServer(_answering(self), health_port, "health") if health_port is not None else None

    @property
    def port(self) -> int | None:
        """The port of the health endpoint; None where there is none."""
        return self._server.port if self._server is not None else None

    def start(self) -> None:
        """Begin, and tell systemd that we are ready."""
        notify(self._notify_socket, "READY=1")
        self._thread.start()
        if self._server is not None:
            self._server.start()

    def stop(self) -> None:
        """End, and tell systemd that this is meant."""
        notify(self._notify_socket, "STOPPING=1")
        self._stop.set()
        if self._server is not None:
            self._server.stop()
        self._thread.join(CHECK_S)

    def ticked(self) -> None:
        """A round has ended."""
        self._ticked_s = time.monotonic()

    def health(self) -> Health:
        """How things stand now."""
        silent_s = time.monotonic() - self._ticked_s
        try:
            with self._logbook.begin() as c:
                signs: VitalSigns | None = vital_signs(c, self.now())
            problem = "" if silent_s < LONGEST_ROUND_S else f"no round has ended for {silent_s / 60:.0f} minutes"
        except LogbookError as error:
            signs, problem = None, str(error)
        return Health(healthy=not problem, problem=problem, tick_age_s=silent_s, signs=signs)

    def check(self) -> Health:
        """Look once: pat the dog where all is well, raise the alarm where the rounds have stopped."""
        health = self.health()
        if health.healthy:
            notify(self._notify_socket, "WATCHDOG=1")
        else:
            log.error("not well: %s", health.problem)
            notify(self._notify_socket, f"STATUS={health.problem}")
        if health.tick_age_s >= ALARM_AFTER_S:
            self._raise_alarm()
        return health

    def _raise_alarm(self) -> None:
        try:
            self._alarm(self.now())
        except LogbookError as error:
            log.error("the owners can't be told: %s", error)  # noqa: TRY400 - the sentence says it all

    def _watch(self) -> None:
        while not self._stop.wait(CHECK_S):
            self.check()


def notify(address: str, message: str) -> None:
    """Say something to systemd (sd_notify(3)): a plain datagram; nothing where nobody listens."""
    if not address:
        return
    with closing(socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)) as line:
        try:
            line.sendto(message.encode(), "\0" + address[1:] if address.startswith("@") else address)
        except OSError as error:
            log.warning("systemd does not listen: %s", error)


def _answering(dog: Watchdog) -> type[JsonRequests]:
    class Answering(JsonRequests):
        def do_GET(self) -> None:  # noqa: N802 - the library's
            if self.path != "/health":
                self.send_error(404)
                return
            health = dog.health()
            self.answer(200 if health.healthy else 503, health.document(dog.now()))

    return Answering
