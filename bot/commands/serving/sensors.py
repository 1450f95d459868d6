"""Home sensors heard while a door is open: with `serve`, and with a chat in the terminal that keeps running."""

import errno
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Protocol

from bot.logbook import Logbook
from bot.sensors.posted import SensorDoor
from bot.settings import Garden, Secrets, SecretsError

log = logging.getLogger("bot")


class HasGarden(Protocol):
    """What has a garden, or will have one, and its logbook."""

    logbook: Logbook

    @property
    def garden(self) -> Garden | None:
        """The garden as it is now; None before it is begun and once it was deleted."""


@contextmanager
def sensors_heard(hearer: HasGarden, secrets: Secrets, *, beside_another: bool = False) -> Iterator[SensorDoor | None]:
    """The door for home sensors, open until the end; None where the environment asks for none.

    Parameters
    ----------
    beside_another
        Whether another bedstraw may be hearing them on that port already: both note into one logbook, so its door will
        do, and the log says so.

    Raises
    ------
    SecretsError
        The port cannot be used.
    """
    door = _opened(hearer, secrets, beside_another=beside_another)
    try:
        yield door
    finally:
        if door is not None:
            door.stop()


def _opened(hearer: HasGarden, secrets: Secrets, *, beside_another: bool) -> SensorDoor | None:
    port, token = secrets.sensor_port, secrets.sensor_token
    if port is None or token is None:
        return None
    try:
        door = SensorDoor(lambda: hearer.garden, hearer.logbook, token, port, lambda: datetime.now(UTC))
    except OSError as error:
        if beside_another and error.errno == errno.EADDRINUSE:
            log.warning("port %d is taken: sensors are heard by whoever has it, not by this chat", port)
            return None
        raise SecretsError(f"BEDSTRAW_SENSOR_PORT {port} cannot be used: {error.strerror}.") from None
    door.start()
    log.info("sensors are heard on loopback, port %d", door.port)
    return door
