"""Wind and mice: what a covered tree needs besides warmth."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Final

from rules.garden.cover import Blanket, Film
from rules.jobs.facts import Facts
from rules.jobs.nouns import Basis, Caution, JobKind, JobReason, Window
from rules.jobs.rule import TreeRule
from rules.weather.local_days import runs

STRONG_GUST_M_S: Final = 13.9  # near gale, whole trees in motion: lower bound of Beaufort 7
WINTER_MONTHS: Final = (11, 12, 1, 2, 3)
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
        when=_look_for_voles,
        minutes=10,
        lead_days=3,
        cautions=(Caution.STAKE_ENDS, Caution.STRAW_DUST),
        rests_days=28,
        source="6 mm mesh, 5-8 cm into the soil, fitted in November (University of Wisconsin Extension 2017); "
        "a monthly look is assumed",
    ),
)
