"""Late summer to leaf fall: harden the wood, bring in the fruit, have all ready before the first cold night."""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from statistics import NormalDist
from typing import Final

from rules.garden.records import DeedKind, SightingKind
from rules.garden.tree import Phase
from rules.jobs.cover_days import FORTNIGHT, asked_day, before_wrap, cut_at_wrap
from rules.jobs.facts import Facts, GardenYear
from rules.jobs.nouns import Basis, Caution, JobKind, JobReason, Window
from rules.jobs.rule import GardenRule, TreeRule
from rules.jobs.year import TurnDates
from rules.wood.injury import Z_TEN_PERCENT
from rules.wood.margins import Night
from rules.wood.ripening import KILLING_FREEZE_C

PICK_CHANCE: Final = 0.3  # of a killing freeze that night; fruit left out is lost, a trip is little: assumed
ROOTED_FROM_CUTTINGS: Final = ("fig", "pomegranate", "grape")  # bare dormant wood roots; common practice, no source
LATE_DAYS: Final = 45  # after the middle date nobody has fruit out any more; assumed, no source
MARKED_WITHIN: Final = timedelta(days=3)  # lines: two business days (utility guidance)
FRUIT_HANGS: Final = (Phase.GROWING, Phase.RIPENING)


def _taper(facts: Facts) -> Iterator[Window]:
    """Feed ends two months before the killing freeze, water is cut back in the month after."""
    if facts.first_freeze:
        yield facts.first_freeze.window(-60, -30, JobReason.SOFT_WOOD)


def _check_supplies(year: GardenYear) -> Iterator[Window]:
    """Look into the shed while shops still have straw."""
    trees = _to_be_covered(year)
    turns = [facts.first_freeze for facts in trees if facts.first_freeze]
    if turns:
        window = min(turns, key=lambda turn: turn.half).window(-45, -14, JobReason.BEFORE_THE_RUSH)
        yield _in_time_for_the_first(window, trees, timedelta(days=1))


def _locate_lines(year: GardenYear) -> Iterator[Window]:
    """Lines are marked before the first stake is driven, while there is time to wait for the marks."""
    staked = _to_be_staked(year)
    turns = [facts.first_freeze for facts in staked if facts.first_freeze]
    if turns:
        window = min(turns, key=lambda turn: turn.half).window(-35, -7, JobReason.STAKES, float(len(staked)))
        yield _in_time_for_the_first(window, staked, MARKED_WITHIN)


def _in_time_for_the_first(window: Window, trees: Sequence[Facts], ahead: timedelta) -> Window:
    """A window for the whole garden that ends in time before the first wrap the plan asks for."""
    return min((cut_at_wrap(window, facts, ahead) for facts in trees), key=lambda one: one.by_day)


def _to_be_covered(year: GardenYear) -> list[Facts]:
    return [facts for facts in year.trees if facts.waits_for_cover]


def _to_be_staked(year: GardenYear) -> list[Facts]:
    return [facts for facts in _to_be_covered(year) if facts.takes_stakes]


def _count_fruit(facts: Facts) -> Iterator[Window]:
    """What ripened before the freeze says whether saving the wood was worth it."""
    if facts.first_freeze and not _hides_fruit(facts):
        yield cut_at_wrap(facts.first_freeze.window(-28, -1, JobReason.CROP_ENDS), facts)


def _last_pick(facts: Facts) -> Iterator[Window]:
    """All ripe and nearly ripe fruit comes in before the killing freeze: by the forecast, beyond it by past winters.

    Before that where the plan asks for its cover: wrapped, nobody reaches it.
    """
    turn = facts.first_freeze
    if turn is None or _hides_fruit(facts):
        return
    if facts.is_now and facts.garden.today >= turn.safe and _is_bare_of_fruit(facts):
        return
    if window := _before_it_is_hidden(facts, turn):
        yield window
        return
    season = Window(from_day=turn.safe, by_day=turn.half, reason=JobReason.FREEZE_DUE, basis=turn.basis)
    night = _first_killing_night(facts, turn)
    if night is None:
        yield from facts.beyond_forecast(season)
        return
    yield Window(
        from_day=max(facts.garden.today, night.evening - timedelta(days=2)),
        by_day=night.evening,
        reason=JobReason.KILLING_FREEZE,
        basis=Basis.FORECAST,
        amount=_chance_of_killing(night),
    )


def _before_it_is_hidden(facts: Facts, turn: TurnDates) -> Window | None:
    """The last days to pick where the cover is asked for before a killing night is in sight."""
    asked, night = asked_day(facts, DeedKind.WRAPPED), _first_killing_night(facts, turn)
    if asked is None or not facts.waits_for_cover or (night is not None and night.evening <= asked):
        return None
    if facts.cover is None or facts.cover.is_shelter or asked > turn.half + timedelta(days=LATE_DAYS):
        return None
    return before_wrap(facts, JobReason.OUT_OF_REACH)


def _hides_fruit(facts: Facts) -> bool:
    """Whether the cover is on, and is none one walks into."""
    return facts.is_covered and facts.cover is not None and not facts.cover.is_shelter


