"""What most commands begin with: garden file, environment, logbook, services."""

import logging
from collections.abc import Iterable
from pathlib import Path

from bot.forecasts import Transport
from bot.logbook import Logbook, LogbookError, list_people, open_logbook
from bot.logbook.programs.served_alone import refuse_emptied
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


def open_setting(path: Path, *, begun: bool = False) -> tuple[Setting, Secrets]:
    """All that a garden's rounds stand on, ready to run.

    Parameters
    ----------
    begun
        Whether the logbook must be there already: what is noted in a second, empty one beside it the bot never sees.

    Raises
    ------
    LogbookError
        There is no logbook where the environment says, and `begun`; or it cannot be opened.
    """
    garden, secrets = open_garden(path)
    transport = transport_of(garden, secrets)
    return Setting(garden=garden, logbook=_opened(secrets, begun=begun), transport=transport, path=path), secrets


def _refuse_missing(place: Path) -> None:
    if not place.exists():
        raise LogbookError(
            f"There is no logbook at {place}. Start the bot once, which begins it (bedstraw serve GARDEN); or, if it "
            "keeps its logbook elsewhere, read its environment: bedstraw --env FILE …"
        )


def _opened(secrets: Secrets, *, begun: bool = False) -> Logbook:
    place = logbook_place(secrets)
    if isinstance(place, Path):
        refuse_emptied(place)
        if begun:
            _refuse_missing(place)
    return open_logbook(place)


def warn_of_strangers(logbook: Logbook, gardens: Iterable[str]) -> None:
    """Say so in the log where nobody at all is let in: the logbook is new, or was emptied."""
    with logbook.begin() as c:
        if any(list_people(c, garden) for garden in gardens):
            return
    log.warning(
        "nobody is let in: the logbook %s is new. If it should not be, stop and put the newest backup in its place; "
        "else let a phone in with 'bedstraw let-in GARDEN' and the same environment",
        logbook.name,
    )


def transport_of(garden: Garden, secrets: Secrets) -> Transport:
    """How the garden's weather services are reached."""
    return Transport(
        contact=garden.contact,
        addresses=secrets.service_addresses,
        saved_path=garden.saved_forecasts,
    )
