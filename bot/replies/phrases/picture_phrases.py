"""How people ask for a picture: whole replies of `picture_phrases.toml`, each with a word that only a picture has."""

import re
import tomllib
from pathlib import Path
from typing import Final

from bot.replies.nouns import Context, Meaning, Verb
from bot.replies.words.names import tree_named_wholly

LONGEST: Final = 100  # characters; assumed, no source
_LEAD: Final = r"\s*(?:(?:please|can you|could you|ok|hey|hi)[ ,]+)*"
_END: Final = r"(?: please| again| now)*\s*[.!?]*\s*"
_TABLE: Final = tomllib.loads((Path(__file__).parent / "picture_phrases.toml").read_text(encoding="utf-8"))


def _whole(pattern: str) -> re.Pattern[str]:
    for name in ("SHOW", "PICTURE", "AT", "TREE"):  # AT holds a TREE
        pattern = pattern.replace(name, _TABLE["part"][name])
    return re.compile(_LEAD + pattern + _END, re.IGNORECASE)


_PATTERNS: Final = [(name, _whole(pattern)) for name, rows in _TABLE["picture"].items() for pattern in rows]


def wished_picture(text: str, context: Context) -> Meaning | None:
    """The picture a whole reply asks for, its name in `text`; None where it asks for none, or of no tree we know."""
    if len(text) > LONGEST:
        return None
    for name, pattern in _PATTERNS:
        found = pattern.fullmatch(text)
        if found is None:
            continue
        words = found.groupdict().get("tree")
        trees = tree_named_wholly(words, context.trees) if words else ()
        if trees or not words:
            return Meaning(verb=Verb.PICTURE, text=name, trees=trees)
    return None
