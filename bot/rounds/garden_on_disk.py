"""The garden file as it lies on the disk: read again when somebody changed it, by hand or in the chat."""

import logging
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from bot.rounds.file_trouble import file_changed_badly
from bot.rounds.setting import OWN, Bounds, Setting
from bot.settings import GardenError, problems_in_words, read_garden

log = logging.getLogger(__name__)

Stamp = tuple[int, int, int]


@dataclass(frozen=True, kw_only=True)
class Home:
    """Where a garden lives on this machine: its file, the folder of its photos and pictures, and how large it may grow.

    `forget` ends the rounds of a garden whose owner deleted it.
    """

    garden_file: Path
    folder: Path
    forget: Callable[[], None]
    bounds: Bounds = OWN


class GardenOnDisk:
    """Tells when a garden file has changed; a file that cannot be used is said once and changes nothing.

    `trouble` is what its owners are to be told of it, until somebody has (`""`).
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self.trouble = ""
        self._stamp = stamp_of(path)

    def changed(self, setting: Setting) -> Setting | None:
        """The setting with the garden as its file has it now; None where nothing changed or the file is no garden."""
        stamp = stamp_of(self._path)
        if stamp is None or stamp == self._stamp:  # a file taken away is no reason to stop watching its trees
            return None
        self._stamp, self.trouble = stamp, ""
        try:
            garden = read_garden(self._path)
        except GardenError as error:
            log.warning("the garden file was changed and cannot be used; going on with what it was:\n%s", error)
            self.trouble = file_changed_badly(problems_in_words(error))
            return None
        if garden.name != setting.garden.name:
            log.warning("the garden is on record as %s and keeps that name until a restart", setting.garden.name)
            garden = garden.model_copy(update={"name": setting.garden.name})
        if garden != setting.garden:
            log.info("the garden file was changed: %d trees are watched from now on", len(garden.trees))
        # who asks and where from stand in the file too
        asking = replace(setting.transport, contact=garden.contact, saved_path=garden.saved_forecasts)
        return replace(setting, garden=garden, transport=asking) if garden != setting.garden else None


def home_folder(setting: Setting, garden_file: Path) -> Path:
    """The folder of photos and pictures: beside the logbook, or beside the garden file of a logbook on a server."""
    return (setting.logbook.path or garden_file).with_suffix(".photos")


def stamp_of(path: Path) -> Stamp | None:
    """What a file is known by, so that a change of it is seen; None where there is none."""
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_ino, status.st_mtime_ns, status.st_size
