"""Home sensors heard while a door is open: with `serve`, and with a chat in the terminal that keeps running."""

import errno
import logging
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from typing import TYPE_CHECKING, Protocol

from bot.logbook import Logbook
from bot.sensors.posted import SensorDoor
from bot.settings import Garden, Secrets, SecretsError
from bot.upkeep.loopback import LOOPBACK

if TYPE_CHECKING:
    from bot.sensors.subscribed import Subscription

log = logging.getLogger("bot")


class HasGarden(Protocol):
    """What has a garden, or will have one, and its logbook."""

    logbook: Logbook

    @property
    def garden(self) -> Garden | None:
        """The garden as it is now; None before it is begun and once it was deleted."""


@contextmanager
def sensors_heard(hearer: HasGarden, secrets: Secrets, *, beside_another: bool = False) -> Iterator[SensorDoor | None]:
    """The door for home sensors, open until the end; None where the environment asks for none. A broker is heard too.

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
    gardens = {} if secrets.sensor_token is None else {secrets.sensor_token: lambda: hearer.garden}
    door = _opened(gardens, hearer.logbook, secrets, beside_another=beside_another)
    subscription = None if beside_another else _subscribed(hearer, secrets)
    try:
        yield door
    finally:
        for one in (door, subscription):
            if one is not None:
                one.stop()


@contextmanager
def sensors_of_many(
    garden_of: Callable[[str], Garden | None], logbook: Logbook, secrets: Secrets
) -> Iterator[SensorDoor | None]:
    """The same for many gardens: the token tells which; each of the file of tokens, and nobody's else.

    A broker is not heard: its topics stand in garden files, and one garden's could name another's.

    Raises
    ------
    SecretsError
        The port cannot be used.
    """
    gardens = {token: partial(garden_of, name) for name, token in secrets.sensor_tokens.items()}
    door = _opened(gardens, logbook, secrets, beside_another=False)
    try:
        yield door
    finally:
        if door is not None:
            door.stop()


def _subscribed(hearer: HasGarden, secrets: Secrets) -> "Subscription | None":
    """What hears the broker; a broker that is not there is waited for."""
    if secrets.mqtt is None:
        return None
    from bot.sensors.subscribed import Subscription  # only where there is a broker

    subscription = Subscription(lambda: hearer.garden, hearer.logbook, secrets.mqtt, lambda: datetime.now(UTC))
    subscription.start()
    return subscription


def _opened(
    gardens: Mapping[str, Callable[[], Garden | None]], logbook: Logbook, secrets: Secrets, *, beside_another: bool
) -> SensorDoor | None:
    port, address = secrets.sensor_port, secrets.sensor_address
    if port is None or not gardens:
        return None
    try:
        door = SensorDoor(gardens, logbook, port, lambda: datetime.now(UTC), address=address)
    except OSError as error:
        if beside_another and error.errno == errno.EADDRINUSE:
            log.warning("port %d is taken: sensors are heard by whoever has it, not by this chat", port)
            return None
        raise SecretsError(f"BEDSTRAW_SENSOR_PORT {port} cannot be used: {error.strerror}.") from None
    door.start()
    log.info("sensors are heard on %s, port %d", "loopback" if address == LOOPBACK else address, door.port)
    return door
