"""Gardens that begin in the chat of a deployment of many: who is invited begins one, and nobody reads a file for it.

By the guided first evening, or by a garden file that is sent. Its name is reserved, its file's name ours: what somebody
writes reaches neither another garden nor another place of the disk.
"""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Final

from bot.answers.dialogues import Chat, close, is_end
from bot.answers.exchange import ANSWER_LIVES
from bot.answers.garden_file.garden_import import decoded, refuse_other_places, refuse_too_many, without_folder
from bot.answers.garden_file.wanted_files import WantedFile, no_longer_wanted, note_wanted, wanted_files
from bot.forecasts import Transport
from bot.hosting.first_evening import FirstEvening, Heights, outgoing
from bot.inbox import NotAtHandError
from bot.logbook import Connection, Logbook, Person, enqueue
from bot.logbook.garden.invitations import file_of_beginning, forget_beginning
from bot.messages import Incoming, Outgoing
from bot.rounds.setting import GUEST
from bot.settings import GardenError
from bot.settings.new_garden import called
from bot.settings.writing import put_garden, write_garden
from bot.wording.people import garden_import as say_file
from bot.wording.people import new_garden as say

LEAVING: Final = ("leave", "delete my data", "delete everything", "delete my garden")


class Beginnings:
    """Answers whoever was invited until their garden's file is there; `reread` has the folder looked at again."""

    def __init__(self, folder: Path, logbook: Logbook, transport: Transport, reread: Callable[[], object]) -> None:
        self._folder, self._logbook, self._reread = folder, logbook, reread
        self._heights = Heights(logbook, transport)
        self._sought: set[str] = set()  # gardens whose file is there, for which the folder was looked at again

    def answers(self, c: Connection, person: Person, incoming: Incoming, now: datetime) -> list[Outgoing] | None:
        """What to say to somebody whose garden has no file yet; None where it is no such garden.

        Raises
        ------
        NotAtHandError
            The garden has begun, and its file is to be read first.
        """
        path = self._path_of(c, person.garden)
        if path is None:
            return None
        if path.exists():
            return self._sought_for(person.garden)
        if is_end(incoming.text) or incoming.text.strip(" .!").casefold() in LEAVING:
            forget_beginning(c, person.garden)
            return [_line(incoming, say.left(), now)]
        if incoming.file_name:
            return [_line(incoming, self._file_came(c, person.garden, incoming), now)]
        evening = FirstEvening(c, path, person.garden, incoming, now, self._heights)
        first = [_line(incoming, say.invited(), now)] if incoming.code_hash else []
        return [*first, *outgoing(evening.answers(), incoming, now)]

    def _sought_for(self, garden: str) -> list[Outgoing] | None:
        """None where the folder was looked at for it, and it is not among the sound ones."""
        if garden in self._sought:
            self._sought.discard(garden)
            return None
        raise NotAtHandError(partial(self._seek, garden))

    def _seek(self, garden: str) -> None:
        self._sought.add(garden)
        self._reread()

    def _path_of(self, c: Connection, garden: str) -> Path | None:
        file = file_of_beginning(c, garden)
        return self._folder / file if file else None

    def _file_came(self, c: Connection, garden: str, incoming: Incoming) -> str:
        if not incoming.file_name.casefold().endswith((".toml", ".txt")) or not incoming.file_id:
            return say_file.no_garden_file()
        note_wanted(c, garden, incoming)
        return say.reading(incoming.file_name)

    def shelf_of(self, garden: str) -> "FileOfBeginning | None":
        """What is to be fetched for a garden that has not begun; None for any other."""
        with self._logbook.begin() as c:
            path = self._path_of(c, garden)
        return FileOfBeginning(garden, path, self._logbook, self._reread) if path and not path.exists() else None


class FileOfBeginning:
    """Garden files somebody sent to begin with: fetched by the door, read, and put in their place."""

    def __init__(self, garden: str, path: Path, logbook: Logbook, reread: Callable[[], object]) -> None:
        self._garden, self._path, self._logbook, self._reread = garden, path, logbook, reread

    def wanted(self, now: datetime) -> Sequence[WantedFile]:
        """The files to fetch; one that could not be had in time is given up with a word to its sender."""
        with self._logbook.begin() as c:
            files = wanted_files(c, self._garden)
        for late in (file for file in files if file.is_late(now)):
            self.keep(late, b"", now)
        return [file for file in files if not file.is_late(now)]

    def keep(self, wanted: WantedFile, data: bytes, now: datetime | None = None) -> None:
        """Begin the garden with a file, or say why it can't be used; empty bytes say that it can't be had."""
        text = self._begin(wanted, data) if data else say_file.not_fetched(wanted.name)
        at = now or datetime.now(UTC)
        with self._logbook.begin() as c:
            if self._path.exists():  # it has begun: nothing more is asked
                chat_id, update_id = wanted.chat_id, wanted.update_id
                close(Chat(c=c, garden=self._garden, chat_id=chat_id, update_id=update_id, at_utc=at))
            if no_longer_wanted(c, self._garden, wanted):
                key = f"file:{wanted.update_id}"
                message = Outgoing(
                    key=key, chat_id=wanted.chat_id, text=text, due_utc=at, expires_utc=at + ANSWER_LIVES
                )
                enqueue(c, message, self._garden)

    def _begin(self, wanted: WantedFile, data: bytes) -> str:
        try:
            text = decoded(data)
            garden = write_garden(self._path, text, keep=False)
            refuse_other_places(None, garden)
            refuse_too_many(garden, GUEST.most_trees)
            put_garden(self._path, called(text, self._garden))
        except GardenError as error:
            return say_file.unusable(wanted.name, without_folder(error, self._path.parent))
        self._reread()
        return say.begun_by_file(self._garden, garden)


def _line(incoming: Incoming, text: str, now: datetime) -> Outgoing:
    key = f"begins:{incoming.update_id}:{len(text)}"
    return Outgoing(key=key, chat_id=incoming.chat_id, text=text, due_utc=now, expires_utc=now + ANSWER_LIVES)