def _is_bare_of_fruit(facts: Facts) -> bool:
    leafless = facts.seen_on(SightingKind.LEAVES_DROPPED) or facts.seen_on(SightingKind.LEAVES_FROZEN_GREEN)
    return leafless is not None or (facts.one.phase is not None and facts.one.phase not in FRUIT_HANGS)


def _first_killing_night(facts: Facts, turn: TurnDates) -> Night | None:
    first, last = turn.safe - timedelta(days=30), turn.half + timedelta(days=LATE_DAYS)
    nights = [night for night in facts.one.nights if first <= night.evening <= last] if facts.is_now else []
    return next((night for night in nights if _chance_of_killing(night) >= PICK_CHANCE), None)


def _chance_of_killing(night: Night) -> float:
    sd = max((night.air_high_c - night.air_low_c) / (2 * Z_TEN_PERCENT), 0.1)
    return NormalDist(night.air_c, sd).cdf(KILLING_FREEZE_C)


def _take_cuttings(facts: Facts) -> Iterator[Window]:
    """A few pencils of dormant wood, before the cold can kill it, are a new tree if the old one dies."""
    if facts.species not in ROOTED_FROM_CUTTINGS or facts.is_covered:  # nobody opens a cover for them
        return
    window, wrap = _between_leaf_fall_and_cold(facts), asked_day(facts, DeedKind.WRAPPED)
    if window and (wrap is None or wrap >= window.from_day):  # in leaf none are taken; prunings will do
        yield cut_at_wrap(window, facts)


def _tie_branches(facts: Facts) -> Iterator[Window]:
    """Branches are drawn together before the cover goes on, while they still bend."""
    if facts.cover and not facts.cover.is_shelter:
        width, leafless = facts.cover.inner_diameter_m, facts.seen_on(SightingKind.LEAVES_DROPPED)
        if window := before_wrap(facts, JobReason.FIT_THE_CAGE, width, leafless):
            yield window


def _prune_to_fit(facts: Facts) -> Iterator[Window]:
    """Only what does not go into the cage is cut, and only from a leafless tree: each cut is wood not saved."""
    yield from _tie_branches(facts)


def _between_leaf_fall_and_cold(facts: Facts) -> Window | None:
    """From leaf fall, seen or two weeks after the killing freeze, until nights grow too cold; a fortnight at least.

    Where the cold comes before the leaves are off, the fortnight before that.
    """
    if facts.first_freeze is None:
        return None
    seen, cold = facts.seen_on(SightingKind.LEAVES_DROPPED), facts.first_too_cold
    first = seen or facts.first_freeze.half + FORTNIGHT
    last = cold.half - timedelta(days=1) if cold else first + FORTNIGHT
    if seen:
        last = max(last, seen + FORTNIGHT)
    basis = Basis.RECORD if seen else facts.first_freeze.basis
    return Window(from_day=min(first, last - FORTNIGHT), by_day=last, reason=JobReason.INSURANCE, basis=basis)


RULES: Final = (
    TreeRule(
        kind=JobKind.TAPER,
        when=_taper,
        minutes=5,
        lead_days=7,
        source="cut irrigation in September so that the wood hardens: common practice (New Mexico); dates assumed",
    ),
    GardenRule(
        kind=JobKind.CHECK_SUPPLIES,
        when=_check_supplies,
        trees=_to_be_covered,
        minutes=30,
        lead_days=14,
        cautions=(Caution.HERBICIDE, Caution.STRAW_DUST, Caution.DAMP_STRAW),
        shops=True,
        source="common practice, no source; ask what was sprayed: North Carolina State Extension, Herbicide Carryover",
    ),
    GardenRule(
        kind=JobKind.LOCATE_LINES,
        when=_locate_lines,
        trees=_to_be_staked,
        minutes=15,
        lead_days=10,
        cautions=(Caution.BURIED_LINES, Caution.STAKE_ENDS),
        source="call at least two business days ahead, for small jobs too (utility guidance); dates assumed",
    ),
    TreeRule(
        kind=JobKind.COUNT_FRUIT,
        when=_count_fruit,
        minutes=5,
        lead_days=3,
        for_bare=True,
        source="assumed, no source: the crop is what the wood is saved for",
    ),
    TreeRule(
        kind=JobKind.LAST_PICK,
        when=_last_pick,
        minutes=20,
        lead_days=4,
        cautions=(Caution.FIG_SAP, Caution.LADDER_WIND),
        rests_days=5,
        source="killing freeze -2.2 °C (28 °F), customary, from memory",
    ),
    TreeRule(
        kind=JobKind.TAKE_CUTTINGS,
        when=_take_cuttings,
        minutes=15,
        lead_days=7,
        cautions=(Caution.FIG_SAP,),
        source="common practice, no source",
    ),
    TreeRule(
        kind=JobKind.TIE_BRANCHES,
        when=_tie_branches,
        minutes=20,
        lead_days=1,
        cautions=(Caution.FIG_SAP, Caution.TWO_PEOPLE),
        source="common practice, no source",
    ),
    TreeRule(
        kind=JobKind.PRUNE_TO_FIT,
        when=_prune_to_fit,
        minutes=15,
        lead_days=1,
        cautions=(Caution.FIG_SAP, Caution.LADDER_WIND),
        source="prune when dormant, for the sap (Cureus 2024, 16:e54286: burns after July pruning); else no source",
    ),
)
