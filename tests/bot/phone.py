"""A phone on the table: whole conversations with one garden through inbox, watch and outbox, on a clock of its own."""

import atexit
import csv
import gzip
import io
import json
import tempfile
from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import Any

from bot.forecasts import Transport
from bot.hosting.one_garden import Watch
from bot.inbox import RawUpdate, store
from bot.logbook import Door, note_person, open_logbook
from bot.messages import Incoming, IncomingKind
from bot.outbox import Claimed, Outcome, SendOutcome, deliver
from bot.rounds import Setting, gather, inputs_of, style_of
from bot.settings import Garden, read_garden
from rules.outlook.inputs import OutlookInputs
from tests.bot.migrated import new_file
from tests.high_plains import FILE

ROOT = Path(__file__).parents[2]
ROWAN, JUNIPER = 7, 8
NAMES = {ROWAN: "Rowan", JUNIPER: "Juniper"}


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


class Phone:
    """Says things to a garden and hears what comes back."""

    def __init__(self, garden: Garden, at: datetime, people: Sequence[int] = (ROWAN,)) -> None:
        self.garden, self.now = garden, at
        self.folder = Path(tempfile.mkdtemp())
        self.logbook = open_logbook(new_file(self.folder / "logbook.db"))
        self.style = style_of(garden)
        with self.logbook.begin() as c:
            for chat_id in people:
                note_person(c, garden.name, chat_id, NAMES[chat_id], "owner")
        transport = Transport(saved_path=garden.saved_forecasts)
        self.watch = Watch(Setting(garden=garden, logbook=self.logbook, transport=transport))
        self._next_id = 1
        self.heard: list[Claimed] = []

    def tick(self) -> list[Claimed]:
        """Look at the clock; what came of it."""
        self.watch.tick(self.now)
        return self._listen()

    def say(self, text: str, chat_id: int = ROWAN) -> str:
        """The words that answer a text."""
        return "\n".join(one.text for one in self.send({"text": text, "kind": IncomingKind.TEXT}, chat_id))

    def send(self, what: dict[str, str], chat_id: int = ROWAN) -> list[Claimed]:
        """All that answers one text or tap, in this chat."""
        raw: dict[str, Any] = {**what, "update_id": self._next_id, "chat_id": chat_id, "at": self.now.isoformat()}
        self._next_id += 1
        with self.logbook.begin() as c:
            store(c, [RawUpdate(raw["update_id"], json.dumps(raw), self.now, chat_id)])
        self.watch.take_pending(_read, lambda: self.now)
        return [one for one in self._listen() if one.chat_id == chat_id]

    def tap(self, message: Claimed, label: str) -> str:
        """The words that answer a tap on a button."""
        data = next(button.data for button in message.buttons if button.label == label)
        answers = self.send({"button": data, "kind": IncomingKind.TAP}, message.chat_id)
        return "\n".join(one.text for one in answers)

    def close(self) -> None:
        """Put it away."""
        self.logbook.close()

    def _listen(self) -> list[Claimed]:
        heard: list[Claimed] = []

        def receive(claimed: Claimed) -> SendOutcome:
            heard.append(claimed)
            return SendOutcome(outcome=Outcome.SENT, message_id=claimed.edits_message_id or claimed.row_id)

        deliver(self.logbook, receive, self._later, "phone", limit=100, door=Door.TELEGRAM)
        self.heard += heard
        return heard

    def _later(self) -> datetime:
        """The outbox paces a chat: each look at it is two seconds after the one before."""
        self.now += timedelta(seconds=2)
        return self.now


def _read(raw: str) -> Incoming:
    said = json.loads(raw)
    return Incoming(
        update_id=said["update_id"],
        chat_id=said["chat_id"],
        person=NAMES[said["chat_id"]],
        kind=IncomingKind(said["kind"]),
        text=said.get("text", ""),
        button=said.get("button", ""),
        at_utc=datetime.fromisoformat(said["at"]),
    )
