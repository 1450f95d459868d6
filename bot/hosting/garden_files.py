"""The garden files of a folder: read anew when they change, and what is wrong with one concerns no other."""

import logging
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from threading import Lock
from typing import NamedTuple

from bot.forecasts import Transport
from bot.hosting.weather_cells import cell_name, cell_site
from bot.logbook import Logbook
from bot.logbook.garden.invitations import BEGUN, list_invitations
from bot.messages import in_words
from bot.rounds import Setting
from bot.rounds.file_trouble import (
    file_changed_badly,
    file_left_out,
    garden_of_file,
    note_garden_of_file,
    tell_of_trouble,
)
from bot.rounds.garden_on_disk import Stamp, stamp_of
from bot.rounds.setting import GUEST, OWN
from bot.settings import Garden, GardenError, SecretsError, problems_in_words, read_garden

log = logging.getLogger(__name__)


class _Kept(NamedTuple):
    """A file as it was read last: when it was changed and how long it was, and its garden where it has one."""

    stamp: Stamp | None
    setting: Setting | None


class GardenFiles:
    """The garden files of a folder; a file is read again only when it changed.

    What is wrong with one is told once in the log and once to its owners (`tell`), and concerns no other.
    """

    def __init__(self, folder: Path, logbook: Logbook, transport_of: Callable[[Garden], Transport]) -> None:
        """`transport_of` says how a garden's weather services are reached."""
        self._folder = folder
        self._logbook = logbook
        self._transport_of = transport_of
        self._kept: dict[Path, _Kept] = {}
        self._troubles: list[tuple[Path, str]] = []
        self._reading = Lock()  # a garden that has just begun is read between two looks at the folder

    def settings(self) -> dict[str, Setting]:
        """The gardens of all sound files, by name.

        Raises
        ------
        SecretsError
            The folder holds no sound garden file, and nobody is invited to begin one.
        """
        with self._reading:
            return self._settings()

    def _settings(self) -> dict[str, Setting]:
        before, self._kept = self._kept, {}
        found: dict[str, Setting] = {}
        for path in sorted(self._folder.glob("*.toml")):
            kept = self._kept[path] = self._read(path, before.get(path))
            if kept.setting is not None and kept.setting.garden.name in found:
                self._say_twice(path, before.get(path), kept)
            elif kept.setting is not None:
                found[kept.setting.garden.name] = kept.setting
        if not found and not self._is_invited():
            raise SecretsError(f"There is no sound garden file (*.toml) in the folder {self._folder}.")
        return found

    def _is_invited(self) -> bool:
        with self._logbook.begin() as c:
            return bool(list_invitations(c))

    def _say_twice(self, path: Path, before: "_Kept | None", kept: "_Kept") -> None:
        if kept is not before and kept.setting is not None:
            log.error("%s is left out: another file is called %r too", path.name, kept.setting.garden.name)

    def _read(self, path: Path, kept: "_Kept | None") -> "_Kept":
        stamp = stamp_of(path)
        if kept is not None and kept.stamp == stamp:
            return kept
        try:
            return _Kept(stamp, self._setting(read_garden(path), path))
        except GardenError as error:
            words = problems_in_words(error)
        except Exception as error:  # noqa: BLE001 - whatever is the matter with one file, the others go on
            words = in_words(error)
        log.error("%s is left out:\n%s", path.name, words)
        self._troubles.append((path, words))
        return _Kept(stamp, kept.setting if kept else None)  # a slip of the pen takes no garden away that was there

    def tell(self, now: datetime) -> None:
        """Tell the owners what is wrong with their files, and note which garden a sound file describes.

        Raises
        ------
        LogbookError
            The logbook cannot be written; it is told the next time.
        """
        with self._logbook.begin() as c:
            for path, kept in self._kept.items():
                if kept.setting is not None:
                    note_garden_of_file(c, path.name, kept.setting.garden.name)
            for path, words in self._troubles:
                garden, goes_on = garden_of_file(c, path.name), self._kept[path].setting is not None
                if garden is not None:
                    tell_of_trouble(c, garden, (file_changed_badly if goes_on else file_left_out)(words), now)
        self._troubles = []

    def _setting(self, garden: Garden, path: Path) -> Setting:
        return Setting(
            garden=garden,
            logbook=self._logbook,
            transport=self._transport_of(garden),
            path=path,
            cell=cell_name(garden),
            weather_site=cell_site(garden),
            bounds=GUEST if path.name.startswith(BEGUN) else OWN,
        )
