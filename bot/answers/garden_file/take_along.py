"""`export everything`: the garden file, all records and the photos in one file, to be taken along."""

import zipfile
from pathlib import Path
from typing import Final

from bot.answers.exchange import Answer, Exchange
from bot.answers.season.pictures import picture_folder
from bot.answers.season.season_table import told_as_csv
from bot.logbook import Told, read_told
from bot.rounds.garden_on_disk import Home
from bot.wording.people import garden as say
from rules.garden.season_records import Photo

MOST_BYTES: Final = 45_000_000  # a bot may send 50 MB (Bot API, sendDocument)
NAME: Final = "picture_everything.zip"  # named as what can be made anew


def everything(exchange: Exchange, home: Home) -> Answer:
    """All that is kept of a garden; of its photos the newest that one message holds."""
    told = read_told(exchange.c, exchange.garden.name)
    photos = _photos(told, home)
    kept = _that_fit(photos)
    path = picture_folder(exchange) / NAME
    path.touch(mode=0o600)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr(home.garden_file.name, home.garden_file.read_bytes())
        packed.writestr("season.csv", told_as_csv(told, exchange.garden))
        for photo in kept:
            packed.write(photo, f"photos/{photo.name}")
    return Answer(text=say.everything(len(told), len(kept), len(photos) - len(kept)), picture=str(path))


def _photos(told: list[Told], home: Home) -> list[Path]:
    """The photos there are, newest first."""
    named = [one.entry.file for one in reversed(told) if isinstance(one.entry, Photo) and one.entry.file]
    return [path for name in named if (path := home.folder / Path(name).name).is_file()]


def _that_fit(photos: list[Path]) -> list[Path]:
    kept: list[Path] = []
    room = MOST_BYTES
    for photo in photos:
        room -= photo.stat().st_size
        if room >= 0:
            kept.append(photo)
    return kept
