"""Text as people type it, brought to one spelling: letters, signs, apostrophes, emoji, spaces."""

import re
import unicodedata
from collections.abc import Callable
from functools import lru_cache

from bot.replies.words.numbers import NUMBER_PATTERN, number_of
from bot.replies.words.time_phrases import MONTH_PATTERN, MONTHS, WEEKDAY_PATTERN, WEEKDAYS

LONGEST_READ = 600  # characters; what lies beyond is not part of a short reply (assumed, no source)

_SIGNS = str.maketrans({  # U+2212 and the dashes survive NFKC, so they are mapped by hand
    **dict.fromkeys("−–‐‑‒", "-"), "—": ",", **dict.fromkeys("’‘`´ʼ", "'"),
    **dict.fromkeys("“”\"#%=*~_", " "), "@": " at ", "&": " and ", **dict.fromkeys("()", " , "), "…": " . ",
})  # fmt: skip
_TICKS = re.compile("[✅✔☑\U0001f4aa\U0001f64c]")
_THUMBS = re.compile("[\U0001f44d\U0001f44c\U0001f197]")  # read, or done?
_CROSSES = re.compile("[\U0001f44e❌✖\U0001f6ab⛔]")
_QUESTION_MARKS = re.compile("[❓❔¿]")
_KEYCAP = re.compile("(\\d)\ufe0f?\u20e3")


def _joined(match: re.Match[str]) -> str:
    """'un wrapped' is one word; 'not wrapped' stays two."""
    return match[1] + match[2] if match[1] == "un" else f"not {match[2]}"


# Each is (pattern, replacement), applied in this order.
_BEFORE_DATE = r"\b(?P<before>on|by|until|till|til|since|from|before|after|to)"


_DAYS = "(?:mon|tues|wednes|thurs|fri|satur|sun|yester)day"


def _spoken(match: re.Match[str]) -> str:
    """ "Six point five", "six comma five" in figures."""
    return ".".join(f"{number_of(match[part]):.0f}" for part in ("whole", "part"))


def _in_figures(match: re.Match[str]) -> str:
    """ "Eleven below" as "11 below"."""
    return f"{number_of(match['whole']):.0f} "


def _oclock(match: re.Match[str]) -> str:
    """ "17h", "15 o'clock": an hour of the clock where it is none of twelve."""
    return f"at {match[1]}:00" if 12 < int(match[1]) < 24 else match[0]


def _half_of_day(match: re.Match[str]) -> str:
    day = next(day for day in WEEKDAYS if day[:3] == match[1][:3])
    return f"{day} {({'am': 'morning', 'pm': 'afternoon'}).get(match[2], match[2])}"


def _dotted(match: re.Match[str]) -> str:
    """ "28.11." and "2026-11-28" by the name of the month; what is no date stays."""
    day, month, before = int(match["day"]), int(match["month"]), match.groupdict().get("before") or ""
    return f"{before} {day} {MONTHS[month - 1]} " if 1 <= day <= 31 and 1 <= month <= 12 else match[0]


_MISHEARD = {  # what a phone writes of what was said to it, where nothing else makes sense
    "minus for": "minus four", "minus won": "minus one", "minus ate": "minus eight", "minus tree": "minus three",
    "mine is": "minus", "bails": "bales", "leafs": "leaves", "a way from": "away from",
    "rapped": "wrapped",
}  # fmt: skip


_EVENING = r"(?:right |straight |just )?after (?:work|dinner|supper|dark|tea)"


_TOLD_BY = {
    "close": "closed", "open": "opened", "wrap": "wrapped", "strip": "stripped", "cover": "covered",
    "uncover": "uncovered", "dress": "wrapped", "unwrap": "unwrapped", "vent": "vented",
}  # fmt: skip


def _perfect(match: re.Match[str]) -> str:
    """ "I have close", "we did wrap": told, in the form of the wish."""
    return _TOLD_BY[match[0].removeprefix("did ")]


def _one_person(match: re.Match[str]) -> str:
    """ "All by myself", "all alone": who, and not which trees."""
    return match[1] or match[0].removeprefix("all ")


HOURS = "one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve"


def _clock_spoken(match: re.Match[str]) -> str:
    """ "Six thirty" as "at 6:30"."""
    return f"at {number_of(match['hour']):.0f}:{({'thirty': 30, 'fifteen': 15}).get(match['past'], 45)}"


def _heard_right(match: re.Match[str]) -> str:
    return _MISHEARD[match[0]]


def _sign_spoken(match: re.Match[str]) -> str:
    """ "Wall closed full stop": signs as they are dictated."""
    said = match[0].strip()
    return {"comma": " ,", "question mark": " ?", "exclamation mark": " !"}.get(said, " .")


