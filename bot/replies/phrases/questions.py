"""Whole replies that ask us something, or tell us of ourselves: read before any deed is looked for."""

import re
from dataclasses import replace

from bot.replies.nouns import Context, Meaning, UnreadableError, Verb
from bot.replies.phrases.question_patterns import QUESTIONS
from bot.replies.words.marking import Marked
from bot.replies.words.numbers import Temperature, believed
from bot.replies.words.time_phrases import MONTH_PATTERN, MONTHS
from rules.garden.units import CM_PER_INCH

NEXT_MONTH = re.compile(r"\b(?P<which>next|this) month\b")
# "40 cm", or "7.5 cm", whose decimal was taken for a temperature and stands as %0
THICKNESS = re.compile(r"(?:%(?P<mark>\d+)|(?<!%)\b(?P<whole>\d+)) ?(?P<unit>cm|centimet(?:er|re)s?|in|inch|inches)\b")
COVER_STATE = re.compile(
    r"\b(?:open(?:ed)?|shut|closed?|vent(?:ed)?|bare|(?:un)?cover(?:ed|s)?|(?:un)?wrap(?:ped|s)?|strip(?:ped)?|caps?|lids?)\b"
)
WEATHER_WORDS = ["windy", "wind", "calm", "still", "cloudy", "clear", "rain", "rainy", "snow", "snowy", "sunny"]

_ME = r"(?:please |can you |could you |ok(?:ay)? |hey |hi |so |and |then |but |well |hm+ |, )*"
_PATTERNS = [(verb, re.compile(pattern)) for verb, pattern in QUESTIONS]
# Who corrects may mean what was noted or what was asked: undone unasked, a deed of days ago could be lost.
_CORRECTS = re.compile(
    r"^(?:(?:no|sorry|oops|wait|,)\s)*(?:i meant?\b|(?:that|it) (?:was|is) not @\d+)"
    r"|^(?:no|oops|sorry|wait)\b.* (?:that|it) was (?:the |my )?@\d+"
)
_LEAD = re.compile(rf"^{_ME}(?=\w|[?@#])")
_SLASH = {
    **{verb.value: verb for verb in Verb},
    **{verb.value.replace("_", ""): verb for verb in Verb},
}
SLASH = re.compile(r"^/(?P<command>[A-Za-z_]{1,32})(?:@\w+)?(?:\s+(?P<rest>.*))?$", re.DOTALL)
_RAW = [
    (
        Verb.NOTE,
        re.compile(r"^\s*note\s*[:,-]\s*(?P<text>\S.*)$|^\s*note\s+(?P<rest>\S.*)$", re.IGNORECASE | re.DOTALL),
    ),
    (
        Verb.CODE,
        re.compile(r"^\s*(?:(?:my |the )?code(?: is)?\s*:?\s*)(?P<text>[A-Za-z0-9_-]{4,64})\s*$", re.IGNORECASE),
    ),
    (
        Verb.CODE,
        re.compile(
            r"^\s*(?P<text>(?=[A-Z0-9-]*[A-Z])(?=[A-Z0-9-]*\d)[A-Z0-9]{3,8}-[A-Z0-9]{3,8}(?:-[A-Z0-9]{3,8})?)\s*$"
        ),
    ),
]


def commanded(text: str) -> tuple[Verb | None, str]:
    """The verb of a slash command or of a note or code, and the text that goes with it exactly as typed."""
    slash = SLASH.match(text.strip())
    if slash:
        verb = _SLASH.get(slash["command"].casefold())
        return verb, (slash["rest"] or "").strip()
    for verb, pattern in _RAW:
        found = pattern.match(text)
        if found:
            return verb, next(group for group in found.groups() if group).strip()
    return None, ""


def asked(reply: Marked, context: Context) -> Meaning | None:
    """The one question or wish a whole reply holds; None when it holds none and may tell of deeds."""
    line = without_lead(reply.text)
    if _CORRECTS.match(line):
        raise UnreadableError('a change of what was noted: say "undo", then say it anew')
    for verb, pattern in _PATTERNS:
        if pattern.search(line) and (meaning := _meaning(verb, line, reply, context)):
            return meaning
    return None


