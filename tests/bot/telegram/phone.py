"""A person with a phone: types, taps, edits, blocks; and what stands on the screen."""

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from tests.bot.telegram.emulator import Emulator, Mended, Shown

NUMBERS = itertools.count(500_000)  # ids of what people send; far from those the emulator counts


@dataclass
class Phone:
    """One person in one chat with the bot of one token."""

    emulator: Emulator
    mended: Mended
    token: str
    clock: Callable[[], datetime]
    chat_id: int = 4711
    name: str = "Rowan"
    person_id: int = 4711
    said: list[int] = field(default_factory=list)
    topic: int | None = None  # of a group with topics: in which of them this person writes

    def says(self, text: str, quoting: Shown | None = None, **more: Any) -> int:
        """The id of the message now on its way."""
        message = self._message(next(NUMBERS), text=text, **more)
        if quoting is not None:
            message["reply_to_message"] = self.as_sent(quoting)
        self.emulator.enqueue(self.token, {"message": message})
        return int(message["message_id"])

    def changes(self, message_id: int, text: str, quoting: Shown | None = None) -> None:
        message = self._message(message_id, text=text, edit_date=int(self.clock().timestamp()))
        if quoting is not None:  # an answer stays an answer when it is mended
            message["reply_to_message"] = self.as_sent(quoting)
        self.emulator.enqueue(self.token, {"edited_message": message})

    def taps(self, label: str, shown: Shown) -> str:
        """The id of the tap, whose spinner turns until it is answered."""
        tap_id = f"tap-{next(NUMBERS)}"
        query = {
            "id": tap_id,
            "from": self._person(),
            "message": self.as_sent(shown),
            "chat_instance": "1",
            "data": shown.buttons[label],
        }
        self.emulator.enqueue(self.token, {"callback_query": query})
        return tap_id

    def becomes(self, status: str) -> None:
        """Blocks the bot ("kicked"), lets it in again ("member"), or throws it out of a group ("left")."""
        bot = {"id": self.bot_id, "is_bot": True, "first_name": "bedstraw"}
        new = {"user": bot, "status": status, **({"until_date": 0} if status == "kicked" else {})}
        change = {
            "chat": self._chat(),
            "from": self._person(),
            "date": int(self.clock().timestamp()),
            "old_chat_member": {"user": bot, "status": "member"},
            "new_chat_member": new,
        }
        self.emulator.enqueue(self.token, {"my_chat_member": change})

    def serves(self, **what: Any) -> None:
        """A service message, such as a group's new id."""
        self.emulator.enqueue(self.token, {"message": self._message(next(NUMBERS), **what)})

    def screen(self) -> list[Shown]:
        with self.mended.lock:
            shown = [one for (token, chat, _), one in self.mended.screen.items() if token == self.token]
        return [one for one in shown if one.chat_id == self.chat_id]

    def reads(self, words: str) -> list[Shown]:
        return [one for one in self.screen() if words in one.text]

    @property
    def bot_id(self) -> int:
        return int(self.token.partition(":")[0])

    def as_sent(self, shown: Shown) -> dict[str, Any]:
        """A message of the bot, as it comes back in a tap or as a quotation."""
        bot = {"id": self.bot_id, "is_bot": True, "first_name": "bedstraw"}
        words = {"caption": shown.text, "photo": []} if shown.is_picture else {"text": shown.text}
        return {"message_id": shown.message_id, "date": 1, "chat": self._chat(), "from": bot, **self._where(), **words}

    def _where(self) -> dict[str, Any]:
        return {} if self.topic is None else {"message_thread_id": self.topic, "is_topic_message": True}

    def _message(self, message_id: int, **content: Any) -> dict[str, Any]:
        who = {"date": int(self.clock().timestamp()), "chat": self._chat(), "from": self._person()}
        return {"message_id": message_id, **who, **self._where(), **content}

    def _person(self) -> dict[str, Any]:
        return {"id": self.person_id, "is_bot": False, "first_name": self.name}

    def _chat(self) -> dict[str, Any]:
        if self.chat_id > 0:
            return {"id": self.chat_id, "type": "private", "first_name": self.name}
        forum = {"is_forum": True} if self.topic is not None else {}
        return {"id": self.chat_id, "type": "supergroup", "title": "Bench growers", **forum}
