"""Short text to what was meant, or what was not understood; pure: no clock, no storage."""

from bot.replies.buttons import Press, button_data, is_button, parse_button
from bot.replies.nouns import (
    DEEDS,
    Ambiguous,
    Choice,
    Context,
    Meaning,
    NotUnderstood,
    OpenAsk,
    Question,
    Reply,
    TreeName,
    Understood,
    Verb,
)
from bot.replies.reading import get_ready, parse_reply, tells
from bot.replies.words.marking import singled_out
from bot.replies.words.names import trees_named

__all__ = [
    "DEEDS",
    "Ambiguous",
    "Choice",
    "Context",
    "Meaning",
    "NotUnderstood",
    "OpenAsk",
    "Press",
    "Question",
    "Reply",
    "TreeName",
    "Understood",
    "Verb",
    "button_data",
    "get_ready",
    "is_button",
    "parse_button",
    "parse_reply",
    "singled_out",
    "tells",
    "trees_named",
]