_TOLD = r"\b(?:closed|shut|opened|wrapped|stripped|uncovered|did|done)\b"
# "closed all three scratch that closed porch"
_SAID_ANEW = rf"{_TOLD}(?:(?!{_TOLD}).)*?\b(?:scratch|scrap|strike) that\b[ ,.]*(?=(?:i |we )?{_TOLD})"
_TH, _UNTIL = r"(?:st|nd|rd|th)?", r"(?:-|to|till?|until|thru|through)"
_VERBS_AHEAD = "do|be|get|go|nip|pop|sort|shut|close|open|wrap|take|try|see|ask|check|put|have"  # "ill" alone is sick
_NTH = r"(\d{1,2}(?:st|nd|rd|th))"
_REPAIRS: list[tuple[re.Pattern[str], str | Callable[[re.Match[str]], str]]] = [
    (re.compile(r"\b(un|not) ?-? ?(wrapped|wrap|covered|capped|cap)\b"), _joined),
    (re.compile(rf"\b(?P<whole>{NUMBER_PATTERN}|\d+) (?:point|comma) (?P<part>{NUMBER_PATTERN}|\d)\b"), _spoken),
    (re.compile(r"(?<![\w'])'?em\b"), "them"),
    (re.compile(rf"\bhalf (?=(?:{HOURS})\b)"), "half past "),
    (re.compile(r"\b(at|by|before|after|about|around|until|till|til|since) half (?=\d)"), r"\1 half past "),
    (
        re.compile(r"(?<!in )(?<!for )(?<!another )\b(\d\d?) ?(?:o'?clock|uhr|h)\b(?! ?(?:\d|ago|back|later|earlier))"),
        _oclock,
    ),
    (re.compile(r"\bweds\b"), "wed"),
    (re.compile(rf"\b({WEEKDAY_PATTERN}) ?- ?(?={WEEKDAY_PATTERN}\b)"), r"\1 to "),
    (re.compile(rf"\bsatday\b|\bsat(?= {_UNTIL} {WEEKDAY_PATTERN}\b)"), "saturday"),
    (re.compile(rf"\bsun(?= {_UNTIL} {WEEKDAY_PATTERN}\b)"), "sunday"),  # "in the sun till 3" is no day
    (re.compile(rf"\b({WEEKDAY_PATTERN} {_UNTIL}) sun\b"), r"\1 sunday"),
    (re.compile(rf"\b(?:the )?{_NTH} ?- ?(?:the )?(?={_NTH})"), r"from the \1 until the "),
    (re.compile(rf"(?<!from )\bthe {_NTH} {_UNTIL} (?:the )?(?={_NTH})"), r"from the \1 until the "),
    (re.compile(r"\b(mon|tues?|wed|thurs?|fri|sat|sun) (am|pm|morning|afternoon|evening|night)\b"), _half_of_day),
    (re.compile(r"\bw(?:k|ee)?k?nd\b"), "weekend"),
    (
        re.compile(rf"\b(\d\d?){_TH} ?{_UNTIL} ?(\d\d?){_TH} ({MONTH_PATTERN})\b"),
        r"\1 \3 until \2 \3",
    ),
    (
        re.compile(rf"\b({MONTH_PATTERN}) (\d\d?){_TH} ?{_UNTIL} ?(\d\d?)\b"),
        r"\1 \2 until \1 \3",
    ),
    (
        re.compile(r"(?<![\d/.])(\d\d)/(\d\d?)(?![\d/])|(?<![\d/.])(\d\d?)/(\d\d)(?![\d/])"),
        lambda m: f"{m[1] or m[3]}÷{m[2] or m[4]}",
    ),
    (re.compile(rf"\b(?:{'|'.join(_MISHEARD)})\b(?! ?(?:degrees? of|the|a)\b)"), _heard_right),
    (re.compile(r"\ba whole in\b"), "a hole in"),
    (re.compile(r"\bb4\b"), "before"),
    (re.compile(r"\b4 (?=today|tonight|now)"), "for "),
    (re.compile(r"\b(leav|clos|open|shutt|wrapp|stripp|go|do|mov|gett|freez|look|work|try|keep)in\b'?"), r"\1ing"),
    (re.compile(_SAID_ANEW), ""),
    (re.compile(r"\bo clock\b"), "o'clock"),
    (re.compile(rf"(?<=\bhave )(?:{'|'.join(_TOLD_BY)})\b(?! to\b)|(?<=\bi've )(?:{'|'.join(_TOLD_BY)})\b"), _perfect),
    (re.compile(rf"(?:(?<=\bi )|(?<=\bwe ))did (?P<base>{'|'.join(_TOLD_BY)})\b"), _perfect),
    (re.compile(r"\b(?:easter (?=saturday|sunday|monday)|good (?=friday))"), ""),
    (re.compile(rf"\bat (?:the )?(\d\d?|{HOURS}) and (?:a )?half\b"), r"at half past \1"),
    (re.compile(rf"\bat the (?=(?:\d\d?|{HOURS}) (?:o'clock|hours)\b)"), "at "),
    (re.compile(r"\bsince (?:a )?half (?:of )?(?:an? )?hour\b"), "half an hour ago"),
    (re.compile(rf"(?<!minus )(?<!point )\b(?P<hour>{HOURS}) (?P<past>thirty|fifteen|forty five)\b"), _clock_spoken),
    (re.compile(r"\bwell done\b"), "bravo"),
    (re.compile(r"\bdone for(?=\W*(?:$|[.,!?;]))"), "ruined"),
    (re.compile(r"\bin night\b"), "in the night"),
    (re.compile(r"(?<=\w )(?<!the )(?<!our )(?<!closed )(?<!shut )(?<!wrapped )sat(?=\s*(?:$|[.,;!]))"), "saturday"),
    (re.compile(r"\bgrades\b"), "degrees"),
    (re.compile(r"\b(\d+(?:[.,]\d)?) (?:degrees? )?(plus|minus)\b(?! ?\d)"), r"\2 \1"),
    (re.compile(rf"\b(?P<whole>{NUMBER_PATTERN}) (?=below\b(?! (?:the|a|my|it)\b))"), _in_figures),
    (re.compile(r"\b(everything|all|both)'?s (?=[a-z])"), r"\1 is "),
    (re.compile(r"\s(?:comma|full stop|period|exclamation mark|question mark)(?=\s|$)"), _sign_spoken),
    (re.compile(r"\b(quarter|half|minutes?|five|ten|twenty|\d+) pass(?:ed)? (?=[a-z\d])"), r"\1 past "),
    (
        re.compile(
            rf"\b(?:before|since) (?P<many>half an|an|\d|{NUMBER_PATTERN}) (?P<unit>hours?)\b(?! (?:i|we|the)\b)"
        ),
        r"\g<many> \g<unit> ago",
    ),
    (re.compile(r"(?<=\s)arvo\b"), "afternoon"),
    (re.compile(r"\bfor once\b"), "for a change"),
    (re.compile(r"\bevery (?:single )?one of (?=them|the|our|my|those)"), "all of "),
    (re.compile(r"\b(closed|shut|open|opened|vented|wrapped|stripped|uncovered|covered|done) ?: (?=[a-z])"), r"\1 "),
    (re.compile(r"\bthe (?:whole )?lot\b"), "everything"),
    (re.compile(r"\b(noon|midday|midnight)ish\b|\b(\d{1,2}) ish\b"), lambda match: f"about {match[1] or match[2]}"),
    (
        re.compile(
            rf"\b(?P<whole>{NUMBER_PATTERN}|\d+) (?:degrees |grades? |grad )?(?:below|under) (?:the )?(?:zero|null)\b"
        ),
        r"minus \g<whole>",
    ),
    (
        re.compile(r"\b(?:from )?(?<!the )(\d\d?(?:st|nd|rd|th)) ?(?:to|till?|until|-) ?(\d\d?(?:st|nd|rd|th))\b"),
        r"from the \1 until the \2",
    ),
    (re.compile(rf"\b{_EVENING} yesterday\b|\byesterday {_EVENING}\b"), "yesterday evening"),
    (re.compile(r"\b(?:rn|atm)\b"), "now"),
    (
        re.compile(r"\ball (?:by (?=(?:my|him|her|our|them)sel)|(alone)\b|on (?=(?:my|his|her|our|their) own\b))"),
        _one_person,
    ),
    (re.compile(r"\b(til|till|until) (?=\d\d?(?:st|nd|rd|th)\b(?! (?:of )?[a-z]{3}))"), r"\1 the "),
    (re.compile(r"\b(back|home) (?:a|one|two|three|\d|a few|some) (?:days?|weeks?) early\b"), r"\1 early"),
    (re.compile(r"\bnite\b"), "night"),
    (re.compile(r"\bgimme\b"), "give me"),
    (re.compile(r"(?<=\s)w(?=\s(?:a|the|my|some)\b)"), "with"),
    (re.compile(r"\bw/(o?)(?=\W)"), lambda match: "without" if match[1] else "with"),
    (re.compile(r"\b(do|does|did|is|are|was|were|has|have|had|would|could|should|ca|wo)nt\b"), r"\1n't"),
    (re.compile(r"\b(i|they|we|you|would|could|should|might)(ve|m)\b"), r"\1'\2"),
    (re.compile(r"\b(that|there|what|who|he|she|where|when|how)s\b"), r"\1's"),
    (re.compile(rf"\b(i)(ll|d)(?= (?:{_VERBS_AHEAD})\b)"), r"\1'\2"),
    (re.compile(r"\b(\d{1,2})ish\b"), r"about \1"),
    (re.compile(r"\b(nag|reminder|alarm|nudge|ping|shout|buzz) for (?=\d)"), r"\1 at "),
    (re.compile(r"\b(?:'?bout|round about|round)(?= \d)"), "about"),
    (re.compile(r"(?<=\bat )(\d{1,2})\.([0-5]\d)(?!\d|\.\d|°| ?deg)"), r"\1:\2"),
    (re.compile(r"\b\d{4}-(?P<month>\d\d)-(?P<day>\d\d)\b"), _dotted),
    (re.compile(rf"{_BEFORE_DATE} (?P<day>\d{{1,2}})\.(?P<month>\d{{1,2}})\b(?!\.?\d)"), _dotted),
    (re.compile(r"(?<![\d.-])(?P<day>\d{1,2})\.(?P<month>\d{1,2})\.(?:\d{4}|\d\d)\b"), _dotted),
    (re.compile(r"(?<![\d.-])(?P<day>\d\d)\.(?P<month>\d\d)\.(?!\d)"), _dotted),
    (
        re.compile(r"\b(on|by|until|till|til|since|from|before|after|to) (\d{1,2})/(\d{1,2})(?:/(?:\d{4}|\d\d))?\b"),
        r"\1 \2÷\3",
    ),
    (re.compile(r"\b(\d{1,2})/(\d{1,2})/\d{4}\b"), r"\1÷\2"),
    (re.compile(r"\b2 ?(?:moro|moz|morrow)\b"), "tomorrow"),
    (re.compile(r"\b2(?:day|nite|night)\b"), lambda match: "today" if "day" in match[0] else "tonight"),
    (re.compile(r"\bnot (today|tonight|this evening)\b"), r"cannot \1"),  # a refusal, not a day
    (re.compile(r"\b(?:which|that|those) (i|we)(?:'?ll| will)\b"), r", \1 will"),  # "except kaki which i'll do later"
    (re.compile(r"(?<!\w)'?bout(?= [\d#])"), "about"),
    (re.compile(rf"\b({_DAYS})\b(.*?)\b(?:the |that )?same (night|evening|afternoon|morning)\b"), r"\1\2\1 \3"),
    (re.compile(r"\b([ap])(?:\. ?m\.?| ?m)(?=\W|$)"), r"\1m"),
    (re.compile(r"(\d{1,2})\.(\d{2}) ?(?=[ap]m\b)"), r"\1:\2 "),
    (re.compile(r"([^\W\d])\1{2,}"), r"\1"),
    (re.compile(r"(?<![\w.,])\+ ?(?=\d)"), " plus "),
    (re.compile(r"[+/]"), " and "),
    (re.compile(r"(?<=\d)(?=[^\W\d_])(?!(?:st|nd|rd|th)\b)"), " "),
    (re.compile(r"(?<=[a-z])-(?=[a-z])|(?<=[a-z])-(?=\s|$)|(?<=\s)-(?=[a-z])"), " "),
    (re.compile(r"(?<=[^\W\d_])-(?=\d)"), " -"),
    (re.compile(r"(?<![\w.,])- (?=\d)"), "-"),
    (re.compile(r"(?<=\d) - (?=[^\W\d])"), " , "),
]


