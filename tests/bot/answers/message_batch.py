"""One garden, one logbook and a stream of arbitrary messages through its whole reply path."""

import json
import random
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from bot.forecasts import Transport
from bot.hosting.one_garden import Watch
from bot.inbox import RawUpdate, store
from bot.logbook import note_person, open_logbook
from bot.logbook.database.tables import inbox
from bot.messages import Button
from bot.outbox import Outcome, SendOutcome, claim, finish
from bot.rounds import Setting
from bot.settings import read_garden
from bot.telegram_chat import read_update
from bot.telegram_chat.reading import chat_of
from tests.bot.answers.any_messages import CHATS, STRANGER, AnyMessages
from tests.bot.household_phones import demo_garden

NOW = datetime(2025, 11, 28, 16, tzinfo=UTC)
AT_A_TIME = 5
PAUSE = timedelta(seconds=20)
COSTLY_ONE_IN = 10
TREES = ("Porch fig", "Wall fig", "Kaki")
SHOWN = 200  # buttons that may still be tapped


class Batch:
    """A copy of the demo garden below `folder`, and what is said to it."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.path = demo_garden(folder, *TREES)
        garden = read_garden(self.path)
        self.logbook = open_logbook(folder / "a.logbook")
        with self.logbook.begin() as c:
            for chat, name in CHATS.items():
                if chat != STRANGER:
                    note_person(c, garden.name, chat, name, "owner" if chat == 11 else "household")
        transport = Transport(saved_path=garden.saved_forecasts)
        self.watch = Watch(Setting(garden=garden, logbook=self.logbook, transport=transport, path=self.path))
        self.now = NOW
        self.watch.tick(NOW)
        self.messages = AnyMessages(random.Random(seed), COSTLY_ONE_IN)
        self.buttons: list[tuple[int, int, Button]] = []
        self.sound: set[int] = set()
        self.sent = 0

    def run(self, count: int) -> list[str]:
        """The faults of so many messages."""
        faults = []
        for _ in range(0, count, AT_A_TIME):
            updates = [self.messages_next() for _ in range(AT_A_TIME)]
            try:
                self.hears(updates)
                self.sends()
            except Exception as error:  # noqa: BLE001 - what escapes is what we look for
                faults.append(f"escaped: {type(error).__name__}: {error} on {updates}")
            self.now += PAUSE
        return faults + self.failed()

    def messages_next(self) -> dict[str, Any]:
        update = self.messages.next(self.now, self.buttons)
        if self.messages.last_is_sound:
            self.sound.add(update["update_id"])
        return update

    def hears(self, updates: list[dict[str, Any]]) -> None:
        with self.logbook.begin() as c:
            store(c, [RawUpdate(one["update_id"], json.dumps(one), self.now, chat_of(one)) for one in updates])
        self.watch.take_pending(read_update, lambda: self.now)

    def sends(self) -> None:
        """Two messages to each chat, which are as many as the outbox lets through in this time."""
        for seconds in (1, 5):
            at = self.now + timedelta(seconds=seconds)
            for claimed in claim(self.logbook, at, 5, "phone"):
                self.sent += 1
                self.buttons = (self.buttons + [(claimed.chat_id, self.sent, one) for one in claimed.buttons])[-SHOWN:]
                message_id = claimed.edits_message_id or self.sent
                finish(self.logbook, claimed, SendOutcome(outcome=Outcome.SENT, message_id=message_id), at)

    def failed(self) -> list[str]:
        with self.logbook.begin() as c:
            rows = c.execute(sa.select(inbox).where(inbox.c.state != "done")).all()
        return [f"{row.state}: {row.error} on {row.raw}" for row in rows if row.update_id in self.sound]
