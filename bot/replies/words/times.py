"""Times as people write them: "at 4", "yesterday evening", "in half an hour", "tomorrow", "20 minutes ago".

A clock time without morning or evening has two halves of the day; both are kept, and the deed or the reminder it goes
with decides. Durations are added in UTC, wall times are taken in the garden's zone.
"""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from bot.replies.nouns import Context
from bot.replies.words.time_phrases import TimeParts, time_phrases

CLOCK_REACH_H = 36  # a clock time, or a part of a day, is not looked for longer ago than this (assumed, no source)
# A day that is named is believed this far back: what the covers did since then is worked out anew. Beyond a month
# people mix up dates (assumed, no source).
DAY_REACH = timedelta(days=31)
HALF_DAY = timedelta(hours=12)
# Wall times that stand for a part of the day when no clock time is said; assumed, no source.
PART_HOURS = {
    "dawn": 7,
    "morning": 8,
    "noon": 12,
    "after lunch": 14,  # no source
    "afternoon": 14,
    "tea": 17,
    "evening": 18,
    "night": 21,
    "midnight": 0,
}
PART_HOURS_PAST = {**PART_HOURS, "morning": 7, "afternoon": 15}
PART_BEGINS = {
    "dawn": 3,
    "morning": 3,
    "afternoon": 12,
    "evening": 17,
}  # from then on "wrapped this morning" is of this one
SMALL_HOURS = 6  # before it "at 3" may as well be the afternoon before: both are kept; no source
STILL_UP = 4  # before it "today at 5" may be of the day whose night it is; no source
DAY_HOUR, DAY_HOUR_PAST = 8, 12  # "tomorrow", "yesterday" alone
NIGHT_MINIMUM_HOUR = 6  # when the night's low is taken to have been, near sunrise (assumed, no source)


@dataclass(frozen=True, kw_only=True)
class Moment:
    """One time phrase: when it may have been, when it may come to be (UTC, nearest first).

    `told` is when something told of that day was: the last such day, so that "wrapped on monday" is never a Monday to
    come; empty where no day is named, or it lies beyond `DAY_REACH`, which `too_old` says. `is_night` marks "last
    night" and the like, whose low has a time of its own; `is_today` a phrase that adds nothing to "now" ("today", "just
    now").
    """

    past: tuple[datetime, ...] = ()
    future: tuple[datetime, ...] = ()
    told: tuple[datetime, ...] = ()
    is_night: bool = False
    is_today: bool = False
    is_tonight: bool = False
    is_duration: bool = False
    is_deliberate: bool = False  # a day or duration that can only lie ahead
    too_old: bool = False


def mark_times(text: str, context: Context) -> tuple[str, list[Moment], list[str]]:
    """The text with each time phrase replaced by `#n`, what each mark stands for, and the phrases."""
    text = _HOUR_UNSAID.sub(lambda match: _of_this_hour(match, context), text)
    moments: list[Moment] = []
    phrases: list[str] = []
    parts: list[str] = []
    end = 0
    for start, stop, said in time_phrases(text):
        moment = _moment(said, context)
        if moment is not None:
            parts += [text[end:start], f" #{len(moments)} "]
            moments.append(moment)
            phrases.append(text[start:stop].strip())
            end = stop
    return " ".join("".join([*parts, text[end:]]).split()), moments, phrases


_HOUR_UNSAID = re.compile(r"\b(five|ten|twenty|quarter|5|10|20|25) (to|past)\b(?= ?(?:[.,!;]|$|just now|today|then))")
_MINUTES = {"five": 5, "ten": 10, "twenty": 20, "quarter": 15}


def _of_this_hour(match: re.Match[str], context: Context) -> str:
    """ "Done at ten to": the last time the clock showed that."""
    minutes = _MINUTES.get(match[1]) or int(match[1])
    now = context.local_now
    at = now.replace(minute=60 - minutes if match[2] == "to" else minutes, second=0, microsecond=0)
    at -= timedelta(hours=at > now)
    return f"{at:%H:%M}"


def _moment(said: TimeParts, context: Context) -> Moment | None:
    if said.elapsed is not None:
        return _elapsed(context.now.astimezone(UTC), said.elapsed)
    if said.today and not said.clocks and said.part is None and said.weekday is None:
        return Moment(is_today=True)
    return _wall_moment(said, context)


def _elapsed(now: datetime, elapsed: timedelta) -> Moment:
    at = now + elapsed
    if elapsed >= timedelta():
        return Moment(future=(at,), is_duration=True, is_deliberate=True)
    if -elapsed > DAY_REACH:
        return Moment(too_old=True)
    return Moment(past=(at,), told=(at,))


