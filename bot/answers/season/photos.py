"""Photos of trees: noted when they come, fetched by the door, kept under a name that is only ours."""

import os
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from bot.answers.dialogues import Dialogue, DialogueAnswer, ask, close, options
from bot.answers.exchange import Answer, Exchange, undo_button
from bot.answers.noting import source_of
from bot.logbook import (
    LOST,
    Connection,
    Logbook,
    WantedPhoto,
    enqueue,
    late_photos,
    note_entry,
    note_photo_file,
    note_to_fetch,
    photos_since,
    take_undone_photos,
    wanted_photos,
)
from bot.messages import LARGEST_PHOTO_BYTES, Button, OnUnknown, Outgoing
from bot.replies import Meaning
from bot.rounds.garden_on_disk import Home, home_folder
from bot.rounds.setting import Setting
from bot.wording.people import photos as say
from rules.garden.season_records import Photo
from rules.garden.species import plain

TREE: Final = "tree of photo"
GARDEN: Final = "the garden"
SHOWN: Final = 12  # trees offered by button; the others can be typed
TOLD_WITHIN: Final = timedelta(days=7)  # that a photo was lost; assumed, no source
FETCHED_WITHIN: Final = timedelta(hours=24)  # the messenger forgets a file's address after an hour, not the file
SLUG_LENGTH: Final = 40
MOST_A_DAY: Final = 50  # from one person: a walk through a garden of fifty trees; assumed
# The first bytes of the kinds of picture we keep; whatever a file is called, only these are believed.
KINDS: Final = {b"\xff\xd8\xff": ".jpg", b"\x89PNG\r\n\x1a\n": ".png", b"GIF8": ".gif", b"RIFF": ".webp"}


def photo_came(exchange: Exchange, trees: tuple[str, ...]) -> list[Answer]:
    """The photo noted with its tree; without one it is asked."""
    if exchange.home is None:
        return [Answer(text=say.cannot_keep())]
    if refusal := _too_many(exchange, exchange.home):
        return [Answer(text=refusal)]
    if trees:
        return [_noted(exchange, trees[0], exchange.incoming.photo_id, exchange.incoming.text)]
    draft = {"photo_id": exchange.incoming.photo_id, "text": exchange.incoming.text}
    return [Answer(text=say.of_which_tree(), buttons=_which(exchange, draft))]


def _too_many(exchange: Exchange, home: Home) -> str | None:
    """Why one more photo is not kept; None where it is: nobody fills the disk on which the logbook lies."""
    since = exchange.heard_utc - timedelta(days=1)
    if photos_since(exchange.c, exchange.garden.name, exchange.incoming.person, since) >= MOST_A_DAY:
        return say.enough_today(MOST_A_DAY)
    kept = sum(one.stat().st_size for one in home.folder.iterdir()) if home.folder.is_dir() else 0
    most = home.bounds.most_photo_bytes
    return say.no_room(most / 1e9) if kept > most - LARGEST_PHOTO_BYTES else None


def _which(exchange: Exchange, draft: dict[str, str]) -> tuple[Button, ...]:
    pairs = [(tree.name, tree.name) for tree in exchange.garden.trees[:SHOWN]] + [("The whole garden", GARDEN)]
    return ask(exchange.chat, TREE, TREE, draft, options(pairs))


def tree_answered(exchange: Exchange, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
    """Of which tree the photo is."""
    tree = exchange.garden.tree_called(said.text) if said.value is None else None
    name = tree.name if tree else said.value
    if name is None:
        return None
    close(exchange.chat)
    return [_noted(exchange, "" if name == GARDEN else name, dialogue.draft["photo_id"], dialogue.draft["text"])]


def photo_told(_: Exchange, __: Meaning) -> list[Answer]:
    """What to do, for somebody who wrote "photo" and sent none."""
    return [Answer(text=say.send_one())]


def _noted(exchange: Exchange, tree: str, photo_id: str, text: str) -> Answer:
    note_entry(
        exchange.c, source_of(exchange), Photo(tree=tree, file_id=photo_id, file=None, text=text, at_utc=exchange.now)
    )
    note_to_fetch(exchange.c, exchange.garden.name)
    return Answer(
        text=say.noted(tree, exchange.style.day(exchange.now, exchange.now)), buttons=(undo_button(exchange),)
    )


class PhotoShelf:
    """The folder of a garden's photos: what is still to be fetched for it, and what lies in it."""

    def __init__(self, logbook: Logbook, garden: str, folder: Path, zone: ZoneInfo) -> None:
        self._logbook, self._garden, self._folder, self._zone = logbook, garden, folder, zone

    def wanted(self, now: datetime) -> list[WantedPhoto]:
        """The photos to fetch from the messenger, given up with a word after a day; undone ones' files go meanwhile."""
        with self._logbook.begin() as c:
            undone = take_undone_photos(c, self._garden)
            for late in late_photos(c, self._garden, now - FETCHED_WITHIN):
                self._give_up(c, late, now)
            wanted = wanted_photos(c, self._garden, now - FETCHED_WITHIN)
        for name in undone:
            (self._folder / Path(name).name).unlink(missing_ok=True)
        return wanted

    def keep(self, photo: WantedPhoto, data: bytes) -> str:
        """The name of the file now kept; `LOST` for what is no picture or too large: nothing is kept, and that is said.

        The name is made of the day, of plain letters of the tree's name and of the record's number: nothing a person
        or the messenger wrote reaches the file system.
        """
        ending = next((end for start, end in KINDS.items() if data.startswith(start)), None)
        name = f"{_stem(photo, self._zone)}{ending}" if ending and len(data) <= LARGEST_PHOTO_BYTES else LOST
        if name != LOST:
            self._write(name, data)
        with self._logbook.begin() as c:
            if name == LOST:
                self._give_up(c, photo, photo.noted_utc)
            else:
                note_photo_file(c, self._garden, photo.record_id, name)
        return name

    def _give_up(self, c: Connection, photo: WantedPhoto, now: datetime) -> None:
        """Not to be had: who sent it was told that it is kept, so they hear that it is not, if it was lately."""
        note_photo_file(c, self._garden, photo.record_id, LOST)
        until = photo.noted_utc + TOLD_WITHIN
        if photo.chat_id is None or now >= until:
            return
        message = Outgoing(
            key=f"photo:{photo.record_id}", chat_id=photo.chat_id, text=say.lost(photo.tree), due_utc=now,
            expires_utc=until, on_unknown=OnUnknown.RESEND,
        )  # fmt: skip
        enqueue(c, message, self._garden)

    def _write(self, name: str, data: bytes) -> None:
        self._folder.mkdir(mode=0o700, exist_ok=True)
        part = self._folder / f".{name}.part"
        descriptor = os.open(part, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
        part.replace(self._folder / name)


def shelf_of(setting: Setting) -> PhotoShelf | None:
    """The shelf of a garden with a file of its own; None for one that has no place for photos."""
    if setting.path is None:
        return None
    garden = setting.garden
    return PhotoShelf(setting.logbook, garden.name, home_folder(setting, setting.path), garden.site.zone)


def _stem(photo: WantedPhoto, zone: ZoneInfo) -> str:
    slug = plain(photo.tree).replace(" ", "-")[:SLUG_LENGTH].strip("-") or "garden"
    return f"{photo.at_utc.astimezone(zone):%Y-%m-%d}_{slug}_{photo.record_id}"
