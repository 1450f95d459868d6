"""When this year's cover goes on and comes off, and what of the year's jobs comes before, under and after it.

What was done stands; what the plan asks for within its forecast comes before what past winters lead one to expect; and
a cover the plan has not asked for goes on beyond the forecast, if ever. Weeks before it nothing is prepared.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

from rules.garden.records import DeedKind
from rules.jobs.facts import Facts
from rules.jobs.nouns import Basis, JobReason, Window

FORTNIGHT: Final = timedelta(days=14)  # for a job of minutes before a wrap that past winters lead to expect; assumed
PREPARED_WITHIN: Final = timedelta(days=3)  # of the wrap the plan asks for: in one visit or the one before it; assumed
STRIP_WITHIN: Final = timedelta(days=7)  # of a cover still on when the risk has gone by; assumed, no source


@dataclass(frozen=True, kw_only=True)
class CoverDay:
    """The day a cover goes on, and what that rests on."""

    day: date
    basis: Basis


def asked_day(facts: Facts, kind: DeedKind) -> date | None:
    """The day by which the plan asks for such a deed at this tree; None where it does not."""
    zone = facts.garden.site.zone
    days = [
        act.by_utc.astimezone(zone).date()
        for act in (facts.garden.acts if facts.cover and facts.is_now else ())
        if act.tree == facts.tree.name and act.kind is kind
    ]
    return min(days, default=None)


def goes_on(facts: Facts) -> CoverDay | None:
    """When the cover goes, or went, on in this year; None where nobody knows, or never."""
    if wrapped := facts.done_on(DeedKind.WRAPPED):
        return CoverDay(day=wrapped, basis=Basis.RECORD)
    if asked := asked_day(facts, DeedKind.WRAPPED):
        return CoverDay(day=asked, basis=Basis.FORECAST)
    turn = facts.first_too_cold
    if turn is None or facts.cover is None or facts.is_covered or facts.stays_bare:
        return None
    seen = facts.garden.forecast_ends or facts.garden.today - timedelta(days=1)
    return CoverDay(day=turn.half, basis=turn.basis) if not facts.is_now or turn.half > seen else None


def before_wrap(
    facts: Facts, reason: JobReason, amount: float | None = None, ready: date | None = None
) -> Window | None:
    """The days for what must be done before the cover is on: with the wrap that the plan asks for, or a fortnight
    before the one past winters lead to expect, from when it is `ready`, as far as no forecast reaches; None once on.
    """
    day = goes_on(facts) if facts.waits_for_cover else None
    if day is None:
        return None
    first = max(day.day - PREPARED_WITHIN, facts.garden.today)
    if day.basis is Basis.FORECAST:
        return Window(from_day=min(first, day.day), by_day=day.day, reason=reason, basis=day.basis, amount=amount)
    last = day.day - timedelta(days=1)
    begins = min(ready or last, last - FORTNIGHT)
    season = Window(from_day=begins, by_day=last, reason=reason, basis=day.basis, amount=amount)
    return next(iter(facts.beyond_forecast(season)), None)


def cut_at_wrap(window: Window, facts: Facts, ahead: timedelta = timedelta(0)) -> Window:
    """A window that ends in time before the wrap the plan asks for, where that comes sooner."""
    asked = asked_day(facts, DeedKind.WRAPPED) if facts.waits_for_cover else None
    if asked is None or asked - ahead >= window.by_day:
        return window
    last = max(asked - ahead, min(facts.garden.today, asked))
    return replace(window, from_day=min(window.from_day, last), by_day=last, basis=Basis.FORECAST)


def while_on(window: Window, facts: Facts, settled: timedelta = timedelta(0)) -> Iterator[Window]:
    """The part of a window in which the cover is on, and was for some days; one that is not on yet is waited for."""
    day = goes_on(facts)
    if stripped_on(facts) or (day is None and not facts.is_covered):
        return
    if facts.is_now and not facts.is_covered and (day is None or day.basis is Basis.RECORD):
        return  # it was on, and is off for now
    first = max(window.from_day, day.day + settled) if day else window.from_day
    if first <= window.by_day:
        yield replace(window, from_day=first, waits=facts.is_now and not facts.is_covered)


def once_off(window: Window, facts: Facts) -> Window:
    """A window of work that a cover hides: while it is on, from where the strip is asked for or no forecast reaches."""
    if not facts.is_covered:
        return window
    ends = asked_day(facts, DeedKind.STRIPPED) or facts.garden.forecast_ends or facts.garden.today + STRIP_WITHIN
    first = max(window.from_day, ends + timedelta(days=1))
    return replace(window, from_day=first, by_day=first + (window.by_day - window.from_day), waits=True)


def stripped_on(facts: Facts) -> date | None:
    """The day the cover came off for good this season: stripped after midwinter and not wrapped again."""
    stripped, wrapped = facts.done_on(DeedKind.STRIPPED), facts.done_on(DeedKind.WRAPPED)
    if stripped is None or stripped < facts.year.on(1, 15) or (wrapped and wrapped > stripped):
        return None
    return stripped
