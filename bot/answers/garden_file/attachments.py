"""What the door fetches from the messenger for one garden: photos to keep, garden files to read and ask about."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from bot.answers.dialogues import Chat
from bot.answers.exchange import ANSWER_LIVES, Answer
from bot.answers.garden_file.garden_import import Offer, garden_now, look_through, offered
from bot.answers.garden_file.wanted_files import WantedFile, no_longer_wanted, wanted_files
from bot.answers.season.photos import PhotoShelf, shelf_of
from bot.logbook import Logbook, WantedPhoto, enqueue, gardens_to_fetch, nothing_to_fetch
from bot.messages import Outgoing
from bot.rounds.garden_on_disk import Home, home_folder
from bot.rounds.setting import Setting
from bot.settings import Garden, GardenError
from bot.wording.people import garden_import as say

Wanted = WantedPhoto | WantedFile


class Attachments:
    """Photos go to their shelf; a file is read when it is there, and its sender asked."""

    def __init__(self, setting: Setting, photos: PhotoShelf, home: Home, now: Callable[[], datetime]) -> None:
        self._setting, self._photos, self._home, self._now = setting, photos, home, now

    def wanted(self, now: datetime) -> list[Wanted]:
        """All that is to be fetched; a file that could not be had in time is given up with a word to its sender."""
        with self._setting.logbook.begin() as c:
            files = wanted_files(c, self._setting.garden.name)
        for late in (file for file in files if file.is_late(now)):
            self._read(late, b"")
        return [*(file for file in files if not file.is_late(now)), *self._photos.wanted(now)]

    def keep(self, wanted: Any, data: bytes) -> object:
        """Put a photo on its shelf, or answer whoever sent a file; empty bytes say that it can't be had."""
        if not isinstance(wanted, WantedFile):
            return self._photos.keep(wanted, data)
        self._read(wanted, data)
        return None

    def _read(self, file: WantedFile, data: bytes) -> None:
        """Read before any transaction is open: however dear a file is, nobody else waits for it."""
        now = self._now()
        garden = self._garden_now()
        offer = Offer(name=file.name, data=data, chat_id=file.chat_id)
        late = not data or file.is_late(now)
        found = None if late else look_through(self._home, garden, offer, now.astimezone(garden.site.zone).date())
        with self._setting.logbook.begin() as c:
            if not no_longer_wanted(c, self._setting.garden.name, file):
                return
            name = self._setting.garden.name
            chat = Chat(c=c, garden=name, chat_id=file.chat_id, update_id=file.update_id, at_utc=now)
            answer = offered(chat, found) if found else Answer(text=say.not_fetched(file.name))
            message = Outgoing(
                key=f"file:{file.update_id}", chat_id=file.chat_id, text=answer.text, buttons=answer.buttons,
                due_utc=now, expires_utc=now + ANSWER_LIVES,
            )  # fmt: skip
            enqueue(c, message, name)

    def _garden_now(self) -> Garden:
        try:
            return garden_now(self._home)
        except (GardenError, OSError):
            return self._setting.garden  # somebody broke the file by hand: this one may mend it


def _keep_rounds() -> None:
    """Reading a file ends no rounds."""


def attachments_of(setting: Setting, now: Callable[[], datetime]) -> Attachments | None:
    """The shelves of a garden with a file of its own; None for one that has none."""
    photos = shelf_of(setting)
    if photos is None or setting.path is None:
        return None
    home = Home(garden_file=setting.path, folder=home_folder(setting, setting.path), forget=_keep_rounds,
                bounds=setting.bounds)  # fmt: skip
    return Attachments(setting, photos, home, now)


@dataclass(frozen=True, kw_only=True)
class WantedOfGarden:
    """Something to fetch, and for which garden."""

    garden: str
    what: Wanted

    @property
    def file_id(self) -> str:
        """Under which the messenger keeps it."""
        return self.what.file_id


class ManyGardens(Protocol):
    """Gardens that share a logbook."""

    logbook: Logbook

    def setting_of(self, garden: str) -> Setting | None:
        """What a garden's rounds stand on."""

    def beginning_of(self, garden: str, /) -> "Shelves | None":
        """What is to be fetched for a garden that has no file yet."""


class Shelves(Protocol):
    """What a garden wants to have fetched, and keeps."""

    def wanted(self, now: datetime) -> Sequence[Any]:
        """All that is to be fetched."""

    def keep(self, wanted: Any, data: bytes) -> object:
        """Keep one of them; empty bytes say that it can't be had."""


class AttachmentsOfMany:
    """The shelves of many gardens behind one door; only those are asked to which something was sent."""

    def __init__(self, gardens: ManyGardens, now: Callable[[], datetime]) -> None:
        self._gardens, self._now = gardens, now

    def wanted(self, now: datetime) -> list[WantedOfGarden]:
        """All that is to be fetched, for any garden."""
        with self._gardens.logbook.begin() as c:
            waiting = gardens_to_fetch(c)
        return [one for garden in waiting for one in self._wanted_of(garden, now)]

    def _wanted_of(self, garden: str, now: datetime) -> list[WantedOfGarden]:
        shelves = self._shelves_of(garden)
        wanted = shelves.wanted(now) if shelves else []
        if not wanted:
            with self._gardens.logbook.begin() as c:
                nothing_to_fetch(c, garden)
        return [WantedOfGarden(garden=garden, what=one) for one in wanted]

    def keep(self, wanted: WantedOfGarden, data: bytes) -> object:
        """Put it on the shelf of its garden; nothing where the garden is gone meanwhile."""
        shelves = self._shelves_of(wanted.garden)
        return shelves.keep(wanted.what, data) if shelves else None

    def _shelves_of(self, garden: str) -> Shelves | None:
        setting = self._gardens.setting_of(garden)
        return attachments_of(setting, self._now) if setting else self._gardens.beginning_of(garden)
