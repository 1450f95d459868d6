"""The covers themselves: what the plan asks for, and beyond its forecast what past winters lead one to expect."""

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import Final

from rules.garden.records import DeedKind
from rules.garden.tree import Phase
from rules.jobs.cover_days import STRIP_WITHIN, goes_on, stripped_on
from rules.jobs.facts import Facts
from rules.jobs.nouns import Basis, Caution, JobKind, JobReason, Window
from rules.jobs.rule import TreeRule
from rules.plan.garden_plan import Act, Reason

WARM: Final = (Reason.HOT, Reason.SOFTEN, Reason.BUDS)
SPRING: Final = (Phase.WAKING, Phase.GROWING)
FILM_WORK: Final = (Caution.LADDER_WIND,)
WRAPPING: Final = (
    Caution.BURIED_LINES,
    Caution.STAKE_ENDS,
    Caution.STRAW_DUST,
    Caution.NO_HEAT,
    Caution.LADDER_WIND,
    Caution.TWO_PEOPLE,
)


def kind_of(act: Act, phase: Phase | None) -> JobKind:
    """The job an act of the plan is.

    Closing in spring is for a late frost; opening against warmth is venting, opening to harden is not.
    """
    if act.kind is DeedKind.CLOSED:
        return JobKind.CLOSE_FOR_FROST if phase in SPRING else JobKind.CLOSE
    if act.kind is DeedKind.VENTED:
        return JobKind.VENT if act.reason in WARM else JobKind.OPEN
    return JobKind.WRAP if act.kind is DeedKind.WRAPPED else JobKind.STRIP


def _planned(kind: JobKind) -> Callable[[Facts], Iterator[Window]]:
    """The rule that passes on the plan's acts of one kind; a tree left bare on purpose never gets one."""

    def when(facts: Facts) -> Iterator[Window]:
        for act in facts.garden.acts if facts.cover and facts.is_now else ():
            if (
                act.tree == facts.tree.name
                and act.kind is not DeedKind.BLANKETED
                and kind_of(act, facts.one.phase) is kind
            ):
                yield _window(act, facts)

    return when


def _window(act: Act, facts: Facts) -> Window:
    zone = facts.garden.site.zone
    return Window(
        from_day=act.from_utc.astimezone(zone).date(),
        by_day=act.by_utc.astimezone(zone).date(),
        reason=JobReason.PLAN,
        basis=Basis.FORECAST,
        amount=act.chance,
        act=act,
    )


def _wrap(facts: Facts) -> Iterator[Window]:
    """What the plan asks; beyond the forecast, between the day one winter in ten and half of them have grown cold."""
    planned = list(_planned(JobKind.WRAP)(facts))
    yield from planned
    turn = facts.first_too_cold
    if not planned and turn and facts.waits_for_cover:
        season = Window(from_day=turn.safe, by_day=turn.half, reason=JobReason.COLD_DUE, basis=turn.basis)
        yield from facts.beyond_forecast(season)


def _fill(facts: Facts) -> Iterator[Window]:
    """Loose straw and leaves sink within weeks and leave the tips bare: top them up once."""
    if not facts.has_loose_fill:
        return
    wrapped, stripped = facts.done_on(DeedKind.WRAPPED), facts.done_on(DeedKind.STRIPPED)
    if wrapped and stripped and stripped >= wrapped:
        return
    on = goes_on(facts)
    if on and not _soon_stripped(on.day, facts):
        first, last = on.day + timedelta(days=14), on.day + timedelta(days=28)
        yield Window(
            from_day=first, by_day=last, reason=JobReason.SETTLED, basis=on.basis, waits=on.basis is not Basis.RECORD
        )


def _soon_stripped(wrapped: date, facts: Facts) -> bool:
    """Whether the cover comes off before its fill has settled: put on against a late frost."""
    return facts.last_too_cold is not None and wrapped + timedelta(days=14) >= facts.last_too_cold.half


def _strip(facts: Facts) -> Iterator[Window]:
    """What the plan asks; beyond the forecast, between the day half of winters and nine in ten are through."""
    planned = list(_planned(JobKind.STRIP)(facts))
    yield from planned
    turn = facts.last_too_cold
    gone = facts.stays_bare or stripped_on(facts) is not None
    if not planned and turn and facts.cover and not gone and not _stays_off(facts, turn.half):
        season = Window(from_day=turn.half, by_day=_still_on(facts, turn.safe), reason=JobReason.RISK_FADES,
                        basis=turn.basis)  # fmt: skip
        yield from facts.beyond_forecast(season)


def _still_on(facts: Facts, by_day: date) -> date:
    """The last day; without a forecast there is no plan to ask for it, so it stays open as long as the cover is on."""
    blind = facts.is_covered and facts.garden.forecast_ends is None
    return max(by_day, facts.garden.today + STRIP_WITHIN) if blind else by_day


def _stays_off(facts: Facts, half: date) -> bool:
    """Whether it is spring already and the cover is known not to be on: there is nothing to strip."""
    late = facts.is_now and facts.garden.today >= half - timedelta(days=30)
    return late and not facts.is_covered and facts.one.state is not None


def _planned_rule(kind: JobKind, lead_days: int, source: str) -> TreeRule:
    return TreeRule(
        kind=kind,
        when=_planned(kind),
        minutes=0,
        lead_days=lead_days,
        cautions=FILM_WORK,
        rests_days=0,
        source=source,
    )


RULES: Final = (
    TreeRule(
        kind=JobKind.WRAP,
        when=_wrap,
        minutes=60,
        lead_days=4,
        cautions=WRAPPING,
        rests_days=0,
        shops=True,
        source="after the weather has turned cold and the leaves are off (Smith 2001, New Mexico State University "
        "extension column); how late, by the plan",
    ),
    TreeRule(
        kind=JobKind.FILL,
        when=_fill,
        minutes=15,
        lead_days=3,
        cautions=(Caution.STRAW_DUST, Caution.NO_HEAT, Caution.LADDER_WIND),
        source="common practice, no source; the top decides what a cover holds (heat balance)",
    ),
    _planned_rule(JobKind.CLOSE, 1, "the plan: chance of harm times what is saved is more than the trip"),
    _planned_rule(JobKind.OPEN, 1, "covering too early, too warm, too long also kills (Smith 2001)"),
    _planned_rule(
        JobKind.VENT,
        1,
        "warm inside, the tree may start to grow and suffer in the next cold spell (Smith 2001); "
        "no published venting temperature, 10 °C assumed",
    ),
    _planned_rule(
        JobKind.CLOSE_FOR_FROST, 2, "keep the cover at hand until the last frost: common practice, no source"
    ),
    TreeRule(
        kind=JobKind.STRIP,
        when=_strip,
        minutes=40,
        lead_days=4,
        cautions=(Caution.STRAW_DUST, Caution.LADDER_WIND, Caution.FIG_SAP, Caution.STAKE_ENDS),
        rests_days=0,
        source="take the cover off while it is still cold (Smith 2001), by the plan: when the risk left is worth less "
        "than the cover's harm; in steps, on a cloudy calm day, assumed",
    ),
)
