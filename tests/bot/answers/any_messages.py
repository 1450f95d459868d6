"""Anything a phone may send: what people say, mistype and would never say, and what no server should pass on."""

import random
import re
import tomllib
from datetime import datetime
from pathlib import Path
from typing import Any

from bot.messages import Button

HERE = Path(__file__).parents[1] / "replies"
OWNER, HELPER, GROUP, STRANGER = 11, 12, -13, 14
CHATS = {OWNER: "Rowan", HELPER: "Juniper", GROUP: "The house", STRANGER: "Alder"}
TABLES = ("phrases", "phrases_jobs", "season_phrases")
NUMBERS = ["1", "-6.5", "19F", "0", "999999999999999999999", "-40", "1e308", "1/0", "2-9", "½", "٣", "−5", "NaN"]
SPLICES = (
    " ",
    " and ",
    ", ",
    "\n",
    " not ",
    " except ",
    "/",
    "😀",
    "\u200f",
    "\x00",
    "' OR 1=1 --",
    "{0}",
    "%s",
    "<b>",
)
COMMANDS = ["/start", "/help", "/due@some_bot", "/start k7mq-2xdp-9hwt", "delete my data", "yes", "no", "export"]
BUTTONS = ["yes:c1:0", "undo:u1:0", "job:j1:0", "why:n1:0", "closed:n1:0", ":::", "yes:c:9", "later"]
# letters, other letters, signs, pictures, control characters, halves of surrogate pairs; and how often each comes
LETTERS = {
    range(32, 127): 50,
    range(160, 1424): 20,
    range(0x4E00, 0x4F00): 10,
    range(0x1F300, 0x1F700): 15,
    range(32): 4,
    range(0xD800, 0xDFFF): 1,
}
COSTLY = re.compile(r"what if|season|picture|draw|show|section|review|compare|would|twin", re.IGNORECASE)
FAR_AWAY = {"chat": {"id": 2**70, "type": "private"}}
BROKEN: tuple[Any, ...] = ({}, [], 7, None, "words", FAR_AWAY, {"chat": None}, {"text": 7})
KINDS = ("message", "edited_message", "callback_query", "my_chat_member")
LONGEST = 4096  # Bot API, sendMessage

Shown = list[tuple[int, int, Button]]  # buttons with their chat and message


def phrases() -> list[str]:
    """Everything in the tables of phrases, whatever it means there."""
    found: list[str] = []
    for name in TABLES:
        tables = tomllib.loads((HERE / f"{name}.toml").read_text(encoding="utf-8"))
        found += [phrase for scene in tables.values() if isinstance(scene, dict) for phrase in scene]
    return found


