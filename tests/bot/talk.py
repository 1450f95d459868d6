"""Talk with a garden and no network: what is said goes in as a door leaves it, what answers comes out as it sends."""

import json
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

from bot.hosting.new_garden import NewGarden
from bot.hosting.one_garden import Watch
from bot.inbox import RawUpdate, store
from bot.logbook import Logbook
from bot.messages import Incoming, IncomingKind
from bot.outbox import Claimed, Outcome, SendOutcome, deliver

ROWAN, JUNIPER, STRANGER, GROUP = 7, 8, 9, -5
NAMES = {ROWAN: "Rowan", JUNIPER: "Juniper", STRANGER: "Alder", GROUP: "The house"}


def keep(logbook: Logbook, said: Incoming, at: datetime) -> None:
    """Something said, in the inbox and not answered yet."""
    raw = json.dumps({**asdict(said), "at_utc": said.at_utc.isoformat()})
    with logbook.begin() as c:
        store(c, [RawUpdate(said.update_id, raw, at, said.chat_id)])


def read_said(raw: str) -> Incoming:
    """What was said, from its stored JSON."""
    said = json.loads(raw)
    place = said.pop("location", None)
    said |= {"at_utc": datetime.fromisoformat(said["at_utc"]), "kind": IncomingKind(said["kind"])}
    return Incoming(**said, location=tuple(place) if place else None)


class Talk:
    """Says things to a door from any of its chats, and hears what comes back there, on a clock of its own."""

    door: Watch | NewGarden

    def __init__(self, logbook: Logbook, now: datetime) -> None:
        self.logbook, self.now = logbook, now
        self.heard: list[Claimed] = []
        self._said = 0

    def tick(self) -> list[Claimed]:
        """Look at the clock; what came of it."""
        self.door.tick(self.now)
        return self.listen()

    def say(self, text: str = "", chat_id: int = ROWAN, **more: Any) -> str:
        """The words that answer a text in the same chat."""
        return "\n".join(one.text for one in self.send(chat_id, text=text, **more))

    def tap(self, label: str, chat_id: int = ROWAN) -> str:
        """The words that answer a tap on the newest button of this label in this chat."""
        in_chat = (one for one in reversed(self.heard) if one.chat_id == chat_id)
        return self.tap_under(next(one for one in in_chat if label in [each.label for each in one.buttons]), label)

    def tap_under(self, message: Claimed, label: str) -> str:
        """The words that answer a tap, which carries the message it is on, as the messenger has it."""
        data = next(button.data for button in message.buttons if button.label == label)
        on = message.edits_message_id or message.row_id
        return self.say("", message.chat_id, button=data, kind=IncomingKind.TAP, quoted_id=on, message_id=on)

    def send(self, chat_id: int = ROWAN, sender: int | None = None, **what: Any) -> list[Claimed]:
        """All that answers one thing sent, in this chat."""
        self._said += 1
        who = sender or chat_id
        more = {"person": NAMES[who], "sender_id": who, "kind": IncomingKind.TEXT, "is_group": chat_id < 0, **what}
        said = Incoming(update_id=self._said, chat_id=chat_id, at_utc=self.now, **more)
        keep(self.logbook, said, self.now)
        self.door.take_pending(read_said, lambda: self.now)
        return [one for one in self.listen() if one.chat_id == chat_id]

    def listen(self) -> list[Claimed]:
        """All that waits to be sent."""
        new: list[Claimed] = []

        def hear(claimed: Claimed) -> SendOutcome:
            new.append(claimed)
            return SendOutcome(outcome=Outcome.SENT, message_id=claimed.edits_message_id or claimed.row_id)

        deliver(self.logbook, hear, self._later, "phone", limit=100)
        self.heard += new
        return new

    def _later(self) -> datetime:
        """The outbox paces a chat: each look at it is two seconds after the one before."""
        self.now += timedelta(seconds=2)
        return self.now

    def close(self) -> None:
        self.logbook.close()