def without_lead(line: str) -> str:
    """A marked reply without the small words before what it says: "ok so can i" is "can i"."""
    return _LEAD.sub("", line)


def _meaning(verb: Verb, line: str, reply: Marked, context: Context) -> Meaning | None:
    trees = reply.trees_named
    meaning = Meaning(verb=verb, trees=trees, through_typo=reply.through_typo)
    if verb is Verb.WHAT_IF:
        return _what_if(meaning, line, reply, context)
    if verb is Verb.LAST_NIGHT:
        return _of_last_night(meaning, reply)
    if verb is Verb.DUE:
        return replace(meaning, month=_month(line, context))
    if verb is Verb.AWAY:
        ends = [moment.future[0] for moment in reply.moments if moment.future]
        return replace(meaning, until_utc=ends[-1] if ends else None)
    if verb in (Verb.WHY, Verb.WILL_DO, Verb.SNOOZE) and not trees:
        asks = context.asks if len(context.asks) == 1 else ()
        return replace(meaning, trees=asks[0].trees if asks else (), ask_key=asks[0].key if asks else None)
    return meaning


def _of_last_night(meaning: Meaning, reply: Marked) -> Meaning | None:
    """None where a time to come is named: "what's the low tonight"; refused where another night is."""
    named = [moment for moment in reply.moments if not moment.is_today]
    if any(moment.is_tonight or not (moment.past or moment.told) for moment in named):
        return None
    if any(not moment.is_night and moment.told and not moment.past for moment in named):
        raise UnreadableError("a night further back: I can only tell of last night")
    return meaning


def _what_if(meaning: Meaning, line: str, reply: Marked, context: Context) -> Meaning | None:
    """How cold, and in `text` the weather and the cover that are supposed: "windy bucket fill 0.400" (metres)."""
    supposed = [word for word in line.split() if word in WEATHER_WORDS] + _supposed_cover(line, reply)
    rest = THICKNESS.sub("", line)
    bare = re.search(r"(?<![\w@#%.,])\d{1,3}(?![\w.,])", rest)
    shown = re.search(r"%(\d+)", rest)
    given: Temperature | None = reply.temperatures[int(shown[1])] if shown else None
    if given is None and bare:
        given = believed(float(bare[0]), fahrenheit=context.fahrenheit, as_written=bare[0])
    if given is None and ({"bucket", "fill", "enough"} & set(supposed) or COVER_STATE.search(rest)):
        return replace(meaning, text=" ".join(supposed))  # of the coming nights, shut, open and bare
    if given is None or given.air_c is None:
        raise UnreadableError("what if — but not how cold")
    return replace(meaning, air_c=given.air_c, text=" ".join(supposed))


def _supposed_cover(line: str, reply: Marked) -> list[str]:
    """The words for a bucket, for each thickness of fill, and for the question whether what there is will do."""
    words = ["bucket"] if re.search(r"\bbuckets?\b", line) else []
    for thick in THICKNESS.finditer(line):
        said = thick["whole"] or re.sub(r"[^\d.]", "", reply.temperatures[int(thick["mark"])].as_written)
        metres = float(said) * (0.01 if thick["unit"].startswith("c") else CM_PER_INCH / 100)
        words += ["fill", f"{metres:.3f}"]
    return words or (["enough"] if re.search(r"\benough\b", line) else [])


def _month(line: str, context: Context) -> int | None:
    near = NEXT_MONTH.search(line)
    if near:
        return (context.local_now.month - (near["which"] == "this")) % 12 + 1
    named = re.search(
        rf"\bdue\b.*?\b({MONTH_PATTERN})\b|^\w+(?: (?:in|for))? ({MONTH_PATTERN})\b|\b(?:in|for) ({MONTH_PATTERN})\b",
        line,
    )
    word = next((group for group in named.groups() if group), None) if named else None
    return next((i for i, name in enumerate(MONTHS, 1) if word and name[:3] == word[:3]), None)
