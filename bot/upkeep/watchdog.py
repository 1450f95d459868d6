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
from bot.logbook.programs.vital_signs import VitalSigns, vital_signs
from bot.messages import in_words
from bot.upkeep.loopback import JsonRequests, LoopbackServer

CHECK_S: Final = 20.0
# A round gives each of three services and the archive a minute at most, and then looks ahead; no source beyond it.
LONGEST_ROUND_S: Final = 300.0
# Forecasts are asked for every hour, after a failure every ten minutes; the messenger answers every half a minute, and
# where it brings its updates it is told so every ten minutes. No source beyond it.
OLDEST_FORECAST_S: Final = 3 * 3600.0
LONGEST_UNHEARD_S: Final = 900.0
ALARM_AFTER_S: Final = 1800.0  # by a clock that stands still in sleep, so that waking up is no alarm

log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Health:
    """What the health endpoint says; ages in seconds, None for what never was.

    `hangs` is trouble that a restart may mend; silence of others is none.
    """

    healthy: bool
    problem: str
    hangs: bool
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
            "forecast_age_s": signs.forecast_utc,
            "messenger_age_s": signs.messenger_utc,
        }
        counts = {"outbox_waiting": signs.waiting, "inbox_waiting": signs.unread, "updates_failed": signs.failed}
        counts |= {"messages_unclear": signs.unclear, "messages_dead": signs.dead}
        old = {name: round((now - at).total_seconds()) if at else None for name, at in times.items()}
        return {"healthy": self.healthy, "problem": self.problem, **ages, **old, **counts}


class Watchdog:
    """Watches one process: `ticked()` after each round.

    `alarm` is called with the time once the rounds have been silent for half an hour of waking time. `slowest_s` tells
    how long the longest round under way has taken, where several are [s].
    """

    def __init__(
        self,
        logbook: Logbook,
        now: Callable[[], datetime],
        *,
        notify_socket: str = "",
        health_port: int | None = None,
        alarm: Callable[[datetime], object] = lambda _now: None,
        slowest_s: Callable[[], float] = lambda: 0.0,
    ) -> None:
        self._logbook = logbook
        self.now = now
        self._notify_socket = notify_socket
        self._alarm = alarm
        self._slowest_s = slowest_s
        self._ticked_s = self._began_s = time.monotonic()
        self._said = ""  # the last trouble that was logged, without its figures
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
        silent_s = max(time.monotonic() - self._ticked_s, self._slowest_s())
        signs: VitalSigns | None = None
        try:
            with self._logbook.begin() as c:
                signs = vital_signs(c, self.now())
        except LogbookError as error:
            problem, hangs = str(error), True
        else:
            hangs = silent_s >= LONGEST_ROUND_S
            problem = f"no round has ended for {silent_s / 60:.0f} minutes" if hangs else self._unheard(signs)
        return Health(healthy=not problem, problem=problem, hangs=hangs, tick_age_s=silent_s, signs=signs)

    def _unheard(self, signs: VitalSigns) -> str:
        """Who has been silent for too long, of those we depend on."""
        forecast_s, messenger_s = self._age_s(signs.forecast_utc), self._age_s(signs.messenger_utc)
        if messenger_s >= LONGEST_UNHEARD_S:
            return f"the messenger has not answered for {messenger_s / 60:.0f} minutes"
        if forecast_s >= OLDEST_FORECAST_S:
            return f"no forecast has come for {forecast_s / 3600:.0f} hours"
        return ""

    def _age_s(self, at: datetime | None) -> float:
        """How old a word is, at most as old as this program: what was missed before its start it may still get [s]."""
        since_start_s = time.monotonic() - self._began_s
        return since_start_s if at is None else min(since_start_s, (self.now() - at).total_seconds())

    def check(self) -> Health:
        """Look once: pat the dog unless something hangs, raise the alarm where the rounds have stopped."""
        health = self.health()
        if not health.healthy:
            self._say_once(health.problem)
            notify(self._notify_socket, f"STATUS={health.problem}")
        elif self._said:
            log.info("well again")
            self._said = ""
            notify(self._notify_socket, "STATUS=")
        if not health.hangs:
            notify(self._notify_socket, "WATCHDOG=1")
        if health.tick_age_s >= ALARM_AFTER_S:
            self._raise_alarm()
        return health

    def _say_once(self, problem: str) -> None:
        kind = "".join(letter for letter in problem if not letter.isdigit())
        if kind != self._said:
            log.error("not well: %s", problem)
        self._said = kind

    def _raise_alarm(self) -> None:
        try:
            self._alarm(self.now())
        except LogbookError as error:
            log.error("the owners can't be told: %s", error)  # noqa: TRY400 - the sentence says it all

    def _watch(self) -> None:
        while not self._stop.wait(CHECK_S):
            try:
                self.check()
            except Exception as error:  # noqa: BLE001 - the watch itself must not end; unpatted, systemd restarts us
                log.error("the watchdog stumbled: %s", in_words(error))  # noqa: TRY400


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
