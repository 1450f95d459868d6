"""Replies that are commands, or are kept word for word: "/due", a note, a code."""

import re
from typing import Final

from bot.replies.nouns import Verb

_SLASH: Final = {
    **{verb.value: verb for verb in Verb},
    **{verb.value.replace("_", ""): verb for verb in Verb},
}
SLASH: Final = re.compile(r"^/(?P<command>[A-Za-z_]{1,32})(?:@\w+)?(?:\s+(?P<rest>.*))?$", re.DOTALL)
_RAW: Final = (
    (Verb.NOTE, re.compile(r"^\s*note(?:\s*[:,-]\s*|\s+)(?P<text>\S.*)$", re.IGNORECASE | re.DOTALL)),
    (Verb.CODE, re.compile(r"^\s*(?:my |the )?code(?: is)?\s*:?\s*(?P<text>[A-Za-z0-9_-]{4,64})\s*$", re.IGNORECASE)),
    (
        Verb.CODE,
        re.compile(
            r"^\s*(?P<text>(?=[A-Z0-9-]*[A-Z])(?=[A-Z0-9-]*\d)[A-Z0-9]{3,8}-[A-Z0-9]{3,8}(?:-[A-Z0-9]{3,8})?)\s*$"
        ),
    ),
)


def commanded(text: str) -> tuple[Verb | None, str]:
    """The verb of a slash command or of a note or code, and the text that goes with it exactly as typed."""
    slash = SLASH.match(text.strip())
    if slash:
        return _SLASH.get(slash["command"].casefold()), (slash["rest"] or "").strip()
    found = next(((verb, match) for verb, pattern in _RAW if (match := pattern.match(text))), None)
    return (found[0], found[1]["text"].strip()) if found else (None, "")
