"""Wind, mice and snow: what a covered tree needs besides warmth."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Final

from rules.garden.materials import Blanket, Film
from rules.jobs.cover_days import before_wrap, while_on
from rules.jobs.facts import Facts
from rules.jobs.nouns import Basis, Caution, JobKind, JobReason, Window
from rules.jobs.rule import TreeRule
from rules.weather.local_days import DayWeather, runs

STRONG_GUST_M_S: Final = 13.9  # near gale, whole trees in motion: lower bound of Beaufort 7
WINTER_MONTHS: Final = (11, 12, 1, 2, 3)
DEEP_SNOW_M: Final = 0.05  # of one fall; assumed, no source
DUSTING_M: Final = 0.01  # less in a day ends a fall; assumed, no source
WET_SNOW_C: Final = -0.5  # snow that falls warmer is wet (Susong, Marks & Garen 1999)
SNOW_MONTHS: Final = (12, 1, 2)
MICE_MOVE_IN: Final = timedelta(days=14)  # before that there is nothing to see of them; assumed, no source
SNOW_SOURCE: Final = (
    "snow on a cover keeps it warmer (Provost & Campbell 2022); knocking it off tops is common practice, no source"
)
STRAPS_SOURCE: Final = "ask for it in daylight before the wind comes; gusts from Beaufort 7, assumed"


def _check_straps(facts: Facts) -> Iterator[Window]:
    """Straps and seams are looked at before the wind comes, in daylight, and once it has gone."""
    if not facts.is_covered or not _is_sail(facts):
        return
    for day, gust_m_s in _windy_spells(facts):
        before = Window(
            from_day=day - timedelta(days=2),
            by_day=day - timedelta(days=1),
            reason=JobReason.WIND_COMING,
            basis=Basis.FORECAST,
            amount=gust_m_s,
        )
        yield before
        after = day + timedelta(days=1)
        yield replace(before, from_day=after, by_day=after + timedelta(days=1), reason=JobReason.WIND_PAST)


def _is_sail(facts: Facts) -> bool:
    return facts.cover is not None and (facts.cover.film is not Film.NONE or facts.cover.blanket is not Blanket.NONE)


def _windy_spells(facts: Facts) -> Iterator[tuple[date, float]]:
    """The worst day of each run of days with strong gusts, and its gust [m/s]."""
    gusts = {day: weather.gust_m_s for day, weather in facts.garden.days.items() if weather.gust_m_s is not None}
    for run in runs(sorted(day for day, gust_m_s in gusts.items() if gust_m_s >= STRONG_GUST_M_S)):
        worst = max(run, key=lambda day: gusts[day])
        yield worst, gusts[worst]


def _straps_untold(facts: Facts) -> Iterator[Window]:
    """Where no service tells of wind: a look in each winter month while the cover is on."""
    today = facts.garden.today
    told = any(weather.gust_m_s is not None for day, weather in facts.garden.days.items() if day >= today)
    if told or not facts.is_covered or not _is_sail(facts):
        return
    for first, last in facts.year.months(*WINTER_MONTHS):
        yield Window(from_day=first, by_day=last, reason=JobReason.WIND_UNTOLD, basis=Basis.CALENDAR)


def _guard(facts: Facts) -> Iterator[Window]:
    """A guard round the trunk before the straw is: mice like straw and eat bark under it."""
    if facts.has_loose_fill and not facts.in_pot and (window := before_wrap(facts, JobReason.GUARD)):
        yield window


def _look_for_voles(facts: Facts) -> Iterator[Window]:
    """A look each month while the straw is on."""
    for first, last in facts.year.months(*WINTER_MONTHS) if facts.has_loose_fill and not facts.in_pot else ():
        month = Window(from_day=first, by_day=last, reason=JobReason.GNAWING, basis=Basis.CALENDAR)
        yield from while_on(month, facts, MICE_MOVE_IN)


def _snow(facts: Facts) -> Iterator[Window]:
    """As soon as a fall is deep, and till the day after it: off lids and crowns in leaf; off bare twigs where wet."""
    for fall in _falls(facts) if facts.is_now else ():
        days = [facts.garden.days[day] for day in fall]
        is_wet = any(_is_wet(day) for day in days)
        first = _day_it_is_deep(fall, days)
        if first is not None and (is_wet or facts.is_covered or facts.is_evergreen) and not _is_sheltered(facts):
            yield Window(
                from_day=first,
                by_day=fall[-1] + timedelta(days=1),
                reason=JobReason.WET_SNOW if is_wet else JobReason.SNOW_FELL,
                basis=Basis.FORECAST,
                amount=sum(_depth_m(day) for day in days),
            )


def _is_sheltered(facts: Facts) -> bool:
    """Whether snow does it no harm: under a roof or in a room none falls, and on a mound it only warms."""
    return facts.is_mound or (facts.is_covered and facts.cover is not None and facts.cover.is_shelter)


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
    reason = JobReason.SNOW_MAY_FALL if told else JobReason.SNOW_UNTOLD
    wanted = facts.cover and facts.first_too_cold and not _is_sheltered(facts)
    for first, last in facts.year.months(*SNOW_MONTHS) if wanted else ():
        month = Window(from_day=first, by_day=last, reason=reason, basis=Basis.CALENDAR)
        for window in while_on(month, facts):
            yield from facts.beyond_forecast(window) if told and facts.is_now else [window]


RULES: Final = (
    TreeRule(
        kind=JobKind.CHECK_STRAPS,
        when=_check_straps,
        minutes=5,
        lead_days=2,
        cautions=(Caution.LADDER_WIND,),
        rests_days=1,
        source=STRAPS_SOURCE,
    ),
    TreeRule(
        kind=JobKind.CHECK_STRAPS,
        when=_straps_untold,
        minutes=5,
        lead_days=0,
        cautions=(Caution.LADDER_WIND,),
        rests_days=28,
        source=STRAPS_SOURCE,
    ),
    TreeRule(
        kind=JobKind.LOOK_FOR_VOLES,
        when=_guard,
        minutes=10,
        lead_days=1,
        cautions=(Caution.STAKE_ENDS,),
        rests_days=28,
        source="6 mm mesh, 5-8 cm into the soil, fitted in November (University of Wisconsin Extension 2017); "
        "before straw hides the trunk: common practice",
    ),
    TreeRule(
        kind=JobKind.LOOK_FOR_VOLES,
        when=_look_for_voles,
        minutes=10,
        lead_days=3,
        cautions=(Caution.STAKE_ENDS, Caution.STRAW_DUST),
        rests_days=28,
        source="mice nest in straw and eat bark in winter: common practice; a monthly look is assumed",
    ),
    TreeRule(
        kind=JobKind.SNOW,
        when=_snow,
        minutes=5,
        lead_days=1,
        cautions=(Caution.LADDER_WIND,),
        rests_days=1,
        source=SNOW_SOURCE,
    ),
    TreeRule(
        kind=JobKind.SNOW,
        when=_snow_untold,
        minutes=5,
        lead_days=0,
        cautions=(Caution.LADDER_WIND,),
        rests_days=7,
        source=SNOW_SOURCE,
    ),
)
