"""From the last hard night to midsummer: off with the covers, away with the straw, and what did the winter cost."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Final

from rules.jobs.cover_days import goes_on, once_off, stripped_on, while_on
from rules.jobs.facts import Facts, GardenYear
from rules.jobs.nouns import Basis, Caution, JobKind, JobReason, Window
from rules.jobs.rule import GardenRule, TreeRule


def _wake_early(facts: Facts) -> Iterator[Window]:
    """A cover kept on by night and open to the sun by day wakes its tree some weeks early, for an earlier crop."""
    if facts.last_too_cold and facts.cover:
        yield from while_on(facts.last_too_cold.window(-21, 0, JobReason.EARLIER_CROP), facts)


def _dry_and_store(facts: Facts) -> Iterator[Window]:
    """Film, blanket and lid are dried before they are folded; damp ones rot and damp straw heats."""
    if facts.cover is not None and not facts.cover.is_shelter:  # nobody folds up a garage
        yield from _after_stripping(facts, 10, JobReason.COVER_OFF)


def _mulch(facts: Facts) -> Iterator[Window]:
    """The straw becomes the tree's own mulch, a hand clear of the bark."""
    if facts.has_straw and not facts.in_pot:
        yield from _after_stripping(facts, 21, JobReason.STRAW_LEFT)


def _after_stripping(facts: Facts, days: int, reason: JobReason) -> Iterator[Window]:
    if facts.cover is None:
        return
    off, turn = stripped_on(facts), facts.last_too_cold
    if off:
        yield _from_day(off, days, reason, Basis.RECORD)
    elif turn and (facts.is_covered or goes_on(facts)):  # what was never wrapped leaves nothing to put away
        season = replace(once_off(_from_day(turn.safe, days, reason, turn.basis), facts), waits=True)
        yield from facts.beyond_forecast(season)


def _from_day(day: date, days: int, reason: JobReason, basis: Basis) -> Window:
    return Window(from_day=day + timedelta(days=1), by_day=day + timedelta(days=days), reason=reason, basis=basis)


def _scratch_test(facts: Facts) -> Iterator[Window]:
    """A thumbnail's scratch shows green where wood lives; wait for it before cutting anything away."""
    shows = facts.one.bark_shows
    if shows and facts.is_now:
        by_day = shows + timedelta(days=21)
        yield Window(from_day=shows, by_day=by_day, reason=JobReason.HELD_DEAD, basis=Basis.RECORD)
    if facts.last_freeze:
        yield once_off(facts.last_freeze.window(0, 21, JobReason.WHAT_LIVED), facts)


def _measure_dieback(facts: Facts) -> Iterator[Window]:
    """How much wood was lost, once buds have shown where it lives: what the thresholds learn from."""
    if facts.last_freeze:
        yield once_off(facts.last_freeze.window(21, 45, JobReason.HOW_MUCH_LIVED), facts)


def _review_winter(year: GardenYear) -> Iterator[Window]:
    """What was done, what it cost and what it saved, while it is remembered."""
    yield Window(from_day=year.year.on(6, 8), by_day=year.year.last, reason=JobReason.LESSONS, basis=Basis.CALENDAR)


def _all(year: GardenYear) -> list[Facts]:
    return year.trees


RULES: Final = (
    TreeRule(
        kind=JobKind.WAKE_EARLY,
        when=_wake_early,
        minutes=10,
        lead_days=7,
        cautions=(Caution.LATE_FROST, Caution.LADDER_WIND),
        on=False,  # it trades wood against an earlier crop: only for who asks for it
        source="assumed, no source; breba and main crop come earlier on old wood",
    ),
    TreeRule(
        kind=JobKind.DRY_AND_STORE,
        when=_dry_and_store,
        minutes=20,
        lead_days=3,
        cautions=(Caution.STRAW_DUST, Caution.DAMP_STRAW),
        source="mould grows from about 30 % moisture and 21 °C (farm text); else common practice, no source",
    ),
    TreeRule(
        kind=JobKind.MULCH,
        when=_mulch,
        minutes=20,
        lead_days=3,
        cautions=(Caution.HERBICIDE, Caution.STRAW_DUST),
        source="30-60 cm of mulch at the base (extension advice, North Carolina); never doubtful straw on beds "
        "(North Carolina State Extension, Herbicide Carryover)",
    ),
    TreeRule(
        kind=JobKind.SCRATCH_TEST,
        when=_scratch_test,
        minutes=5,
        lead_days=7,
        cautions=(Caution.FIG_SAP,),
        for_bare=True,
        source="common practice, no source",
    ),
    TreeRule(
        kind=JobKind.MEASURE_DIEBACK,
        when=_measure_dieback,
        minutes=10,
        lead_days=7,
        cautions=(Caution.FIG_SAP,),
        for_bare=True,
        source="assumed, no source: a few dozen outcomes refit what a class of trees can take",
    ),
    GardenRule(
        kind=JobKind.REVIEW_WINTER,
        when=_review_winter,
        trees=_all,
        minutes=20,
        lead_days=7,
        source="assumed, no source",
    ),
)
