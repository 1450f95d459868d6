"""`bedstraw season` and `export`: the season as a page, a table or a folder; the garden file as it stands."""

import os
import stat
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from bot.answers.season.season_page import page_of
from bot.answers.season.season_record import of_this_season, season_start
from bot.answers.season.season_table import told_as_csv
from bot.commands.opening import open_setting
from bot.logbook import Told, read_told
from bot.rounds import Setting, gather, inputs_of
from bot.rounds.garden_on_disk import home_folder
from bot.settings import read_garden
from rules.garden.season_records import Photo
from rules.outlook.views.season_so_far import SeasonSoFar, season_so_far

OWNER_ONLY: Final = 0o600


def export(path: Path, to: Path | None) -> None:
    """The garden file byte for byte, to a file or to the output; GardenError where it is none."""
    read_garden(path)
    data = path.read_bytes()
    if to is not None:
        _write_privately(to, data)
    else:
        sys.stdout.buffer.write(data)


def season(path: Path, table: Path | None, folder: Path | None) -> str:
    """The page of the season, or what was written where."""
    setting, _ = open_setting(path, begun=True)
    now = datetime.now(UTC)
    try:
        with setting.logbook.begin() as c:
            told = read_told(c, setting.garden.name)
        written = []
        if table is not None:
            _write_privately(table, told_as_csv(told, setting.garden).encode())
            written.append(f"{len(told)} records in {table}")
        if folder is not None:
            written.append(_as_folder(folder, path, told, setting))
        return "\n".join(written) or _page(setting, told, now)
    finally:
        setting.logbook.close()


def _page(setting: Setting, told: list[Told], now: datetime) -> str:
    since = season_start(setting.garden.site, now)
    with setting.logbook.begin() as c:
        round_inputs = gather(c, setting.garden, now)
    inputs = inputs_of(setting.garden, round_inputs)

    def so_far(name: str) -> SeasonSoFar | None:
        return season_so_far(inputs, name, now) if round_inputs.forecast else None

    return page_of(setting.garden, of_this_season(told, setting.garden.site, now), so_far, since)


def _as_folder(folder: Path, path: Path, told: list[Told], setting: Setting) -> str:
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    _write_privately(folder / "season.csv", told_as_csv(told, setting.garden).encode())
    _write_privately(folder / path.name, path.read_bytes())
    photos = [one.entry.file for one in told if isinstance(one.entry, Photo) and one.entry.file]
    source = home_folder(setting, path)
    kept = [name for name in photos if (source / Path(name).name).is_file()]
    for name in kept:
        (folder / "photos").mkdir(mode=0o700, exist_ok=True)
        _write_privately(folder / "photos" / Path(name).name, (source / Path(name).name).read_bytes())
    return f"{len(told)} records, the garden file and {len(kept)} photos in {folder}"


def _write_privately(path: Path, data: bytes) -> None:
    """A file for its owner's eyes: a garden file says where somebody lives, a table who was there and when."""
    descriptor = os.open(path, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, OWNER_ONLY)
    with os.fdopen(descriptor, "wb") as file:
        if stat.S_ISREG(os.fstat(descriptor).st_mode):  # not a pipe or a terminal
            path.chmod(OWNER_ONLY)
        file.write(data)
