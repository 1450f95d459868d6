"""Snow on covers and trees: off the top before it presses, left or heaped round the foot, where it keeps warm."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

from rules.jobs.facts import Facts
from rules.jobs.nouns import Basis, Caution, JobKind, JobReason, Window
from rules.jobs.rule import TreeRule
from rules.weather.local_days import DayWeather, runs

DEEP_SNOW_M: Final = 0.05  # of one fall; assumed, no source
DUSTING_M: Final = 0.01  # less in a day ends a fall; assumed, no source
WET_SNOW_C: Final = -0.5  # snow that falls warmer is wet (Susong, Marks & Garen 1999)
SNOW_MONTHS: Final = (12, 1, 2)
SOURCE: Final = (
    "snow on a cover keeps it warmer (Provost & Campbell 2022); knocking it off tops is common practice, no source"
)


def _snow(facts: Facts) -> Iterator[Window]:
    """As soon as a fall is deep, and till the day after it: off any lid, and off bare branches where it is wet."""
    for fall in _falls(facts) if facts.is_now else ():
        days = [facts.garden.days[day] for day in fall]
        is_wet = any(_is_wet(day) for day in days)
        first = _day_it_is_deep(fall, days)
        if first is not None and (is_wet or facts.is_covered):
            yield Window(
                from_day=first,
                by_day=fall[-1] + timedelta(days=1),
                reason=JobReason.WET_SNOW if is_wet else JobReason.SNOW_FELL,
                basis=Basis.FORECAST,
                amount=sum(_depth_m(day) for day in days),
            )


def _falls(facts: Facts) -> list[list[date]]:
    """Unbroken runs of days on which more than a dusting falls."""
    return runs(sorted(day for day, weather in facts.garden.days.items() if _depth_m(weather) >= DUSTING_M))


def _depth_m(day: DayWeather) -> float:
    return day.snow_m or 0.0  # a day nobody told of ends a fall; `_snow_untold` speaks where nobody tells at all


def _is_wet(day: DayWeather) -> bool:
    return day.snow_c is not None and day.snow_c >= WET_SNOW_C and _depth_m(day) >= DUSTING_M


def _day_it_is_deep(fall: list[date], days: list[DayWeather]) -> date | None:
    depth_m = 0.0
    for day, weather in zip(fall, days, strict=True):
        depth_m += _depth_m(weather)
        if depth_m >= DEEP_SNOW_M:
            return day
    return None


def _snow_untold(facts: Facts) -> Iterator[Window]:
    """Where no service tells of snow, and beyond the forecast: a reminder for each midwinter month."""
    told = any(day.snow_m is not None for date_, day in facts.garden.days.items() if date_ >= facts.garden.today)
    for first, last in facts.year.months(*SNOW_MONTHS) if facts.cover and facts.first_too_cold else ():
        reason = JobReason.SNOW_MAY_FALL if told else JobReason.SNOW_UNTOLD
        window = Window(from_day=first, by_day=last, reason=reason, basis=Basis.CALENDAR)
        yield from facts.beyond_forecast(window) if told and facts.is_now else [window]


RULES: Final = (
    TreeRule(
        kind=JobKind.SNOW,
        when=_snow,
        minutes=5,
        lead_days=1,
        cautions=(Caution.LADDER_WIND,),
        rests_days=1,
        source=SOURCE,
    ),
    TreeRule(
        kind=JobKind.SNOW,
        when=_snow_untold,
        minutes=5,
        lead_days=0,
        cautions=(Caution.LADDER_WIND,),
        rests_days=7,
        source=SOURCE,
    ),
)
