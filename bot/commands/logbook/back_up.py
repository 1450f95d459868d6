"""`bedstraw backup`: a sound copy of a garden's logbook, taken while the bot runs."""

from pathlib import Path

from bot.commands.opening import logbook_place
from bot.logbook import LogbookError, open_logbook
from bot.settings import read_secrets


def back_up(garden: Path, copy: Path) -> str:
    """Copy the logbook of a garden file to `copy`; what was there is replaced only once the new copy is whole.

    Raises
    ------
    LogbookError
        There is no logbook, it lies on a server, or the copy can't be written.
    """
    place = logbook_place(read_secrets(None, garden))
    if isinstance(place, Path) and not place.exists():
        raise LogbookError(f"there is no logbook at {place} to back up")
    logbook = open_logbook(place)
    try:
        logbook.backup(copy)
    finally:
        logbook.close()
    return (
        f"Copied to {copy}. To restore: stop the bot, remove {place} with its -wal and -shm, copy {copy} in its place, "
        f"give it to the bot's user alone (chown, chmod 600), start the bot."
    )
