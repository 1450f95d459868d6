"""The phones of a household, over a garden file on the disk: whole conversations with taps, pins, photos and groups."""

import json
import shutil
import tempfile
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from bot.forecasts import Transport
from bot.hosting.one_garden import Watch
from bot.inbox import RawUpdate, store
from bot.logbook import note_person, open_logbook
from bot.messages import Incoming, IncomingKind
from bot.outbox import Claimed, Outcome, SendOutcome, deliver
from bot.rounds import Setting
from bot.settings import read_garden
from bot.settings.editing import removing_tree
from bot.settings.writing import edited_garden
from tests.bot.migrated import new_file

DEMO = Path(__file__).parents[2] / "demo_config"
ROWAN, JUNIPER, STRANGER, GROUP = 7, 8, 9, -5
NAMES = {ROWAN: "Rowan", JUNIPER: "Juniper", STRANGER: "Alder", GROUP: "The house"}
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


class Phones:
    """Says things to a garden from any of its chats, and hears what comes back there."""

    def __init__(self, path: Path, at: datetime, people: tuple[int, ...] = (ROWAN, JUNIPER)) -> None:
        self.now, self.path = at, path
        garden = read_garden(path)
        self.logbook = open_logbook(new_file(path.with_suffix(".logbook")))
        with self.logbook.begin() as c:
            for chat_id in people:
                note_person(c, garden.name, chat_id, NAMES[chat_id], ROLES[chat_id])
        transport = Transport(saved_path=garden.saved_forecasts)
        self.watch = Watch(Setting(garden=garden, logbook=self.logbook, transport=transport, path=path))
        self.heard: list[Claimed] = []
        self._next_id = 1

    def tick(self) -> list[Claimed]:
        self.watch.tick(self.now)
        return self._listen()

    def say(self, text: str, chat_id: int = ROWAN, **more: Any) -> str:
        """The words that answer a text in the same chat."""
        return "\n".join(one.text for one in self.send(chat_id, text=text, kind=IncomingKind.TEXT, **more))

    def tap(self, label: str, chat_id: int = ROWAN) -> str:
        """The words that answer a tap on the newest button of this label in this chat."""
        shown = [button for one in self.heard if one.chat_id == chat_id for button in one.buttons]
        data = next(button.data for button in reversed(shown) if button.label == label)
        return "\n".join(one.text for one in self.send(chat_id, button=data, kind=IncomingKind.TAP))

    def send(self, chat_id: int, **what: Any) -> list[Claimed]:
        """All that answers one thing sent, in this chat."""
        sender = what.pop("sender", chat_id)
        raw = {"update_id": self._next_id, "chat_id": chat_id, "person": NAMES[sender], "sender_id": sender, **what}
        raw |= {"at_utc": self.now.isoformat(), "is_group": chat_id < 0}
        self._next_id += 1
        with self.logbook.begin() as c:
            store(c, [RawUpdate(raw["update_id"], json.dumps(raw), self.now, chat_id)])
        self.watch.take_pending(read_said, lambda: self.now)
        return [one for one in self._listen() if one.chat_id == chat_id]

    def _listen(self) -> list[Claimed]:
        new: list[Claimed] = []

        def hear(claimed: Claimed) -> SendOutcome:
            new.append(claimed)
            return SendOutcome(outcome=Outcome.SENT, message_id=claimed.edits_message_id or claimed.row_id)

        deliver(self.logbook, hear, self._later, "phones", limit=100)
        self.heard += new
        return new

    def _later(self) -> datetime:
        """The outbox paces a chat: each look at it is two seconds after the one before."""
        self.now += timedelta(seconds=2)
        return self.now

    def close(self) -> None:
        self.logbook.close()


def read_said(raw: str) -> Incoming:
    """What was said, from its stored JSON."""
    said = json.loads(raw)
    place = said.pop("location", None)
    said |= {"at_utc": datetime.fromisoformat(said["at_utc"]), "kind": IncomingKind(said["kind"])}
    return Incoming(**said, location=tuple(place) if place else None)