class AnyMessages:
    """Updates of the Bot API from a seed, each with a higher number than the one before.

    `last_is_sound` says whether the last one had the shape of an update: of those none may fail. What takes a second
    to answer (pictures, covers that might be) is let through one time in `costly_one_in`.
    """

    def __init__(self, chance: random.Random, costly_one_in: int = 1) -> None:
        self._chance = chance
        self._costly_one_in = costly_one_in
        self._phrases = phrases()
        self._words = sorted({word for phrase in self._phrases for word in phrase.split()})
        self._number = 0
        self.last_is_sound = True

    def next(self, now: datetime, shown: Shown) -> dict[str, Any]:
        """One more update; `shown` are the buttons that may be tapped."""
        self._number += 1
        self.last_is_sound = self._chance.random() > 0.005
        if not self.last_is_sound:
            return {"update_id": self._number, self._chance.choice(KINDS): self._chance.choice(BROKEN)}
        kinds = (self._said, self._tapped, self._edited, self._member, self._sent_a_thing)
        [kind_of] = self._chance.choices(kinds, (80, 10, 4, 1, 5))
        return {"update_id": self._number, **kind_of(now, shown)}

    def _message(self, now: datetime, **more: Any) -> dict[str, Any]:
        [chat] = self._chance.choices(list(CHATS), (70, 15, 8, 7))
        name = CHATS[chat] if self._chance.random() < 0.95 else self._letters(self._chance.randrange(1, 30))
        person = {"id": abs(chat), "is_bot": False, "first_name": name}
        said = {"message_id": self._number, "date": int(now.timestamp()), "chat": _chat(chat), "from": person}
        if self._chance.random() < 0.05:
            bot = {"id": 99, "is_bot": True, "first_name": "bedstraw"}
            quoted = {**said, "message_id": self._chance.randrange(1, self._number + 2), "from": bot, "text": "asked"}
            said["reply_to_message"] = quoted
        return {**said, **more}

    def _said(self, now: datetime, _: Shown) -> dict[str, Any]:
        return {"message": self._message(now, text=self.text())}

    def _edited(self, now: datetime, _: Shown) -> dict[str, Any]:
        mended = self._message(now, text=self.text(), edit_date=int(now.timestamp()))
        return {"edited_message": {**mended, "message_id": self._chance.randrange(1, self._number + 1)}}

    def _tapped(self, now: datetime, shown: Shown) -> dict[str, Any]:
        message, data = self._message(now, text="asked"), self._chance.choice(BUTTONS)
        if shown and self._chance.random() < 0.7:
            chat, number, button = self._chance.choice(shown)
            message |= {"message_id": number, "chat": _chat(chat)}
            data = button.data
        elif self._chance.random() < 0.3:
            data = self._letters(12)
        query = {"id": str(self._number), "from": message["from"], "message": message, "chat_instance": "1"}
        return {"callback_query": {**query, "data": data}}

    def _member(self, now: datetime, _: Shown) -> dict[str, Any]:
        message = self._message(now)
        before, after = self._chance.sample(("member", "kicked", "left"), 2)
        known = {key: message[key] for key in ("chat", "from", "date")}
        return {"my_chat_member": {**known, "old_chat_member": _bot(before), "new_chat_member": _bot(after)}}

    def _sent_a_thing(self, now: datetime, _: Shown) -> dict[str, Any]:
        named = {"file_id": self._letters(8), "file_unique_id": "u"}
        size, file = (
            {**named, "width": 90, "height": 90},
            {**named, "file_name": self._letters(20), "file_size": 10**11},
        )
        place = {"latitude": self._chance.uniform(-90, 90), "longitude": self._chance.uniform(-180, 180)}
        things: list[dict[str, Any]] = [
            {"photo": [size], "caption": self.text()[:1024]},
            {"photo": [{**size, "file_size": 2 * 10**7}]},
            {"photo": []},
            {"location": place},
            {"document": file},
            {"document": {**file, "mime_type": "image/png", "file_size": 9}},
            {"voice": {**named, "duration": 1}},
            {"sticker": {**size, "type": "regular", "is_animated": False, "is_video": False}},
            {"new_chat_title": "x"},
            {"contact": {"phone_number": "1", "first_name": "x"}},
        ]
        return {"message": self._message(now, **self._chance.choice(things))}

    def text(self) -> str:
        """Something typed, at most as long as the server takes."""
        while COSTLY.search(text := self._any_text()) and self._chance.randrange(self._costly_one_in):
            pass
        return text

    def _any_text(self) -> str:
        kinds = (self._phrase, self._mistyped, self._spliced, self._salad, self._nonsense, self._command, self._speech)
        [kind] = self._chance.choices(kinds, (20, 30, 15, 20, 10, 4, 1))
        return kind()[:LONGEST] or "."  # the server sends no empty text

    def _phrase(self) -> str:
        return self._chance.choice(self._phrases)

    def _mistyped(self) -> str:
        letters = list(self._phrase())
        for _ in range(self._chance.randrange(1, 4)):
            at = self._chance.randrange(len(letters) + 1)
            letters[at : at + self._chance.randrange(2)] = self._letters(self._chance.randrange(2))
        return "".join(letters)

    def _spliced(self) -> str:
        return self._phrase() + self._chance.choice(SPLICES) + self._phrase()

    def _salad(self) -> str:
        return " ".join(self._chance.choices(self._words + NUMBERS, k=self._chance.randrange(1, 9)))

    def _nonsense(self) -> str:
        return self._letters(self._chance.randrange(40))

    def _command(self) -> str:
        return self._chance.choice(COMMANDS)

    def _speech(self) -> str:
        return self._chance.choice(SPLICES).join(self._phrase() for _ in range(self._chance.randrange(5, 90)))

    def _letters(self, count: int) -> str:
        ranges = self._chance.choices(list(LETTERS), list(LETTERS.values()), k=count)
        return "".join(chr(self._chance.choice(one)) for one in ranges)


def _chat(number: int) -> dict[str, Any]:
    return {"id": number, "type": "private" if number > 0 else "group"}


def _bot(status: str) -> dict[str, Any]:
    until = {"until_date": 0} if status == "kicked" else {}
    return {"user": {"id": 99, "is_bot": True, "first_name": "bedstraw"}, "status": status, **until}
