"""The phones of a household, over a garden file on the disk: whole conversations with taps, pins, photos and groups."""

import shutil
import tempfile
from datetime import datetime
from functools import cache
from pathlib import Path

from bot.forecasts import Transport
from bot.hosting.one_garden import Watch
from bot.logbook import note_person, open_logbook
from bot.rounds import Setting
from bot.settings import read_garden
from bot.settings.editing import removing_tree
from bot.settings.writing import edited_garden
from tests.bot.migrated import new_file
from tests.bot.talk import GROUP, JUNIPER, NAMES, ROWAN, Talk

DEMO = Path(__file__).parents[2] / "demo_config"
ROLES = {ROWAN: "owner", JUNIPER: "household", GROUP: "household"}


def demo_garden(folder: Path, *kept: str) -> Path:
    """The file of the demo garden, copied, with some of its trees and without its past, which takes long to read."""
    shutil.copytree(DEMO, folder / "garden")
    path = folder / "garden" / "larkmoor.toml"
    path.write_text(_demo_with(kept))
    return path


@cache
def _demo_with(kept: tuple[str, ...]) -> str:
    """The words of that file, edited once for all tests that keep the same trees."""
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(DEMO, folder, dirs_exist_ok=True)
        path = Path(folder) / "larkmoor.toml"
        lines = path.read_text().splitlines(keepends=True)
        path.write_text("".join(line for line in lines if not line.startswith("past_weather")))
        for tree in read_garden(path).trees:
            if kept and tree.name not in kept:
                edited_garden(path, removing_tree(tree.name))
        return path.read_text()


class Phones(Talk):
    """Says things to the garden of a file from any of its chats, and hears what comes back there."""

    def __init__(self, path: Path, at: datetime, people: tuple[int, ...] = (ROWAN, JUNIPER)) -> None:
        super().__init__(open_logbook(new_file(path.with_suffix(".logbook"))), at)
        self.path, garden = path, read_garden(path)
        with self.logbook.begin() as c:
            for chat_id in people:
                note_person(c, garden.name, chat_id, NAMES[chat_id], ROLES[chat_id])
        transport = Transport(saved_path=garden.saved_forecasts)
        self.door = self.watch = Watch(Setting(garden=garden, logbook=self.logbook, transport=transport, path=path))
