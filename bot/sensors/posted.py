"""The door for home sensors: readings posted as JSON with a token, on loopback unless the home network is asked for."""

import hmac
import json
import logging
import threading
import time
from collections.abc import Callable, Mapping
from datetime import datetime
from http import HTTPStatus
from typing import Any, Final

from bot.logbook import Logbook, LogbookError
from bot.logbook.garden.entries import SENSOR
from bot.sensors.readings import TakenReadings, take_readings
from bot.settings import Garden
from bot.upkeep.loopback import LOOPBACK, CallError, JsonRequests, LoopbackServer, length_told

PATH: Final = "/readings"
LONGEST_BODY: Final = 64 * 1024  # bytes: some hundred readings
MOST_READINGS: Final = 200  # in one post
BURST: Final = 30  # posts at once, and then
EVERY_S: Final = 2.0  # one in so many seconds; a garden of ten sensors tells ten readings in ten minutes. Assumed

log = logging.getLogger(__name__)


class Pace:
    """So many calls at once, and then one in so many seconds, whoever calls and with whatever token."""

    def __init__(self, clock_s: Callable[[], float], burst: int = BURST, every_s: float = EVERY_S) -> None:
        self._clock_s, self._burst, self._every_s = clock_s, float(burst), every_s
        self._left, self._at_s = self._burst, clock_s()
        self._counting = threading.Lock()

    def allows(self) -> bool:
        """Whether one more call is within the pace; it counts if so."""
        with self._counting:
            now_s = self._clock_s()
            self._left = min(self._burst, self._left + (now_s - self._at_s) / self._every_s)
            self._at_s = now_s
            if self._left < 1:
                return False
            self._left -= 1
            return True

    def give_back(self) -> None:
        """The last call that was allowed does not count."""
        with self._counting:
            self._left = min(self._burst, self._left + 1)


class SensorDoor(LoopbackServer):
    """Listens for readings in a thread of its own, and notes them in the logbook; the next round sees them.

    `POST /readings` with `Authorization: Bearer TOKEN`; the body is one reading, a list of them, or
    `{"readings": [...]}`, each as in `take_readings`. The answer counts what was taken and gives a sentence for what
    was not. `gardens` has for each token what gives its garden as it is now, None before it is begun and once it was
    deleted.
    """

    def __init__(
        self,
        gardens: Mapping[str, Callable[[], Garden | None]],
        logbook: Logbook,
        port: int,
        now: Callable[[], datetime],
        clock_s: Callable[[], float] = time.monotonic,
        address: str = LOOPBACK,
    ) -> None:
        self._gardens, self._logbook, self._now = gardens, logbook, now
        self._strangers = Pace(clock_s)
        self._paces, self._failures = ({token: Pace(clock_s) for token in gardens} for _ in range(2))
        super().__init__(_answering(self), port, "sensors", address)

    def admit(self, path: str, authorization: str, length: str) -> tuple[str, int]:
        """The token that was shown, and the length of the body to read [bytes].

        Raises
        ------
        CallError
            Another address, too many calls, no or another token, no length or too long a one.
        """
        if path != PATH:
            raise CallError(HTTPStatus.NOT_FOUND, f"Readings are taken at {PATH}.")
        shown = authorization.encode()
        known = [token for token in self._gardens if hmac.compare_digest(shown, f"Bearer {token}".encode())]
        if not (self._paces[known[0]] if known else self._strangers).allows():
            raise CallError(HTTPStatus.TOO_MANY_REQUESTS, f"Too many calls; one in {EVERY_S:.0f} seconds is enough.")
        if not known:
            raise CallError(HTTPStatus.UNAUTHORIZED, "The token is missing or wrong.")
        try:
            return known[0], length_told(length, LONGEST_BODY)
        except CallError:
            self.failed(known[0])
            raise

    def failed(self, token: str) -> None:
        """A call of somebody who knows us came to nothing: what works keeps its pace, what fails has one of its own."""
        if self._failures[token].allows():
            self._paces[token].give_back()

    def take(self, token: str, body: bytes) -> TakenReadings:
        """The readings of one call, noted in the garden of this token."""
        rows, garden = _rows(body), self._gardens[token]()
        if garden is None:
            raise CallError(HTTPStatus.GONE, "There is no garden here: not yet, or not any more.")
        try:
            with self._logbook.begin() as c:
                taken = take_readings(c, garden, SENSOR, rows, self._now())
        except LogbookError:
            raise CallError(HTTPStatus.SERVICE_UNAVAILABLE, "The logbook can't be written now; try again.") from None
        log.info("sensor: %d taken, %d refused", taken.taken, len(taken.refused))
        return taken


def _rows(body: bytes) -> list[dict[str, Any]]:
    try:
        told = json.loads(body)
    except (ValueError, RecursionError):
        raise CallError(HTTPStatus.BAD_REQUEST, "The readings are not JSON.") from None
    told = told.get("readings", told) if isinstance(told, dict) else told
    rows = [told] if isinstance(told, dict) else told
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows) or not rows:
        raise CallError(HTTPStatus.BAD_REQUEST, "Send one reading, or a list of them, as JSON objects.")
    if len(rows) > MOST_READINGS:
        raise CallError(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"At most {MOST_READINGS} readings at once.")
    return rows


def _answering(door: SensorDoor) -> type[JsonRequests]:
    class Answering(JsonRequests):
        def do_POST(self) -> None:  # noqa: N802 - the library's
            try:
                token, length = door.admit(
                    self.path, self.headers.get("Authorization", ""), self.headers.get("Content-Length", "")
                )
            except CallError as refused:
                self._answer(refused.status, {"error": str(refused)})
                return
            try:
                taken = door.take(token, self.rfile.read(length))
            except CallError as refused:
                door.failed(token)
                self._answer(refused.status, {"error": str(refused)})
                return
            all_refused = taken.refused and not (taken.taken or taken.known or taken.passed_over)
            if all_refused:
                door.failed(token)
            status = HTTPStatus.UNPROCESSABLE_ENTITY if all_refused else HTTPStatus.OK
            self._answer(status, {**vars(taken), "refused": list(taken.refused)})

        def _answer(self, status: HTTPStatus, document: dict[str, Any]) -> None:
            self.close_connection = True
            too_many = status is HTTPStatus.TOO_MANY_REQUESTS
            self.answer(status, document, **({"Retry_After": f"{EVERY_S:.0f}"} if too_many else {}))

    return Answering
