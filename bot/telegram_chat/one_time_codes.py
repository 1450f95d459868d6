"""One-time codes are taken out of an update before it is kept: what stays of one is its hash."""

import re
from typing import Any, Final

from bot.logbook import Connection, garden_of_chat, hash_of_code, is_code
from bot.logbook.garden.people import CODE_LETTERS

CODE_KEY: Final = "one_time_code"  # beside the update's own keys, where nobody who writes to us can put anything
BLOTTED: Final = "(code)"
ADDRESS: Final = re.compile(r"^\s*(?:/start(?:@\w+)?|@\w+)\s*", re.IGNORECASE)
CODE: Final = re.compile(
    rf"(?<![0-9a-z])(?:[{CODE_LETTERS}]{{4}}[- ]?){{2}}[{CODE_LETTERS}]{{4}}(?![0-9a-z])", re.IGNORECASE
)


def without_codes(c: Connection, update: dict[str, Any], chat_id: int | None) -> dict[str, Any]:
    """The update as it may be kept: each code in it blotted out; one sent alone leaves its hash under `CODE_KEY`.

    A stranger's text in the shape of a code is taken for one, right or wrong: a slip of the pen would tell all but a
    letter. In a group, and of who is let in, only what is a code: anybody may say a word of twelve letters.
    """
    sent = ADDRESS.sub("", _text(update)).strip()
    alone = hash_of_code(sent) if CODE.fullmatch(sent) else ""
    is_stranger = chat_id is not None and chat_id > 0 and garden_of_chat(c, chat_id) is None
    known = {alone} if alone and is_stranger else set()

    def blotted(match: re.Match[str]) -> str:
        hashed = hash_of_code(match[0])
        return BLOTTED if hashed in known or is_code(c, hashed) else match[0]

    kept: dict[str, Any] = _with_texts(update, lambda text: CODE.sub(blotted, text))
    return {**kept, CODE_KEY: alone} if alone and (alone in known or is_code(c, alone)) else kept


def _text(update: dict[str, Any]) -> str:
    message = update.get("message") or update.get("edited_message")
    text = message.get("text") or message.get("caption") if isinstance(message, dict) else ""
    return text if isinstance(text, str) else ""


def _with_texts(value: Any, change: Any) -> Any:
    """The same with every text in it changed; updates are shallow by the time they come here."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {key: _with_texts(one, change) for key, one in value.items()}
    return [_with_texts(one, change) for one in value] if isinstance(value, list) else value
