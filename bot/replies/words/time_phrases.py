"""Phrases of time as they are written, before they are laid on a calendar."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, time, timedelta

from bot.replies.words.numbers import NUMBER_PATTERN, number_of

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MONTHS = (
    *("january", "february", "march", "april", "may", "june", "july"),
    *("august", "september", "october", "november", "december"),
)
_SHORT_DAYS = {"mon": 0, "tue": 1, "tues": 1, "wed": 2, "thu": 3, "thur": 3, "thurs": 3, "fri": 4, "sat": 5, "sun": 6}
WEEKDAY_PATTERN = "(?:mon|tues?|wed|thurs?|thu|fri|sat|sun)(?:day|nesday|rsday|urday)?"
MONTH_PATTERN = "|".join([*MONTHS, *(m[:3] for m in MONTHS if m != "may"), "sept"])
_BEFORE_CLOCK = "".join(
    f"|(?<=\\b{w}\\s)" for w in ("at", "around", "about", "by", "until", "till", "til", "before", "after", "since")
)[1:]
_NOT_A_TIME = (
    r"(?!\s?(?:°|degrees?\b|deg\b|c\b|f\b|celsius|fahrenheit|below|%))"
    r"(?!\s?(?:min|hour|hr|h\b|m\b|day|week|and\sa\shalf))(?![.,:]?\d)"
)
_LAST = rf"(?:\d+|{NUMBER_PATTERN})\s*(?:$|[.,;!?])"
_STEP = r"half|quarter|a\squarter|five|ten|twenty|twenty\sfive|5|10|15|20|25"
_PART_AHEAD = r"(?=\s(?:in\sthe|this)\s(?:morning|afternoon|evening)\b)"

_PIECE = re.compile(
    rf"""
    (?<![@\#%])(?:  # the number of a mark is no clock: "wall and kaki this morning" comes as "@0 and @1 this morning"
    (?P<ago>(?:\b(?:in|for|another|after|about|around)\s)*
        (?P<count>(?<![\d.,@#%])\d+(?:[.,]\d+)?|\bhalf\san?|\bhalf|\ba\squarter\sof\san|\bquarter\sof\san|\ba\scouple(?:\sof)?|\ba\sfew|\banother|\ban?|\b(?:{NUMBER_PATTERN}))
        \s(?:more\s)?(?P<unit>minutes?|mins?|hours?|hrs?|h|m|days?|weeks?)\b(?P<half>\sand\sa\shalf)?
        (?:\s?(?:and\s)?(?P<minutes>\d{{1,2}})\s?(?:minutes?|mins?|m)?\b(?!\s?(?:and\s)?[@=]))?
        (?P<back>\s(?:ago|earlier|back)\b)?)
  | (?P<shortly>\bin\s(?P<in_minutes>[1-9]\d?|{NUMBER_PATTERN})\b(?=\s*(?:$|[,.;!?]|and\b|but\b)))
  | (?P<stamp>\b(?P<hour>[01]?\d|2[0-3])(?::|\sh\s?|h)(?P<minute>[0-5]\d)\b(?:\s(?P<half_day>[ap]m)\b)?)
  | (?P<twelve>\b(?P<hour12>1[0-2]|0?[1-9])\s(?P<half12>[ap]m)\b)
  | (?P<date>\b(?P<day_first>[0-3]?\d)(?:st|nd|rd|th)?(?:\sof)?\s(?P<month_last>{MONTH_PATTERN})\b
      |(?:(?<=until\sthe\s)|(?<=of\sthe\s)|(?<=not\sthe\s)|(?<=back\sthe\s)|(?<=till\sthe\s)|(?<=til\sthe\s)|(?<=by\sthe\s)|(?<=on\sthe\s)|(?<=from\sthe\s)|(?<=before\sthe\s)|(?<=since\sthe\s)|(?<=after\sthe\s)|(?<=to\sthe\s))(?P<day_alone>[0-3]?\d)(?:st|nd|rd|th)\b(?!\s(?:of|one))
      |\b(?P<month_first>{MONTH_PATTERN})\s(?P<day_last>[0-3]?\d)(?:st|nd|rd|th)?\b)
  | (?P<words>\b(?P<step>{_STEP})\s(?P<side>past|after|to|before|till)
        \s(?P<of_hour>1[0-2]|[1-9]|{NUMBER_PATTERN})\b(?!\s?(?:°|deg|c\b|f\b)))
  | (?P<clock>(?:{_BEFORE_CLOCK}|(?<=\bhave\sbeen\s)(?={_LAST})|(?<=\bfrom\s)(?=\S+\s(?:till?|until)\s))
        (?<!is\sat\s)(?<!was\sat\s)(?<!reads\sat\s)(?<!it's\sat\s)
        (?P<clock_hour>2[0-3]|1\d|0?\d|{NUMBER_PATTERN})\b{_NOT_A_TIME}(?:\so'?clock\b)?)
  | (?P<oclock>\b(?<![-.,])(?<!minus\s)(?<!\d\s)(?<!\d\sand\s)(?<!\d\s,\s)(?<!number\s)
        (?P<oclock_hour>1[0-2]|[1-9]|{NUMBER_PATTERN})(?:\so'?clock\b|{_PART_AHEAD}))
  | (?P<military>(?:(?<=\bat\s)|(?<![\d.,\#@%])(?=0\d[0-5]\d\b(?!\s?\d))
        |(?:(?<=shut\s)|(?<=closed\s)|(?<=opened\s)|(?<=done\s)|(?<=@\d\s))(?!(?:19|20)\d\d))
        (?P<military_time>(?:[01]\d|2[0-3])[0-5]\d)\b)
  | (?P<day>\b(?:(?:the\s)?day\safter\stomorrow|(?:the\s)?day\sbefore\syesterday|
        yesterday|yday|today|tomorrow|tmrw|tmr|tmw|tomo|tomoz|
        (?:next|this|last|on)\s(?:{"|".join(_SHORT_DAYS)})|(?:(?:next|this|last|on)\s)?(?:{"|".join(WEEKDAYS)})|
        (?:mon|tues?|wed|thurs?|thur|fri)|(?:sat|sun)(?=\s(?:morning|noon|lunch|afternoon|tea|evening|night))|(?<=until\s)(?:sat|sun)|(?<=till\s)(?:sat|sun)|(?<=by\s)(?:sat|sun)|(?<=to\s)(?:sat|sun)|^(?:sat|sun)$|
        next\sweek|(?:at\s|on\s)?(?:the\s|this\s|next\s)?weekend)\b)
  | (?P<night>\b(?:last\snight(?:\sbefore\s(?:dinner|supper|tea|dark|dusk))?|overnight|last\sevening|tonight|tonite|
        this\sevening|this\smorning|this\safternoon|during\sthe\snight|in\sthe\snight)\b)
  | (?P<part>\b(?:first\sthing(?:\sin\sthe\smorning)?|(?:first|crack\sof)\slight
        |before\s(?:work|school|breakfast|the\sschool\srun)|dawn|daybreak|sunrise
        |(?:at|around|about)\s(?:dark|dusk|sundown|sunset|nightfall)|dusk
        |after\slunch|morning|noon|midday|lunch(?:time)?|afternoon|tea\s?time|evening|bedtime|midnight
        |(?:(?<=day\s)|(?<=(?:mon|tue|wed|thu|fri|sat|sun)\s)|(?<=tues\s)|(?<=thur\s)|(?<=thurs\s))night)\b)
  | (?P<now>\b(?:just\snow|right\snow|now|a\s(?:moment|minute|second|while|bit)\sago|
        just|earlier(?:\stoday)?|a\slittle\sago)\b)
    )
    """,
    re.VERBOSE,
)
_CONNECTOR = re.compile(
    r"(?:\s|\bat\b|\bin\b|\bon\b|\bthe\b|\bthis\b|\bof\b|\baround\b|\babout\b|\bby\b|\bearly\b|\blate\b)*"
)

_FEW_WORDS = re.compile(
    r"\s*,\s*(?:(?:about|around|so|at|was|circa|towards|roughly)\s+)*|(?:\s*:)?(?:\s+(?!and\b|but\b|then\b|also\b)[@a-z'\d]+){1,6}\s+"
)
_AND_THEN = re.compile(r"(?:\s+(?!but\b|will\b|i'll\b|later\b|today\b|now\b)[@a-z'\d]+){2,7}\s+")

_SAME_PART = {
    **dict.fromkeys(("midday", "lunch", "lunchtime"), "noon"),
    **dict.fromkeys(("teatime", "tea time"), "tea"), "bedtime": "night",
}  # fmt: skip


@dataclass
class TimeParts:
    """The pieces of one time phrase, gathered as they are met."""

    days: int | None = None
    weekday: int | None = None
    part: str | None = None
    clocks: tuple[time, ...] = ()
    elapsed: timedelta | None = None
    day: date | None = None
    month_day: int | None = None  # "until the 3rd"
    today: bool = False
    night: str | None = None


def time_phrases(text: str) -> Iterator[tuple[int, int, TimeParts]]:
    """Time pieces, neighbours that complete each other joined into one phrase."""
    open_phrase: tuple[int, int, TimeParts] | None = None
    for match in _PIECE.finditer(text):
        kind = next(name for name in _READERS if match[name] is not None)
        fresh = TimeParts()
        if not _READERS[kind](match, fresh):
            continue
        if (
            open_phrase
            and _CONNECTOR.fullmatch(text, open_phrase[1], match.start())
            and _completes(open_phrase[2], fresh)
        ):
            _join(open_phrase[2], fresh)
            open_phrase = (open_phrase[0], match.end(), open_phrase[2])
            continue
        if (
            open_phrase
            and _FEW_WORDS.fullmatch(text, open_phrase[1], match.start())
            and _is_day_and_clock(open_phrase[2], fresh)
        ):
            _join(open_phrase[2], fresh)  # "on saturday i opened it again at nine": both are that time
            fresh = open_phrase[2]
        elif (
            open_phrase
            and _AND_THEN.fullmatch(text, open_phrase[1], match.start())
            and (open_phrase[2].clocks or open_phrase[2].part)
            and open_phrase[2].part not in ("evening", "night")  # "closed last night at 11 and opened it at 8"
            and _is_day_and_clock(replace(open_phrase[2], clocks=(), part=None), fresh)
        ):
            fresh.days, fresh.weekday = open_phrase[2].days, open_phrase[2].weekday  # "on monday at 9 … and at 5"
        if open_phrase:
            yield open_phrase
        open_phrase = (match.start(), match.end(), fresh)
    if open_phrase:
        yield open_phrase


def _completes(said: TimeParts, fresh: TimeParts) -> bool:
    if said.elapsed or fresh.elapsed:
        return False
    fields = ("days", "weekday", "part", "day", "month_day")
    shared = any(getattr(said, field) is not None and getattr(fresh, field) is not None for field in fields)
    return not shared and not (said.clocks and fresh.clocks)


def _is_day_and_clock(said: TimeParts, fresh: TimeParts) -> bool:
    names_day = said.days is not None or said.weekday is not None
    return names_day and _completes(said, fresh) and bool(fresh.clocks or fresh.part)


def _join(said: TimeParts, fresh: TimeParts) -> None:
    for field in ("days", "weekday", "part", "day", "month_day", "night"):
        if getattr(said, field) is None:
            setattr(said, field, getattr(fresh, field))
    said.clocks = said.clocks or fresh.clocks
    said.today = said.today or fresh.today


def _read_duration(m: re.Match[str], said: TimeParts) -> bool:
    count, unit = m["count"].replace(",", "."), m["unit"]
    if re.search(r"\b(?:took|takes|taking)(?: (?:me|us|about|only|just|around))*\s*$", m.string[: m.start()]):
        said.today = True  # how long the work took is no time to ask again
        return True
    if unit in ("m", "h") and not count[0].isdigit():
        return False  # "7 am" must never become "a m"
    words = {"half": 0.5, "half a": 0.5, "half an": 0.5, "a": 1.0, "an": 1.0, "another": 1.0, "a few": 3.0}
    quarter = 0.25 if "quarter" in count else 2.0 if "couple" in count else None
    number = quarter or words.get(count) or number_of(count)
    if number is None or number > 1000:
        return False
    hours = {"m": 1 / 60, "h": 1.0, "d": 24.0, "w": 168.0}[unit[0]]
    whole = (number + (0.5 if m["half"] else 0.0)) * hours + float(m["minutes"] or 0) / 60
    said.elapsed = timedelta(minutes=round(whole * 60)) * (-1 if m["back"] else 1)
    return True


def _read_shortly(m: re.Match[str], said: TimeParts) -> bool:
    minutes = number_of(m["in_minutes"])  # "wall in 20"
    said.elapsed = timedelta(minutes=minutes or 0)
    return bool(minutes)


def _read_stamp(m: re.Match[str], said: TimeParts) -> bool:
    said.clocks = _clocks(m["hour"], int(m["minute"]), m["half_day"])
    return bool(said.clocks)


def _read_twelve(m: re.Match[str], said: TimeParts) -> bool:
    said.clocks = _clocks(m["hour12"], 0, m["half12"])
    return True


def _read_words(m: re.Match[str], said: TimeParts) -> bool:
    hour = int(number_of(m["of_hour"]) or 0)
    steps = {"half": 30, "quarter": 15, "a quarter": 15}
    minutes = steps.get(m["step"]) or int(number_of(m["step"]) or 0)
    if not 1 <= hour <= 12 or (m["step"] == "half" and m["side"] in ("to", "before", "till")):
        return False
    total = hour * 60 + (minutes if m["side"] in ("past", "after") else -minutes)
    said.clocks = _clocks(str(total // 60 or 12), total % 60, None)
    return True


def _read_clock(m: re.Match[str], said: TimeParts) -> bool:
    hour = number_of(m["clock_hour"])
    if hour is None or not 0 <= hour <= 23 or hour != int(hour):
        return False
    digits = m["clock_hour"] if m["clock_hour"][0].isdigit() else str(int(hour))
    said.clocks = _clocks(digits, 0, None)
    return True


def _read_oclock(m: re.Match[str], said: TimeParts) -> bool:
    hour = int(number_of(m["oclock_hour"]) or 0)
    said.clocks = _clocks(str(hour), 0, None) if 1 <= hour <= 12 else ()
    return bool(said.clocks)


def _read_military(m: re.Match[str], said: TimeParts) -> bool:
    said.clocks = (time(int(m["military_time"][:2]), int(m["military_time"][2:])),)
    return True


def _read_date(m: re.Match[str], said: TimeParts) -> bool:
    if m["day_alone"]:
        said.month_day = int(m["day_alone"])
        return 1 <= said.month_day <= 31
    month = next(i for i, name in enumerate(MONTHS, 1) if name[:3] == (m["month_last"] or m["month_first"])[:3])
    try:
        said.day = date(2000, month, int(m["day_first"] or m["day_last"]))  # the year is found in _days
    except ValueError:
        return False
    return True


def _read_day(m: re.Match[str], said: TimeParts) -> bool:
    word = m["day"]
    fixed = {"yesterday": -1, "yday": -1, "today": 0, "next week": 7}
    if "after tomorrow" in word or "before yesterday" in word:
        said.days = 2 if "after" in word else -2
    elif word in fixed:
        said.days, said.today = fixed[word], word == "today"
    elif word in ("tomorrow", "tmrw", "tmr", "tmw", "tomo", "tomoz"):
        said.days = 1
    else:
        last = word.split()[-1]
        said.weekday = 5 if last == "weekend" else _SHORT_DAYS.get(last[:3])
        said.night = next((which for which in ("last", "next") if word.startswith(f"{which} ")), None)
    return True


def _read_night(m: re.Match[str], said: TimeParts) -> bool:
    word = m["night"]
    if word in ("last night", "overnight", "during the night", "in the night"):
        said.night, said.part, said.days = "night", "night", -1
    elif word == "last evening" or "before" in word:
        said.part, said.days = "evening", -1
    elif word in ("tonight", "tonite"):
        said.night, said.part, said.days = "tonight", "evening", 0
    else:
        said.part, said.days = word.split()[-1], 0
    return True


def _read_part(m: re.Match[str], said: TimeParts) -> bool:
    word = m["part"]
    late = word.endswith(("dark", "dusk", "sundown", "sunset", "nightfall"))
    early = not late and word.startswith(("first", "before", "crack", "dawn", "daybreak", "sunrise"))
    said.part = "evening" if late else "dawn" if early else _SAME_PART.get(word, word)
    return True


def _read_now(_: re.Match[str], said: TimeParts) -> bool:
    said.today = True
    return True


_READERS: dict[str, Callable[[re.Match[str], TimeParts], bool]] = {
    "ago": _read_duration, "shortly": _read_shortly, "stamp": _read_stamp, "twelve": _read_twelve,
    "words": _read_words, "clock": _read_clock, "oclock": _read_oclock, "military": _read_military,
    "date": _read_date, "day": _read_day, "night": _read_night, "part": _read_part, "now": _read_now,
}  # fmt: skip


def _clocks(hour_digits: str, minute: int, half_day: str | None) -> tuple[time, ...]:
    """The wall times meant: one when the half of the day is known, else both."""
    hour = int(hour_digits)
    if half_day:
        return (time(hour % 12 + (12 if half_day == "pm" else 0), minute),) if 1 <= hour <= 12 else ()
    if hour == 0 or hour > 12 or hour_digits.startswith("0"):
        return (time(hour, minute),)
    return (time(hour % 12, minute), time(hour % 12 + 12, minute))
