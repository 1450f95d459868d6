"""What a button carries, and what a tap on it means."""

import re
from dataclasses import dataclass
from typing import Final

from bot.messages import BUTTON_DATA_BYTES
from bot.replies.nouns import Context, Meaning, Understood, Verb

# whatever comes back in a tap: numbers no longer than the logbook holds, and of the ten figures alone
SHAPE: Final = re.compile(r"[a-z_]+:[a-z]-?[0-9]{1,18}:[0-9]{1,9}")


@dataclass(frozen=True, kw_only=True)
class Press:
    """A tap read back; `is_stale` when its message is no longer the one that waits for an answer.

    `reply` is what to act on: None for a stale tap, or one that is not ours.
    """

    verb: Verb | None
    key: str
    generation: int
    is_stale: bool
    reply: Understood | None


def button_data(verb: Verb, key: str, generation: int) -> str:
    """The data of one button: verb, key of the nudge or choice it belongs to, and that message's generation.

    Raises
    ------
    ValueError
        The key holds a colon or the whole is longer than a button may carry.

    >>> button_data(Verb.CLOSED, "n41", 2)
    'closed:n41:2'
    """
    data = f"{verb}:{key}:{generation}"
    if ":" in key or not key:
        raise ValueError(f"the key of a button must be one word without a colon, got '{key}'")
    if len(data.encode()) > BUTTON_DATA_BYTES:
        raise ValueError(f"button data must be at most {BUTTON_DATA_BYTES} bytes, got {len(data.encode())}")
    return data


def is_button(data: str) -> bool:
    """Whether this may be the data of a button we sent: a word, a letter with a number, and a number.

    >>> is_button("closed:n41:2"), is_button("closed:n²:2"), is_button("")
    (True, False, False)
    """
    return SHAPE.fullmatch(data) is not None


def parse_button(data: str, context: Context, generation: int) -> Press:
    """The meaning of a tap, for all trees of its ask.

    `generation` is the present one of the nudge: an older one, or an ask no longer open, is stale and does nothing.
    """
    verb, key, tapped = _parts(data)
    ask = next(
        (ask for ask in (*context.open_asks, *((context.quoted,) if context.quoted else ())) if ask.key == key), None
    )
    if verb is None:
        return Press(verb=None, key="", generation=0, is_stale=True, reply=None)
    if ask is None or tapped != generation:
        return Press(verb=verb, key=key, generation=tapped, is_stale=True, reply=None)
    meaning = Meaning(verb=verb, trees=ask.trees, ask_key=key)
    return Press(verb=verb, key=key, generation=tapped, is_stale=False, reply=Understood(meanings=(meaning,)))


def _parts(data: str) -> tuple[Verb | None, str, int]:
    parts = data.split(":")
    if len(parts) != 3 or not parts[2].isascii() or not parts[2].isdigit() or parts[0] not in set(Verb):
        return None, "", 0
    return Verb(parts[0]), parts[1], int(parts[2])
