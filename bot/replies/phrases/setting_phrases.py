"""Settings of a garden as people say them: units, quiet hours, what a tree is worth, which services."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import time
from typing import Final

from bot.replies.nouns import Context
from bot.replies.words.names import tree_named_wholly
from bot.replies.words.numbers import NUMBER_PATTERN, number_of

UNITS: Final = (
    ("fahrenheit", True, r"°?f|fahrenheit|degrees fahrenheit"),
    ("fahrenheit", False, r"°?c|celsius|centigrade|degrees celsius"),
    ("length", "in", r"inch(?:es)?|in"),
    ("length", "cm", r"cm|centimet(?:er|re)s?|metric sizes"),
    ("wind", "mph", r"mph|miles(?: per hour| an hour)?"),
    ("wind", "km/h", r"km/h|kmh|kph|kilomet(?:er|re)s(?: per hour| an hour)?"),
    ("wind", "m/s", r"m/s|met(?:er|re)s (?:per|a) second"),
    ("decimal", "comma", r"(?:decimal )?comma"),
    ("decimal", "point", r"(?:decimal )?point"),
)
_END: Final = r"(?: please)?\s*[.!]*\s*$"
_CLOCK: Final = r"(\d{1,2}(?:[:.]\d\d)?\s*(?:am|pm)?)"
_QUIET: Final = re.compile(
    rf"^(?:set )?quiet(?: hours?| time)?:? (?:are |is )?(?:from )?{_CLOCK} (?:to|until|till|-) {_CLOCK}{_END}", re.I
)
_HUSH: Final = re.compile(
    rf"^(?:please |seriously |honestly |hey |and ){{0,2}}"
    rf"(?:(?<=please )nothing|(?:no|do(?:n'?| no)t|never) (?:more )?"
    rf"(?:messages?|pings?|texts?|nudges?|write|message|text|ping|bother|nudge|send|buzz))"
    rf"(?: (?:me|us|to me))?(?: anything)? (?P<side>after|before) {_CLOCK}"
    rf"(?: (?:in the )?(?P<part>morning|evening|at night))?"
    rf"(?:,.*|,? (?:please|thanks|i'?m? .*))?{_END}",
    re.I,
)
_SPELLED: Final = rf"(\d{{1,2}}(?:[:.]\d\d)?\s*(?:am|pm)?|{NUMBER_PATTERN})"
_BETWEEN: Final = re.compile(  # "please don't send me anything between ten at night and seven in the morning"
    rf"^(?:please )?(?:no|do(?:n'?| no)t) (?:messages?|texts?|nudges?|write|message|text|ping|bother|send|buzz)"
    rf"(?: (?:me|us|to me))?(?: anything| messages)? between {_SPELLED}(?: (?:at night|in the evening))?"
    rf" and {_SPELLED}(?: in the morning)\b[^\d]*$",
    re.I,
)
_WORTH: Final = re.compile(rf"^(?P<tree>.+?) (?:is|are) worth (?P<trips>\d{{1,4}})(?: trips| walks)?{_END}", re.I)
_WORTH_OF: Final = re.compile(
    rf"^(?:the )?worth of (?P<tree>.+?)(?: is|:| =)? (?P<trips>\d{{1,4}})(?: trips| walks)?{_END}", re.I
)
_LEAD: Final = r"(?:use|read|show(?: me)?|in|speak|switch to|change to|set(?: the)? units to|units?:?|i read|give me)"
_UNIT: Final = re.compile(rf"^{_LEAD} (?:in )?(?P<units>.+?){_END}", re.I)
_SERVICES: Final = re.compile(
    rf"^(?:use )?(?:the )?weather (?:service )?(?:from|of|by|is|:) ?(?P<names>.+?){_END}", re.I
)
_PAGE: Final = re.compile(
    rf"^(?:(?P<no>no|don'?t send(?: me)?|stop) )?(?:please )?(?:send (?:me )?)?(?:the |a )?page "
    rf"(?:on|every|each) saturdays?{_END}",
    re.I,
)
_SHOWN: Final = re.compile(rf"^(?:show (?:me )?)?(?:the |my )?settings\??{_END}", re.I)


@dataclass(frozen=True, kw_only=True)
class Setting:
    """One key of the garden file and its new value: in a table such as `units`, of a tree, or of the garden itself."""

    key: str
    value: str | bool | int | tuple[str, ...]
    table: str = ""
    tree: str = ""


def read_settings(text: str, context: Context) -> tuple[Setting, ...] | None:
    """The settings that a whole reply asks for; empty where it asks to see them, None where it is about none."""
    plain = " ".join(text.split())
    if _SHOWN.match(plain):
        return ()
    found = [*_quiet(plain), *_worth(plain, context), *_services(plain), *_units(plain), *_page(plain)]
    return tuple(found) or None


def _quiet(plain: str) -> Iterator[Setting]:
    found = _QUIET.match(plain)
    times = [_clock(found[1]), _clock(found[2])] if found else []
    if len(times) == 2 and None not in times:
        for key, at in zip(("quiet_from", "quiet_until"), times, strict=True):
            yield Setting(key=key, value=f"{at:%H:%M}")
    if between := _BETWEEN.match(plain):
        yield from _hours_between(between[1], between[2])
    if hush := _HUSH.match(plain):
        at = _clock(hush[2])
        late = hush["side"] == "after" and at is not None and at.hour < 12 and hush["part"] != "morning"
        hour = at and (at.replace(hour=at.hour + 12) if late and not hush[2].lower().endswith("am") else at)
        if hour:
            yield Setting(key="quiet_from" if hush["side"] == "after" else "quiet_until", value=f"{hour:%H:%M}")


def _hours_between(evening: str, morning: str) -> Iterator[Setting]:
    """The quiet hours from an evening, told by twelve hours or by twenty-four, to a morning."""
    first, last = (
        _clock(f"{number_of(one.casefold()) or 0:.0f}" if one.isalpha() else one) for one in (evening, morning)
    )
    if first is not None and last is not None:
        late = first.replace(hour=first.hour % 12 + 12) if first.hour < 12 and evening[-2:].lower() != "am" else first
        yield Setting(key="quiet_from", value=f"{late:%H:%M}")
        yield Setting(key="quiet_until", value=f"{last:%H:%M}")


def _clock(said: str) -> time | None:
    """A time of day as typed.

    >>> _clock("9.30 pm"), _clock("25")
    (datetime.time(21, 30), None)
    """
    half = said[-2:].lower() if said[-2:].lower() in ("am", "pm") else ""
    hour, _, minute = said.removesuffix(said[-2:] if half else "").strip().replace(".", ":").partition(":")
    hours = int(hour) % 12 + 12 * (half == "pm") if half else int(hour)
    return time(hours % 24, int(minute or 0)) if hours <= 24 and int(minute or 0) < 60 else None


def _worth(plain: str, context: Context) -> Iterator[Setting]:
    found = _WORTH.match(plain) or _WORTH_OF.match(plain)
    for tree in tree_named_wholly(found["tree"], context.trees) if found else ():
        yield Setting(key="worth_trips", value=int(found["trips"]) if found else 0, tree=tree)


def _services(plain: str) -> Iterator[Setting]:
    found = _SERVICES.match(plain)
    if found:
        names = re.split(r"\s*(?:,|\bthen\b|\band\b)\s*", found["names"].lower())
        yield Setting(key="services", value=tuple(name.replace(" ", "-") for name in names if name))


def _page(plain: str) -> Iterator[Setting]:
    if found := _PAGE.match(plain):
        yield Setting(key="page_on_saturdays", value=not found["no"])


def _units(plain: str) -> Iterator[Setting]:
    found = _UNIT.match(plain)
    said = re.split(r"\s*(?:,|\band\b)\s*", found["units"].lower()) if found else []
    meant = [[one for one in UNITS if re.fullmatch(one[2], word)] for word in said if word]
    if meant and all(meant):
        for (key, value, _), *_ in meant:
            yield Setting(key=key, value=value, table="units")
