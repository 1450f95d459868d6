"""Wishes about garden and people: add, remove, rename, cover of; let in, put out, who; export, delete my data."""

import re
import tomllib
from pathlib import Path
from typing import Final

from bot.replies.nouns import Context, Meaning, Verb
from bot.replies.phrases.descriptions import read_cover_words, read_tree_words
from bot.replies.phrases.setting_phrases import read_settings
from bot.replies.words.names import tree_named_wholly
from bot.replies.words.normalising import normalised
from bot.replies.words.spelling import deed_forms
from bot.replies.words.times import mark_times

# Something is wrong with a cover: news, not what it is built of.
TROUBLES: Final = frozenset((
    "loose", "broken", "torn", "blew", "blown", "fell", "fallen", "ripped", "damaged", "stuck", "leaking",
    "soggy", "wet", "mouldy", "moldy", "missing", "stolen", "flapping", "flew", "collapsed", "mice", "mouse",
    "chewed", "eaten", "dead",
))  # fmt: skip
LONGEST_WISH: Final = 300  # characters; assumed, no source
_LEAD: Final = r"^\s*(?:please |can you |could you |i want to |i'd like to |ok,? |hey,? |hi,? )*"
_END: Final = r"(?: please)?\s*[.!?]*\s*$"
_ARTICLE: Final = r"(?:(?:the|my|our|a|an|another|new|tree|called|old) )*"


def _whole(pattern: str) -> re.Pattern[str]:
    return re.compile(_LEAD + pattern + _END, re.IGNORECASE | re.DOTALL)


_TABLE: Final = tomllib.loads((Path(__file__).parent / "garden_phrases.toml").read_text(encoding="utf-8"))
_WISHES: Final = {
    name: [_whole(f"(?:{pattern.replace('ARTICLE', _ARTICLE)})") for pattern in patterns]
    for name, patterns in _TABLE["wish"].items()
}


def _match(name: str, text: str) -> re.Match[str] | None:
    """The first way to say this wish that the whole reply fits."""
    return next((found for pattern in _WISHES[name] if (found := pattern.match(text))), None)


def _group(found: re.Match[str], name: str) -> str:
    return (found.groupdict().get(name) or "").strip()


def wished_of_garden(text: str, context: Context) -> Meaning | None:
    """The wish a whole reply holds about the garden file, its people or its data; None where it holds none.

    `text` of the meaning is what was said of it exactly as typed: a description, a name.
    """
    if len(text) > LONGEST_WISH:
        return None
    if read_settings(text, context) is not None:
        return Meaning(verb=Verb.SETTING, text=text)
    if _match("who", text):
        return Meaning(verb=Verb.WHO)
    if found := _match("delete", text):
        return Meaning(verb=Verb.DELETE, text=_group(found, "what").lower())
    if found := _match("export", text):
        return Meaning(verb=Verb.EXPORT, text=_group(found, "what").lower())
    if found := _match("hand_over", text):
        ends = [at for moment in mark_times(normalised(_group(found, "when")), context)[1] for at in moment.future[:1]]
        return Meaning(verb=Verb.HAND_OVER, text=_group(found, "name"), until_utc=ends[-1] if ends else None)
    if found := _match("import", text):
        return Meaning(verb=Verb.IMPORT, text=_group(found, "path"))
    if found := _match("let_in", text):
        return Meaning(verb=Verb.LET_IN, text=_group(found, "name"))
    return _of_trees(text, context) or _put_out(text, context)


def added_tree(text: str) -> str:
    """The description of a tree, without the words that ask to add it."""
    found = _match("add", text)
    return found["rest"].strip() if found else text.strip()


def _of_trees(text: str, context: Context) -> Meaning | None:
    if found := _match("add", text):
        words = read_tree_words(found["rest"], context.local_now.year)
        if (words.species and not context.quoted) or words.name:
            return Meaning(verb=Verb.ADD, text=found["rest"].strip())
    if (found := _match("cover", text)) and (tree := _tree(_group(found, "tree"), context)):
        rest = found["rest"].strip()
        if not set(normalised(rest).split()) & TROUBLES and read_cover_words(rest, inches=context.inches):
            return Meaning(verb=Verb.COVER, trees=tree, text=rest)
    if (found := _match("rename", text)) and (tree := _tree(_group(found, "tree"), context)):
        return Meaning(verb=Verb.RENAME, trees=tree, text=found["name"].strip())
    if (found := _match("give", text)) and (tree := _tree(_group(found, "tree"), context)):
        return Meaning(verb=Verb.GIVE, trees=tree, text=found["whom"].strip())
    if (found := _match("remove", text)) and (tree := _tree(found["tree"], context)):
        return Meaning(verb=Verb.REMOVE, trees=tree)
    return None


def _put_out(text: str, context: Context) -> Meaning | None:
    found = _match("put_out", text)
    if found is None:
        return None
    name = _group(found, "name")
    words = normalised(name).split()
    if _tree(name, context) or any(
        word in deed_forms() or word in ("the", "it", "them", "my", "fire") for word in words
    ):
        return None
    return Meaning(verb=Verb.PUT_OUT, text=name)


def _tree(words: str, context: Context) -> tuple[str, ...]:
    return tree_named_wholly(words, context.trees)
