"""Times as people write them: "at 4", "yesterday evening", "in half an hour", "tomorrow", "20 minutes ago".

A clock time without morning or evening has two halves of the day; both are kept, and the deed or the reminder it goes
with decides. Durations are added in UTC, wall times are taken in the garden's zone.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from bot.replies.nouns import Context
from bot.replies.time_phrases import Said, time_phrases

DEED_MAX_AGE_H = 36  # an act longer ago than this is asked about (assumed, no source)
HALF_DAY = timedelta(hours=12)
# Wall times that stand for a part of the day when no clock time is said; assumed, no source.
PART_HOURS = {"morning": 8, "noon": 12, "afternoon": 14, "evening": 18, "night": 21, "midnight": 0}
PART_HOURS_PAST = {**PART_HOURS, "morning": 7, "afternoon": 15}
DAY_HOUR, DAY_HOUR_PAST = 8, 12  # "tomorrow", "yesterday" alone
NIGHT_MINIMUM_HOUR = 6  # when the night's low is taken to have been, near sunrise (assumed, no source)


@dataclass(frozen=True, kw_only=True)
class Moment:
    """One time phrase: when it may have been, when it may come to be (UTC, nearest first).

    `is_night` marks "last night" and the like, whose low has a time of its own; `is_today` a phrase that adds
    nothing to "now" ("today", "just now"); `too_old` a past day beyond what is recorded unasked.
    """

    past: tuple[datetime, ...] = ()
    future: tuple[datetime, ...] = ()
    is_night: bool = False
    is_today: bool = False
    is_tonight: bool = False
    is_duration: bool = False
    is_deliberate: bool = False  # a day or duration that can only lie ahead
    too_old: bool = False


def mark_times(text: str, context: Context) -> tuple[str, list[Moment]]:
    """The text with each time phrase replaced by `#n`, and what each mark stands for."""
    moments: list[Moment] = []
    parts: list[str] = []
    end = 0
    for start, stop, said in time_phrases(text):
        moment = _moment(said, context)
        if moment is not None:
            parts += [text[end:start], f" #{len(moments)} "]
            moments.append(moment)
            end = stop
    return " ".join("".join([*parts, text[end:]]).split()), moments


def _moment(said: Said, context: Context) -> Moment | None:
    if said.elapsed is not None:
        at = context.now.astimezone(UTC) + said.elapsed
        behind = said.elapsed < timedelta()
        return (
            Moment(past=(at,), too_old=-said.elapsed > timedelta(hours=DEED_MAX_AGE_H))
            if behind
            else Moment(future=(at,), is_duration=True, is_deliberate=True)
        )
    if said.today and not said.clocks and said.part is None and said.weekday is None:
        return Moment(is_today=True)
    return _wall_moment(said, context)


def _wall_moment(said: Said, context: Context) -> Moment:
    now = context.now.astimezone(UTC)
    past = sorted((t for t in _instants(said, context, PART_HOURS_PAST, DAY_HOUR_PAST) if t <= now), reverse=True)
    future = sorted(t for t in _instants(said, context, PART_HOURS, DAY_HOUR) if t > now)
    if said.days is None and said.weekday is None:
        past, future = past[:1], future[: max(1, len(_narrowed(said)))]
    young = tuple(t for t in past if now - t <= timedelta(hours=DEED_MAX_AGE_H))
    if said.night == "night" and not said.clocks:
        young = (_night_low(context),)
    if said.days == 0 and said.part and not said.clocks and not young and not future:
        young = (now,)  # "this evening" said within it
    ahead = (said.days or 0) > 0 or (said.weekday is not None and said.night != "last") or said.day is not None
    return Moment(
        past=young,
        future=tuple(future),
        is_night=said.night == "night" and not said.clocks,
        is_tonight=said.night == "tonight" and not said.clocks,
        is_deliberate=ahead and not young,
        too_old=bool(past) and not young,
    )


def _night_low(context: Context) -> datetime:
    """When the low of the night just past is taken to have been; while that night lasts, now."""
    local = context.local_now
    morning = local.replace(hour=NIGHT_MINIMUM_HOUR, minute=0, second=0, microsecond=0)
    return min(local, morning).astimezone(UTC)


def _narrowed(said: Said) -> tuple[time, ...]:
    """The wall times left once the part of the day is known."""
    if len(said.clocks) < 2 or said.part is None:
        return said.clocks
    early, late = said.clocks
    if said.part == "morning":
        return (early,)
    if said.part in ("night", "midnight"):
        return (late,) if early.hour >= 5 else (early,)
    return (late,)


def _instants(said: Said, context: Context, part_hours: dict[str, int], day_hour: int) -> list[datetime]:
    clocks = _narrowed(said) or (time(part_hours[said.part] if said.part else day_hour),)
    return [_utc(day, clock, context.zone) for day in _days(said, context) for clock in clocks]


def _days(said: Said, context: Context) -> list[date]:
    today = context.local_now.date()
    if said.day is not None:
        return [d for year in (today.year - 1, today.year, today.year + 1) if (d := _in_year(said.day, year))][-3:]
    if said.weekday is not None:
        ahead = (said.weekday - today.weekday()) % 7 or 7
        return (
            [today + timedelta(days=ahead - 7)]
            if said.night == "last"
            else [today + timedelta(days=d) for d in (ahead - 7, ahead)]
        )
    if said.days is not None:
        return [today + timedelta(days=said.days)]
    return [today + timedelta(days=d) for d in (-1, 0, 1, 2)]


def _in_year(day: date, year: int) -> date | None:
    try:
        return day.replace(year=year)
    except ValueError:
        return None  # 29 February


def _utc(day: date, clock: time, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, clock, tzinfo=zone).astimezone(UTC)
