"""What most commands begin with: garden file, environment, logbook, services."""

import logging
from collections.abc import Iterable
from pathlib import Path

from bot.forecasts import Transport
from bot.logbook import Logbook, list_people, open_logbook
from bot.logbook.serving import refuse_emptied
from bot.rounds import Setting
from bot.settings import Garden, Secrets, read_garden, read_secrets

SQLITE = "sqlite:///"

log = logging.getLogger("bot")


def open_garden(path: Path) -> tuple[Garden, Secrets]:
    """The garden file and what the environment says of it."""
    return read_garden(path), read_secrets(None, path)


def logbook_place(secrets: Secrets) -> Path | str:
    """The logbook's file, or the address of its database server."""
    url = secrets.logbook_url
    return Path(url.removeprefix(SQLITE)) if url.startswith(SQLITE) else url


def open_setting(path: Path) -> tuple[Setting, Secrets]:
    """All that a garden's rounds stand on, ready to run."""
    garden, secrets = open_garden(path)
    transport = transport_of(garden, secrets)
    return Setting(garden=garden, logbook=_opened(secrets), transport=transport, path=path), secrets


def _opened(secrets: Secrets) -> Logbook:
    place = logbook_place(secrets)
    if isinstance(place, Path):
        refuse_emptied(place)
    return open_logbook(place)


def warn_of_strangers(logbook: Logbook, gardens: Iterable[str]) -> None:
    """Say so in the log where nobody at all is let in: the logbook is new, or was emptied."""
    with logbook.begin() as c:
        if any(list_people(c, garden) for garden in gardens):
            return
    log.warning(
        "nobody is let in: the logbook %s is new. If it should not be, stop and put the newest backup in its place; "
        "else let a phone in with 'bedstraw let-in GARDEN'",
        logbook.name,
    )


def transport_of(garden: Garden, secrets: Secrets) -> Transport:
    """How the garden's weather services are reached."""
    return Transport(
        contact=garden.contact,
        addresses=secrets.service_addresses,
        saved_path=garden.saved_forecasts,
    )
