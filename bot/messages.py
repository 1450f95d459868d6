"""The two nouns that cross a door: what came in from a person, and what goes out to one."""

import re
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

BUTTON_DATA_BYTES = 64  # the messenger's limit for what a button carries
LARGEST_PHOTO_BYTES = 10_000_000  # what the messenger takes for a photo, and what we keep of one
LARGEST_FILE_BYTES = 100_000  # of a garden file; three hundred trees take about 90 kB
ERROR_LENGTH = 500  # characters of an error that are kept; assumed, no source: enough to see what went wrong
ASKS_LOCATION = "location"  # the data of a button that sends where the person is
BOT_TOKEN = re.compile(r"(?<!\d)(\d{5,}):([A-Za-z0-9_-]{20,})")


def redacted(text: str) -> str:
    """The text with every bot token blotted out, fit for a log, an error or the logbook.

    >>> redacted("POST /bot12345678:AAbbCCddEEffGGhhIIjjKKll_mm/sendMessage failed")
    'POST /bot12345678:<secret>/sendMessage failed'
    """
    return BOT_TOKEN.sub(r"\1:<secret>", text)


def in_words(error: BaseException) -> str:
    """An error's kind and its sentence, redacted.

    >>> in_words(ValueError("no such hour"))
    'ValueError: no such hour'
    """
    return redacted(f"{type(error).__name__}: {error}")


class IncomingKind(StrEnum):
    """How something reached us."""

    TEXT = "text"
    TAP = "tap"
    EDITED = "edited"
    GONE = "gone"  # the person blocked us or the chat closed
    BACK = "back"  # and came again
    MOVED = "moved"  # a group got a new id


class OnUnknown(StrEnum):
    """What to do with a message whose sending ended without an answer from the server."""

    RESEND = "resend"  # once, marked as a repeat: it protects wood
    HOLD = "hold"
    TELL = "tell"  # repeated in vain: told at the next sign of life, see `bot.logbook.messages.unheard`


@dataclass(frozen=True, kw_only=True)
class Incoming:
    """One thing a person sent, whichever door it came through.

    `update_id` is unique per door and never used twice; `quoted_id` is the message the person answered to;
    `message_id` is the message's own (for a tap: the message whose button was tapped); `new_chat_id` comes with MOVED.
    `sender_id` is the chat in which the person is alone with us, also where this came in a group. `location` is a pin
    (latitude, longitude) [degrees]; `photo_id` is under which the messenger keeps a photo that came with it, `file_id`
    under which it keeps another file, called `file_name`; `file_text` is what that file holds, where the door has it.
    `code_hash` is the hash of a one-time code that was sent alone. `at_utc` is when it was said, by the messenger's
    clock; `got_utc` when it reached us, by ours; `topic` where, in a group with topics.
    """

    update_id: int
    chat_id: int
    person: str
    kind: IncomingKind
    text: str = ""
    button: str = ""
    message_id: int | None = None
    quoted_id: int | None = None
    at_utc: datetime
    tap_id: str = ""
    is_group: bool = False
    topic: int | None = None
    new_chat_id: int | None = None
    sender_id: int | None = None
    location: tuple[float, float] | None = None
    photo_id: str = ""
    file_id: str = ""
    file_name: str = ""
    file_text: str | None = None
    code_hash: str = ""
    got_utc: datetime | None = None

    @property
    def person_id(self) -> int:
        """Who said it, whatever they call themselves; in a chat alone with us that is the chat."""
        return self.chat_id if self.sender_id is None else self.sender_id

    @property
    def reached_us_utc(self) -> datetime:
        """When it reached us; where the door keeps no inbox, when it was said."""
        return self.at_utc if self.got_utc is None else self.got_utc

    def __post_init__(self) -> None:
        if (self.kind is IncomingKind.MOVED) != (self.new_chat_id is not None):
            raise ValueError(
                f"a chat that moved, and only that, has a new_chat_id: got {self.kind}, {self.new_chat_id}"
            )


@dataclass(frozen=True, kw_only=True)
class Button:
    """One likely answer: the words on it and the data it sends back (at most 64 bytes)."""

    label: str
    data: str

    def __post_init__(self) -> None:
        size = len(self.data.encode())
        if not 1 <= size <= BUTTON_DATA_BYTES:
            raise ValueError(f"button data of '{self.label}' is {size} bytes, allowed are 1 to {BUTTON_DATA_BYTES}")


@dataclass(frozen=True, kw_only=True)
class Outgoing:
    """One message to one chat, in plain text.

    `key` is unique for ever: the same key is never sent twice. `edits` names the key of an earlier message that
    this one replaces in place. After `expires_utc` it is worthless and is dropped with a note. `topic` is where
    it goes in a group with topics; without one it goes to the general one. `replies_to` is the message it answers;
    a `reaction`, one emoji, says the same upon that message where the door can, and then the words are not sent.
    """

    key: str
    chat_id: int
    text: str
    buttons: tuple[Button, ...] = ()
    due_utc: datetime
    expires_utc: datetime
    silent: bool = False
    on_unknown: OnUnknown = OnUnknown.HOLD
    edits: str | None = None
    topic: int | None = None
    replies_to: int | None = None
    reaction: str = ""
    picture: str | None = None  # path of a PNG, or of another file to hand over; the text becomes its caption