def _thumbed(text: str) -> str:
    """A thumb as "ok", which may be that it was read; a figure in a key's frame as the figure."""
    return _THUMBS.sub(" ok , ", _KEYCAP.sub(r" \1 ", text))


@lru_cache(maxsize=16)  # one reply is asked for several times over
def normalised(text: str) -> str:
    """The text in lower case and plain signs, one space between words, at most `LONGEST_READ` characters.

    >>> normalised("Closed “Porch”, it’s −6.5 now ✅")
    "closed porch , it's -6.5 now tick ,"
    >>> normalised("6pm, un wrapped")
    '6 pm , unwrapped'
    """
    text = text[:LONGEST_READ].replace("½", " half ").replace("º", "°")  # NFKC would make them "1⁄2" and "o"
    text = unicodedata.normalize("NFKC", text).casefold()
    text = _QUESTION_MARKS.sub(" ? ", _CROSSES.sub(" cross , ", _TICKS.sub(" tick , ", _thumbed(text))))
    text = text.translate(_SIGNS).replace("\n", " . ")
    text = " ".join(re.sub(r"[^\w\s.,;:!?'°+/-]", " ", text).split())
    for pattern, replacement in _REPAIRS:
        text = pattern.sub(replacement, text)
    text = re.sub(r"([;!?]|[.,:](?!\d)|(?<!\d)[.,:])", r" \1 ", text)
    return " ".join(text.split())[:LONGEST_READ]
