"""Winter water: dormant roots must not dry out, and need none where rain or snow has done it."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Final

from rules.jobs.facts import Facts
from rules.jobs.nouns import Basis, JobKind, JobReason, Window
from rules.jobs.rule import TreeRule

WATER_ABOVE_C: Final = 4.4  # 40 °F (Klett & Wilson 2008)
DRY_MM: Final = 25.0  # of rain and melted snow in DRY_DAYS; less is dry; assumed, no source
DRY_DAYS: Final = 30
DAYS_TOLD: Final = 25  # of them, from which on a dry month is known to be dry; assumed, no source
THAW_DAYS: Final = 3  # whose mean air stands for the topmost soil; assumed, no source
THAWED_C: Final = 0.0
SNOW_LIES_M: Final = 0.01  # fallen in these days; no water on snow (Klett & Wilson 2008)
WINTER_MONTHS: Final = (11, 12, 1, 2, 3)  # November to March (Klett & Wilson 2008)


def _water(facts: Facts) -> Iterator[Window]:
    """Once a month, on a mild day at noon, unless rain and snow have watered or soon will."""
    for first, last in facts.year.months(*WINTER_MONTHS):
        window = Window(from_day=first, by_day=last, reason=JobReason.MAY_BE_DRY, basis=Basis.CALENDAR)
        if facts.is_now and first <= facts.garden.today <= last:
            yield from _this_month(window, facts)
        else:
            yield window


def _this_month(month: Window, facts: Facts) -> Iterator[Window]:
    gone, ahead = _fallen_mm(facts, _days_gone(facts)), _fallen_mm(facts, _days_ahead(facts))
    if sum(gone) + sum(ahead) >= DRY_MM:
        return
    if len(gone) >= DAYS_TOLD:
        month = replace(month, reason=JobReason.DRY_WINTER, amount=sum(gone))
    else:
        month = replace(month, reason=JobReason.RAIN_UNTOLD)
    yield from _on_a_mild_day(month, facts)


def _days_gone(facts: Facts) -> list[date]:
    return [facts.garden.today - timedelta(days=ago) for ago in range(1, DRY_DAYS + 1)]


def _days_ahead(facts: Facts) -> list[date]:
    return sorted(day for day in facts.garden.days if day >= facts.garden.today)


def _fallen_mm(facts: Facts, days: Iterable[date]) -> list[float]:
    """What fell on each of these days that is told of [mm]."""
    told = [facts.garden.days[day].fallen_mm for day in days if day in facts.garden.days]
    return [fallen for fallen in told if fallen is not None]


def _on_a_mild_day(month: Window, facts: Facts) -> list[Window]:
    """The month from the first day ahead that is fit for it, else from where the forecast ends."""
    fit = (day for day in _days_ahead(facts) if day <= month.by_day and _is_fit(day, facts))
    mild = next(fit, None)
    return [replace(month, from_day=mild, basis=Basis.FORECAST)] if mild else facts.beyond_forecast(month)


def _is_fit(day: date, facts: Facts) -> bool:
    """Whether the air is warm, the ground thawed and free of new snow; what nobody told is left to the grower's eye."""
    if facts.garden.days[day].high_c <= WATER_ABOVE_C:
        return False
    before = [facts.garden.days.get(day - timedelta(days=ago)) for ago in range(THAW_DAYS)]
    means = [weather.mean_c for weather in before if weather and weather.mean_c is not None]
    snow_m = sum(weather.snow_m or 0.0 for weather in before if weather)
    is_thawed = not means or sum(means) / len(means) > THAWED_C
    return is_thawed and snow_m < SNOW_LIES_M


RULES: Final = (
    TreeRule(
        kind=JobKind.WATER,
        when=_water,
        minutes=10,
        lead_days=2,
        rests_days=28,
        source="monthly from November to March with air and soil above 4.4 °C and no snow, at midday (Klett & Wilson "
        "2008, Colorado State University Extension); dry winters worsen injury (Kamas, Nesbitt & Stein 2013); how dry "
        "a month must be is assumed",
    ),
)
