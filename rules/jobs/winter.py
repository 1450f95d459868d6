"""Wind, snow, drought and mice: what a covered tree needs besides warmth."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Final

from rules.cover import Blanket, Film
from rules.jobs.facts import Facts
from rules.jobs.nouns import Basis, Caution, JobKind, JobReason, Window
from rules.jobs.rule import TreeRule

STRONG_GUST_M_S: Final = 13.9  # near gale, whole trees in motion: lower bound of Beaufort 7
DEEP_SNOW_M: Final = 0.05  # assumed, no source
WATER_ABOVE_C: Final = 4.4  # 40 °F, of air and soil (Klett & Wilson 2008)
DRY_RAIN_MM: Final = 25.0  # in the last RAIN_DAYS; less is dry; assumed, no source
RAIN_DAYS: Final = 30
WINTER_MONTHS: Final = (11, 12, 1, 2, 3)  # November to March (Klett & Wilson 2008)
SNOW_MONTHS: Final = (12, 1, 2)


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
    """The worst day of each run of days with strong gusts."""
    days = facts.garden.days
    windy = sorted(day for day, weather in days.items() if weather.gust_m_s >= STRONG_GUST_M_S)
    run: list[date] = []
    for day in windy:
        if run and (day - run[-1]).days > 1:
            yield _worst(run, facts)
            run = []
        run.append(day)
    if run:
        yield _worst(run, facts)


def _worst(run: list[date], facts: Facts) -> tuple[date, float]:
    worst = max(run, key=lambda day: facts.garden.days[day].gust_m_s)
    return worst, facts.garden.days[worst].gust_m_s


def _snow(facts: Facts) -> Iterator[Window]:
    """New snow is swept off the lid before it presses, and left or heaped round the foot, where it keeps warm."""
    if not facts.is_covered:
        return
    for day, weather in sorted(facts.garden.days.items()):
        if weather.snow_m is not None and weather.snow_m >= DEEP_SNOW_M:
            yield Window(
                from_day=day,
                by_day=day + timedelta(days=1),
                reason=JobReason.SNOW_FELL,
                basis=Basis.FORECAST,
                amount=weather.snow_m,
            )


def _snow_untold(facts: Facts) -> Iterator[Window]:
    """Where no service tells of snow, and beyond the forecast: a reminder for each midwinter month."""
    told = facts.is_now and any(weather.snow_m is not None for weather in facts.garden.days.values())
    for first, last in facts.year.months(*SNOW_MONTHS) if facts.cover and facts.first_too_cold else ():
        window = Window(from_day=first, by_day=last, reason=JobReason.SNOW_MAY_FALL, basis=Basis.CALENDAR)
        yield from facts.beyond_forecast(window) if told else [window]


def _water(facts: Facts) -> Iterator[Window]:
    """Dormant roots must not dry out: once a month when no rain came, on a mild day, at noon."""
    rain_mm = _rain_mm(facts)
    for first, last in facts.year.months(*WINTER_MONTHS):
        this_month = facts.is_now and first <= facts.garden.today <= last
        if this_month and rain_mm is not None and rain_mm >= DRY_RAIN_MM:
            continue
        window = Window(
            from_day=first,
            by_day=last,
            reason=JobReason.DRY_WINTER,
            basis=Basis.CALENDAR,
            amount=rain_mm if this_month else None,
        )
        yield from _on_a_mild_day(window, facts) if this_month else [window]


def _rain_mm(facts: Facts) -> float | None:
    """Rain of the last thirty days [mm]; None unless every one of them is told."""
    days = [facts.garden.today - timedelta(days=ago) for ago in range(1, RAIN_DAYS + 1)]
    told = [facts.garden.days[day].rain_mm for day in days if day in facts.garden.days]
    known = [rain for rain in told if rain is not None]
    return sum(known) if len(known) == RAIN_DAYS else None


def _on_a_mild_day(window: Window, facts: Facts) -> list[Window]:
    """The window from the first day ahead that is mild enough, else from where the forecast ends."""
    coming = sorted((d, w) for d, w in facts.garden.days.items() if facts.garden.today <= d <= window.by_day)
    mild = next((day for day, weather in coming if weather.high_c > WATER_ABOVE_C), None)
    if mild is not None:
        return [replace(window, from_day=mild, basis=Basis.FORECAST)]
    return facts.beyond_forecast(window)


def _look_for_voles(facts: Facts) -> Iterator[Window]:
    """A guard before the ground freezes, then a look each month: mice like straw and eat bark under it."""
    if not facts.has_loose_fill or facts.in_pot:
        return
    for place, (first, last) in enumerate(facts.year.months(*WINTER_MONTHS)):
        reason = JobReason.GNAWING if place else JobReason.GUARD
        yield Window(from_day=first, by_day=last, reason=reason, basis=Basis.CALENDAR)


RULES: Final = (
    TreeRule(
        kind=JobKind.CHECK_STRAPS,
        when=_check_straps,
        minutes=5,
        lead_days=2,
        cautions=(Caution.LADDER_WIND,),
        rests_days=1,
        source="ask for it in daylight before the wind comes; gusts from Beaufort 7, assumed",
    ),
    TreeRule(
        kind=JobKind.SNOW,
        when=_snow,
        minutes=5,
        lead_days=1,
        cautions=(Caution.LADDER_WIND,),
        rests_days=1,
        source="snow on a cover keeps it warmer (Provost & Campbell 2022); sweeping lids is common practice, no source",
    ),
    TreeRule(
        kind=JobKind.SNOW,
        when=_snow_untold,
        minutes=5,
        lead_days=0,
        cautions=(Caution.LADDER_WIND,),
        rests_days=28,
        source="snow on a cover keeps it warmer (Provost & Campbell 2022); sweeping lids is common practice, no source",
    ),
    TreeRule(
        kind=JobKind.WATER,
        when=_water,
        minutes=10,
        lead_days=2,
        rests_days=28,
        source="monthly from November to March with air and soil above 4.4 °C and no snow, at midday (Klett & Wilson "
        "2008, Colorado State University Extension); dry winters worsen injury (Kamas, Nesbitt & Stein 2013)",
    ),
    TreeRule(
        kind=JobKind.LOOK_FOR_VOLES,
        when=_look_for_voles,
        minutes=10,
        lead_days=3,
        cautions=(Caution.STAKE_ENDS, Caution.STRAW_DUST),
        rests_days=28,
        source="6 mm mesh, 5-8 cm into the soil, fitted in November (University of Wisconsin Extension 2017); "
        "a monthly look is assumed",
    ),
)
