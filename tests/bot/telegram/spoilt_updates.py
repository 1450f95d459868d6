"""Updates of the Bot API spoilt in many ways at once, told by their seed, through the door's own way to an answer."""

import json
import random
import time
from collections.abc import Callable, Iterable
from datetime import timedelta
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from telegram.error import TelegramError

from bot.logbook.database.tables import inbox
from bot.telegram_chat import read_update
from bot.telegram_chat.keeping import keep
from bot.telegram_chat.transport import BoundedRequest, is_update
from tests.bot.answers.any_messages import BUTTONS
from tests.bot.answers.message_batch import Batch
from tests.bot.forecasts.test_forecasts_spoilt import spoilt, spots

PAUSE = timedelta(seconds=5)
ODD: list[Any] = [None, True, False, 0, -1, 7, 2**31, 2**63, -(2**63), 10**30, 1.5, 1e308, 10**400, float("nan")]
ODD += ["", "x", "11", "-13", "\0", "\ud800", "\u202e", "é" * 5000, "9" * 5000, "yes:c1:²", "undo:u--1:0", [], {}, [[]]]
ODD += [[None], [{}], {"id": 11}, {"id": "11", "type": 7}, ["private"], "2025-11-28T16:00:00Z", 'it\'s "so"']
TAPS = [
    *BUTTONS,
    "undo:u99999999999999999999:0",
    "job:j99999999999999999999:1",
    "yes:c1:99999999999999999999",
    "yes:c1:٣",
]
TAPS += [
    "why:n99999999999999999999:0",
    "closed:n²:²",
    "undo:u-:0",
    "job:j²:0",
    "yes:c:0",
    "d:1:x",
    "closed:n1:" + "9" * 5000,
]
FIELDS = ["message", "edited_message", "callback_query", "my_chat_member", "channel_post", "from", "chat", "text"]
FIELDS += ["caption", "photo", "document", "location", "reply_to_message", "message_thread_id", "is_topic_message"]
FIELDS += ["migrate_to_chat_id", "migrate_from_chat_id", "entities", "data", "forward_origin", "first_name", "file_id"]
FIELDS += ["id", "date"]
LETTERS = ['"', "{", "]", ",", "\\", "9" * 400, "é", "\0", "", ":", "\\ud800", "NaN", "-"]

Update = dict[str, Any]


def in_a_topic(chance: random.Random, update: Update) -> Update:
    """The same as it comes from a group with topics, now and then from somebody without a name of their own."""
    for part in update.values():
        if isinstance(part, dict) and isinstance(part.get("chat"), dict) and chance.random() < 0.3:
            part["chat"] |= {"type": "supergroup", "is_forum": True, "title": "The house"}
            part |= {"message_thread_id": chance.randint(1, 9), "is_topic_message": True}
    return update


def _value(chance: random.Random, update: Any) -> Any:
    return json.loads(spoilt(update, chance.choice(list(spots(update))), chance.choice(ODD)))


def _missing(chance: random.Random, update: Any) -> Any:
    *path, last = chance.choice(list(spots(update)))
    del _inside(update, path)[last]
    return update


def _extra(chance: random.Random, update: Any) -> Any:
    """A key that may come in another kind of update, with something odd or another part of this one."""
    objects = [path for path in [(), *spots(update)] if isinstance(_inside(update, path), dict)]
    found = _inside(update, chance.choice(list(spots(update))))
    new = json.loads(json.dumps(found if chance.random() < 0.5 else chance.choice(ODD)))
    _inside(update, chance.choice(objects))[chance.choice(FIELDS)] = new
    return update


def _nested(chance: random.Random, update: Any) -> Any:
    """Some part wrapped up in lists or in itself: as deep as is still read, and deeper."""
    *path, last = chance.choice(list(spots(update)))
    at = _inside(update, path)
    inner, key = at[last], chance.choice(FIELDS)
    for _ in range(chance.choice([1, 2, 10, 50, 70])):
        inner = {key: inner} if chance.random() < 0.5 else [inner]
    at[last] = inner
    return update


def _tap(chance: random.Random, update: Any) -> Any:
    if isinstance(update.get("callback_query"), dict):
        update["callback_query"]["data"] = chance.choice(TAPS)
    return update


def _inside(update: Any, path: Iterable[Any]) -> Any:
    for step in path:
        update = update[step]
    return update


CHANGES: list[Callable[[random.Random, Any], Any]] = [_value, _value, _missing, _extra, _nested, _tap]


def spoilt_answer(chance: random.Random, update: Update) -> str:
    """The messenger's answer with this update after one to four changes, and perhaps letters or its end gone."""
    for _ in range(chance.randint(1, 4)):
        if list(spots(update)):
            update = chance.choice(CHANGES)(chance, update)
    text = json.dumps({"ok": True, "result": [update]})
    for _ in range(chance.choice([0, 0, 0, 0, 0, 0, 1, 3])):
        at = chance.randint(0, len(text))
        text = text[:at] + chance.choice(LETTERS) + text[at + 1 :]
    if chance.random() < 0.03:
        text = text.replace("null", chance.choice(["[", '{"a":']) * 3000, 1)
    return text[: chance.randint(0, len(text))] if chance.random() < 0.05 else text


class SpoiltUpdates(Batch):
    """A garden, a logbook, and what spoilt answers of the messenger came to: each of `run`'s sentences is a fault.

    Nothing may escape; an answer that holds no update is refused by the door, an update of a strange shape put aside or
    failed while it is read. What was read has the shape of something said: that must be answered.
    """

    def __init__(self, folder: Path, seed: int) -> None:
        super().__init__(folder, seed)
        self.chance = random.Random(-seed)
        self.refused, self.kept, self.slowest_s = 0, 0, 0.0

    def run(self, count: int) -> list[str]:
        faults = []
        for _ in range(count):
            text = spoilt_answer(self.chance, in_a_topic(self.chance, self.messages_next()))
            began_s = time.process_time()
            try:
                self.comes(text)
                self.sends()
            except Exception as error:  # noqa: BLE001 - what escapes is what we look for
                faults.append(f"escaped: {type(error).__name__}: {error} on {text}")
            self.slowest_s = max(self.slowest_s, time.process_time() - began_s)
            self.now += PAUSE
        return faults + self.failed()

    def comes(self, text: str) -> None:
        """As the door's poll takes it: parsed within bounds, kept, taken."""
        try:
            found = BoundedRequest.parse_json_payload(text.encode("utf-8", "surrogatepass"))
        except TelegramError:
            self.refused += 1
            return
        result = found.get("result") if isinstance(found, dict) else None
        updates = [one for one in result if is_update(one)] if isinstance(result, list) else []
        with self.logbook.begin() as c:
            for update in updates:
                keep(c, update, self.now)
        self.refused, self.kept = self.refused + (not updates), self.kept + len(updates)
        self.watch.take_pending(read_update, lambda: self.now)

    def failed(self) -> list[str]:
        """What was read and yet not answered."""
        with self.logbook.begin() as c:
            rows = c.execute(sa.select(inbox).where(inbox.c.state != "done")).all()
        return [f"{row.state}: {row.error} on {row.raw}" for row in rows if row.state == "pending" or _is_read(row.raw)]


def _is_read(raw: str) -> bool:
    try:
        return bool(raw) and read_update(raw) is not None
    except Exception:  # noqa: BLE001 - whatever the library says of a strange shape, the inbox marks it
        return False
