"""The Bot API emulator, and each of its quirks mended by name so that it behaves as the real server does."""

import json
import socket
import subprocess
import sys
import threading
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.bot.telegram.proxy import Answer, Call

MOST_BOTS = 15  # the emulator keeps 16 queues and never lets one go


@dataclass
class Shown:
    """One message as it stands on a phone."""

    chat_id: int
    message_id: int
    text: str
    buttons: dict[str, str] = field(default_factory=dict)
    is_picture: bool = False
    is_silent: bool = False
    edits: int = 0


def free_port() -> int:
    """A port on loopback that nobody uses."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


NOT_MODELLED = (
    *("setMessageReaction", "editMessageMedia"),
    *("setMyCommands", "setMyDescription", "setMyShortDescription"),
)


class Emulator:
    """The emulator's process. One token per test keeps tests apart."""

    def __init__(self) -> None:
        self.port = 0
        self._process: subprocess.Popen[bytes] | None = None
        self._tokens = MOST_BOTS
        self._number = 10_000_000
        self.newest: dict[str, int] = {}  # the last update of each token

    def fresh_token(self) -> str:
        """A token nobody used before, at an emulator that still has room for it."""
        if self._tokens >= MOST_BOTS:
            self.stop()
            self._start()
        self._tokens += 1
        self._number += 1
        return f"{self._number}:AAinvented_for_this_test_only-{self._number}"

    def _start(self) -> None:
        self.port = free_port()
        command = str(Path(sys.executable).with_name("lo-bot-api-emulator"))
        self._process = subprocess.Popen(
            [command, "--port", str(self.port), "--enable-control", "--allow-insecure-loopback-webhooks"],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        assert self._process.stdout is not None
        self._process.stdout.readline()  # it prints where it listens, once it does
        self._tokens = 0

    def stop(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.communicate()

    def enqueue(self, token: str, update: dict[str, Any]) -> int:
        """The id of the update now waiting for the bot of this token."""
        if set(update) - {"message", "callback_query"}:
            update = {"message": {"really": update}}  # quirk: other kinds are not taken, so they travel as a message
        body = json.dumps({"token": token, "update": update}).encode()
        asked = urllib.request.Request(f"http://127.0.0.1:{self.port}/__fixture/updates", body)
        with urllib.request.urlopen(asked, timeout=5) as answer:  # noqa: S310
            self.newest[token] = int(json.load(answer)["result"]["update_id"])
        return self.newest[token]


class Mended:
    """The emulator's quirks, mended in the wire, and the phones' screens, which it does not keep."""

    def __init__(self, now: Callable[[], float]) -> None:
        self._now = now
        self.screen: dict[tuple[str, int, int], Shown] = {}
        self.lock = threading.Lock()

    def __call__(self, call: Call, forward: Callable[[], Answer]) -> Answer:
        refused = self._edit_refused(call)
        if refused is not None:
            return refused
        if call.method in NOT_MODELLED:  # quirk: 501
            result: Any = self._message_of(call) if call.method == "editMessageMedia" else True
            return self._answered(call, result)
        status, body = forward()
        answer = json.loads(body)
        if not answer["ok"]:
            return status, body
        return self._answered(call, answer["result"])

    def _answered(self, call: Call, result: Any) -> Answer:
        if call.method == "getMe":
            result["username"] = "larkmoor_test_bot"  # quirk: none
        if call.method == "getUpdates":
            result = [self._unwrapped(update) for update in result]
        if isinstance(result, dict) and "message_id" in result:
            self._date(result)
            self._show(call, result)
        return 200, json.dumps({"ok": True, "result": result}).encode()

    def _date(self, message: dict[str, Any]) -> None:
        message["date"] = int(self._now())  # quirk: 1970
        chat_id = message["chat"]["id"]
        message["chat"]["type"] = "private" if chat_id > 0 else "supergroup"  # quirk: a text's chat is always private
        if chat_id < 0:
            message["chat"]["title"] = "Bench growers"

    @staticmethod
    def _unwrapped(update: dict[str, Any]) -> dict[str, Any]:
        really = update.get("message", {}).get("really")
        return update if really is None else {**really, "update_id": update["update_id"]}

    def _message_of(self, call: Call) -> dict[str, Any]:
        media = json.loads(call.fields["media"])
        chat = {"id": int(call.fields["chat_id"]), "type": "private"}
        return {"message_id": int(call.fields["message_id"]), "chat": chat, "caption": media.get("caption", "")}

    def _edit_refused(self, call: Call) -> Answer | None:
        """Quirk: edits of what was never sent, or of a picture's text, or that change nothing, all succeed."""
        if not call.method.startswith("editMessage"):
            return None
        shown = self.screen.get(_place(call, int(call.fields["message_id"])))
        if shown is None:
            return _refused("message to edit not found")
        if call.method == "editMessageText" and shown.is_picture:
            return _refused("there is no text in the message to edit")
        words = call.fields.get("text", call.fields.get("caption"))
        if call.method != "editMessageMedia" and (words, _buttons(call)) == (shown.text, shown.buttons):
            return _refused(
                "message is not modified: specified new message content and reply markup are exactly the same"
            )
        return None

    def _show(self, call: Call, message: dict[str, Any]) -> None:
        place = _place(call, message["message_id"])
        words = call.fields.get("text", call.fields.get("caption", message.get("caption", "")))
        with self.lock:
            before = self.screen.get(place)
            self.screen[place] = Shown(
                chat_id=place[1],
                message_id=place[2],
                text=words,
                buttons=_buttons(call),
                is_picture=call.method in ("sendPhoto", "editMessageMedia") or bool(before and before.is_picture),
                is_silent=call.fields.get("disable_notification") == "true",
                edits=before.edits + 1 if before else 0,
            )


def _place(call: Call, message_id: int) -> tuple[str, int, int]:
    return call.token, int(call.fields["chat_id"]), message_id


def _buttons(call: Call) -> dict[str, str]:
    rows = json.loads(call.fields.get("reply_markup", "{}")).get("inline_keyboard", [])
    return {button["text"]: button["callback_data"] for row in rows for button in row}


def _refused(why: str) -> Answer:
    return 400, json.dumps({"ok": False, "error_code": 400, "description": f"Bad Request: {why}"}).encode()
