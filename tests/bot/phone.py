"""A phone on the table: whole conversations with one garden through inbox, watch and outbox, on a clock of its own."""

import atexit
import csv
import gzip
import io
import tempfile
from collections.abc import Sequence
from datetime import datetime
from functools import cache
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp

from bot.forecasts import Transport
from bot.hosting.one_garden import Watch
from bot.logbook import note_person, open_logbook
from bot.rounds import Setting, gather, inputs_of, style_of
from bot.settings import Garden, read_garden
from rules.outlook.inputs import OutlookInputs
from tests.bot.migrated import new_file
from tests.bot.talk import NAMES, ROWAN, Talk
from tests.high_plains import FILE

ROOT = Path(__file__).parents[2]


def larkmoor(*trees: str, winters: Path | None = None, fahrenheit: bool = False) -> Garden:
    """The invented garden of the demo with some of its trees."""
    garden = _demo()
    units = garden.units.model_copy(update={"fahrenheit": fahrenheit, "length": "in" if fahrenheit else "cm"})
    kept = tuple(tree for tree in garden.trees if tree.name in trees or not trees)
    return garden.model_copy(update={"trees": kept, "units": units, "past_winters": winters})


@cache
def _demo() -> Garden:
    return read_garden(ROOT / "demo_config" / "larkmoor.toml")


@cache
def winters_file(shift_c: float = 0.0) -> Path:
    """37 real winters as a grower's own file of daily minima (see tests/data/README.md), made so much milder.

    One file for all gardens, so that a season is lived through once for all of them.
    """
    folder = Path(mkdtemp(prefix="winters-"))
    atexit.register(rmtree, folder)
    path = folder / "minima.csv"
    path.write_text(_winters(shift_c), encoding="utf-8")
    return path


def _winters(shift_c: float) -> str:
    with gzip.open(FILE, "rt") as file:
        rows = [line.split() for line in file][1:]
    days = [
        (f"{y}-{int(m):02d}-{int(d):02d}", float(low) + shift_c, float(high) + shift_c)
        for d, m, y, low, high, *_ in rows
    ]
    table = io.StringIO()
    csv.writer(table).writerows([("date", "min_c", "max_c"), *days])
    return table.getvalue()


def inputs(phone: "Phone") -> OutlookInputs:
    """What the garden's next look would stand on."""
    with phone.logbook.begin() as c:
        return inputs_of(phone.garden, gather(c, phone.garden, phone.now))


class Phone(Talk):
    """Says things to a garden that is no file, and hears what comes back."""

    def __init__(self, garden: Garden, at: datetime, people: Sequence[int] = (ROWAN,)) -> None:
        self.garden, self.folder = garden, Path(tempfile.mkdtemp())
        super().__init__(open_logbook(new_file(self.folder / "logbook.db")), at)
        self.style = style_of(garden)
        with self.logbook.begin() as c:
            for chat_id in people:
                note_person(c, garden.name, chat_id, NAMES[chat_id], "owner")
        transport = Transport(saved_path=garden.saved_forecasts)
        self.door = self.watch = Watch(Setting(garden=garden, logbook=self.logbook, transport=transport))
