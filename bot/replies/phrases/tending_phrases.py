"""What a reply says of tending: whose way, when somebody can work, and whether a cover can stay shut."""

import re
import tomllib
from pathlib import Path
from typing import Final

from bot.replies.nouns import Context, Meaning, Verb
from bot.replies.words.names import tree_named_wholly
from rules.garden.tree import Tending
from rules.plan.grower.free_hours import ALL_DAY, DAYS

_TABLE: Final = tomllib.loads((Path(__file__).parent / "tending_phrases.toml").read_text(encoding="utf-8"))
_LEAD: Final = r"^\s*(?:please |can you |could you |ok,? |hey,? |hi,? )*"
_END: Final = r"(?: please)?\s*[.!?]*\s*$"
_STANDS: Final = {"TREE": "tree", "WAY": "way", "DAY": "day", "HOUR": "hour"}
_NUMBERS: Final = {word: hour for hour, word in enumerate(
    ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"), start=1)}  # fmt: skip
EVENING_H: Final = 17
NOON_H: Final = 12
LONGEST_WISH: Final = 120  # characters; assumed, no source


def _patterns(name: str) -> list[re.Pattern[str]]:
    found = []
    for pattern in _TABLE[name]:
        for word, key in _STANDS.items():
            pattern = pattern.replace(word, _TABLE[key])
        found.append(re.compile(f"{_LEAD}(?:{pattern}){_END}", re.IGNORECASE))
    return found


_TENDING, _STAY_SHUT, _FREE = (_patterns(name) for name in ("tending", "stay_shut", "free"))


def _fits(patterns: list[re.Pattern[str]], text: str) -> re.Match[str] | None:
    return next((found for pattern in patterns if (found := pattern.match(text))), None)


def said_of_tending(text: str, context: Context) -> Meaning | None:
    """What a whole reply says of tending; None where it says nothing of it. `text` is the way, or the hours said."""
    if len(text) > LONGEST_WISH:
        return None
    if found := _fits(_STAY_SHUT, text):
        return Meaning(verb=Verb.STAY_SHUT, trees=_trees(found, context))
    for found in filter(None, (pattern.match(text) for pattern in _TENDING)):
        if found.groupdict().get("tree") is None or _trees(found, context):
            return Meaning(verb=Verb.TENDING, trees=_trees(found, context), text=_way(found["way"]))
    if found := _fits(_FREE, text):
        return Meaning(verb=Verb.FREE_HOURS, text=found["when"].lower())
    return None


def _way(words: str) -> str:
    said = words.lower()
    if "fewest" in said or "your" in said:
        return Tending.FEWEST_TRIPS
    return Tending.EARLY if said == "early" else Tending.AS_TAUGHT


def _trees(found: re.Match[str], context: Context) -> tuple[str, ...]:
    words = found.groupdict().get("tree")
    return tree_named_wholly(words, context.trees) if words else ()


def free_hours_said(text: str) -> dict[str, str]:
    """The hours of each weekday that words like "saturdays" or "evenings after six" leave free; of "any time" all.

    >>> free_hours_said("only saturdays"), free_hours_said("weekdays after six")["monday"]
    ({'saturday': 'all day'}, '18:00-')
    """
    days = [day for day in DAYS if day in text]
    days += list(DAYS[5:]) if "weekend" in text else []
    days += list(DAYS[:5]) if "weekday" in text or "workday" in text else []
    return dict.fromkeys(days or DAYS, _hours(text))


def _hours(text: str) -> str:
    found = re.search(r"(after|from|before|until|till) (\d{1,2}|[a-z]+)(?:[:.](\d\d))?(?: ?(am|pm))?", text)
    evening, morning = "evening" in text or "after work" in text, "morning" in text
    if not found or not (found[2].isdigit() or found[2] == "noon" or found[2] in _NUMBERS):
        return f"{EVENING_H}:00-" if evening else f"0:00-{NOON_H}:00" if morning else ALL_DAY
    word, minute = found[2], found[3] or "00"
    hour = NOON_H if word == "noon" else _NUMBERS.get(word) or int(word)
    later = found[4] == "pm" or (found[4] is None and not morning and hour < 8 and found[1] in ("after", "from"))
    hour = hour + 12 if later and hour < 12 else hour
    return f"{hour}:{minute}-" if found[1] in ("after", "from") else f"0:00-{hour}:{minute}"