def _wall_moment(said: TimeParts, context: Context) -> Moment:
    now = context.now.astimezone(UTC)
    past = sorted((t for t in _instants(said, context, PART_HOURS_PAST, DAY_HOUR_PAST) if t <= now), reverse=True)
    future = sorted(t for t in _instants(said, context, PART_HOURS, DAY_HOUR) if t > now)
    if said.days is None and said.weekday is None:
        two = bool(past) and len(_narrowed(said)) > 1 and _may_be_either(past[0], context)
        past, future = past[: 1 + two], future[: max(1, len(_narrowed(said)))]
    young = tuple(t for t in past if now - t <= timedelta(hours=CLOCK_REACH_H))
    told = _told(said, past, context) or ((now,) if not past and _is_within(said, context) else ())
    if said.night == "night" and not said.clocks:
        young = (_night_low(context),)
    if said.days == 0 and said.part and not said.clocks and not young and not future:
        young = (now,)  # "this evening" said within it
    ahead = (_names_day(said) and not said.days and said.night != "last") or (said.days or 0) > 0
    return Moment(
        past=young,
        future=tuple(future),
        told=told,
        is_night=said.night == "night" and not said.clocks,
        is_tonight=said.night == "tonight" and not said.clocks,
        is_deliberate=ahead and not young,
        too_old=bool(past) and not young and not told,
    )


def _may_be_either(at: datetime, context: Context) -> bool:
    """Whether a bare hour is as like to be of the half of the day before: in the small hours, or long before them."""
    ago, now = context.now - at, context.local_now
    return (at.astimezone(context.zone).hour < SMALL_HOURS and ago > JUST_NOW) or (
        now.hour < SMALL_HOURS and ago > HALF_A_NIGHT
    )


JUST_NOW, HALF_A_NIGHT = timedelta(hours=1), timedelta(hours=8)  # no source


def _told(said: TimeParts, past: list[datetime], context: Context) -> tuple[datetime, ...]:
    """When something told with this phrase was, where it names a day; "next monday" names none that was."""
    if not _names_day(said) or not past or context.now - past[0] > DAY_REACH:
        return ()
    last = past[0].astimezone(context.zone).date()
    return tuple(at for at in past if said.night == "night" or at.astimezone(context.zone).date() == last)


def _is_within(said: TimeParts, context: Context) -> bool:
    """Whether it is the morning, afternoon or evening that the phrase names."""
    begins = PART_BEGINS.get(said.part or "")
    return said.days == 0 and not said.clocks and begins is not None and context.local_now.hour >= begins


def _names_day(said: TimeParts) -> bool:
    return any(part is not None for part in (said.days, said.weekday, said.day, said.month_day))


def _night_low(context: Context) -> datetime:
    """When the low of the night just past is taken to have been; while that night lasts, now."""
    local = context.local_now
    morning = local.replace(hour=NIGHT_MINIMUM_HOUR, minute=0, second=0, microsecond=0)
    return min(local, morning).astimezone(UTC)


def _narrowed(said: TimeParts) -> tuple[time, ...]:
    """The wall times left once the part of the day is known."""
    if len(said.clocks) < 2 or said.part is None:
        return said.clocks
    early, late = said.clocks
    if said.part in ("morning", "dawn"):
        return (early,)
    if said.part in ("night", "midnight"):
        return (late,) if early.hour >= 5 else (early,)
    return (late,)


def _instants(said: TimeParts, context: Context, part_hours: dict[str, int], day_hour: int) -> list[datetime]:
    clocks = _narrowed(said) or (time(part_hours[said.part] if said.part else day_hour),)
    return [
        # 2 am of that night
        _utc(day + timedelta(days=said.night == "night" and clock.hour < 12), clock, context.zone, context.now)
        for day in _days(said, context)
        for clock in clocks
    ]


def _days(said: TimeParts, context: Context) -> list[date]:
    today = context.local_now.date()
    if said.day is not None:
        return [d for year in (today.year - 1, today.year, today.year + 1) if (d := _in_year(said.day, year))][-3:]
    if said.month_day is not None:
        months = [today.replace(day=1) + timedelta(days=step) for step in (-1, 0, 31)]
        return [d for month in months if (d := _in_month(said.month_day, month))]
    if said.weekday is not None:
        ahead = (said.weekday - today.weekday()) % 7 or 7
        steps = {"last": (ahead - 7,), "next": (ahead,)}.get(said.night or "", (ahead - 7, ahead))
        return [today + timedelta(days=step) for step in steps]
    if said.days is not None:
        still_up = said.days == 0 and bool(said.clocks) and context.local_now.hour < STILL_UP
        return [today + timedelta(days=said.days - late) for late in range(1 + still_up)]
    return [today + timedelta(days=d) for d in (-1, 0, 1, 2)]


def _in_year(day: date, year: int) -> date | None:
    try:
        return day.replace(year=year)
    except ValueError:
        return None  # 29 February


def _in_month(day: int, month: date) -> date | None:
    try:
        return month.replace(day=day)
    except ValueError:
        return None  # the 31st of a short month


def _utc(day: date, clock: time, zone: ZoneInfo, now: datetime) -> datetime:
    """A wall time as an instant; of one that the change of the clocks leaves out, the last it may stand for till now.

    Half past two said at five past three, on the night without it, is half an hour ago and not still to come.
    """
    at = datetime.combine(day, clock, tzinfo=zone)
    as_before, as_after = at.astimezone(UTC), at.replace(fold=1).astimezone(UTC)
    is_left_out = as_before.astimezone(zone).replace(tzinfo=None) != at.replace(tzinfo=None)
    return as_after if is_left_out and as_after <= now < as_before else as_before
