"""What comes before, under and after a cover: asked for with the wrap that comes, be it early, late or never.

Where no past winters are known half of them are held to be too cold for half-hard wood by 15 November.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Final

import pytest

from rules.garden.cover import CoverState, Preset
from rules.garden.records import Deed, DeedKind, Records, Sighting, SightingKind
from rules.garden.tree import Phase
from rules.jobs import Basis, GardenFacts, Job, JobKind, JobReason, TreeFacts, jobs_due, jobs_to_announce
from rules.plan.garden_plan import Act, Reason
from tests.rules.jobs.test_jobs import CAGE, FIG, KAKI, act, garden, night, noon, of, trees, whole_year, wrapped

AHEAD: Final = 9  # nights a forecast tells
BEFORE: Final = {JobKind.TIE_BRANCHES, JobKind.PRUNE_TO_FIT}
PREPARED: Final = BEFORE | {JobKind.CHECK_SUPPLIES, JobKind.LOCATE_LINES, JobKind.TAKE_CUTTINGS}
AFTER: Final = {JobKind.DRY_AND_STORE, JobKind.MULCH}
HIDDEN: Final = {JobKind.SCRATCH_TEST, JobKind.MEASURE_DIEBACK}
NOTHING_DONE: Final = Records()
WINTER: Final = [date(2026, 9, 15) + timedelta(days=i) for i in range(270)]


def fig(
    today: date, state: CoverState = CoverState.BARE, phase: Phase = Phase.HARDENING, air_c: float = 4.0
) -> TreeFacts:
    nights = [night(today + timedelta(days=i), air_c) for i in range(AHEAD)]
    return TreeFacts(tree=FIG, cover=CAGE, state=state, phase=phase, nights=nights)


def seen(
    today: date, acts: Sequence[Act] = (), phase: Phase = Phase.HARDENING, records: Records = NOTHING_DONE
) -> GardenFacts:
    """A bare fig under a mild forecast, with what the plan asks for."""
    return garden(today, trees=[fig(today, phase=phase)], acts=acts, records=records)


def covered(today: date, on: date, phase: Phase = Phase.RESTING, acts: Sequence[Act] = ()) -> GardenFacts:
    return garden(today, trees=[fig(today, CoverState.CLOSED, phase)], records=wrapped(on, "Porch fig"), acts=acts)


def told(facts: GardenFacts) -> set[JobKind]:
    return {job.kind for job in jobs_to_announce(facts)}


def is_guard(job: Job) -> bool:
    return job.kind is JobKind.LOOK_FOR_VOLES and job.reason is JobReason.GUARD


def guards(facts: GardenFacts) -> list[Job]:
    return [job for job in jobs_to_announce(facts) if is_guard(job)]


@pytest.mark.parametrize("on", [date(2026, 10, 1), date(2026, 11, 15), date(2026, 12, 20)])
def test_what_precedes_a_wrap_is_asked_for_in_the_days_before_it_be_it_early_or_late(on: date) -> None:
    for ahead in range(12, -1, -1):
        today = on - timedelta(days=ahead)
        asks = [act(DeedKind.WRAPPED, on)] if ahead < AHEAD else []
        facts = seen(today, asks)
        is_near = ahead <= 4
        assert (told(facts) >= BEFORE, bool(guards(facts))) == (is_near, is_near)
        asked = [job for job in jobs_to_announce(facts) if job.kind in BEFORE or is_guard(job)]
        assert all((job.by_day, job.basis) == (on, Basis.FORECAST) for job in asked)
    after = covered(on, on)
    assert not told(after) & BEFORE
    assert not guards(after)


def test_who_is_asked_to_wrap_this_evening_ties_in_and_puts_the_mesh_in_today() -> None:
    today = date(2026, 10, 20)
    facts = seen(today, [act(DeedKind.WRAPPED, today)])
    asked = [job for job in jobs_due(facts, today, today) if job.kind in BEFORE or is_guard(job)]
    assert {job.kind for job in asked} == BEFORE | {JobKind.LOOK_FOR_VOLES}
    assert {(job.from_day, job.by_day) for job in asked} == {(today, today)}


def test_of_a_garden_never_wrapped_nothing_is_asked_that_only_a_cover_needs() -> None:
    """The plan asks for no wrap all winter long; a mild one, or a tree hardier than was thought."""
    heard = [job for today in WINTER for job in jobs_to_announce(seen(today))]
    kinds = {job.kind for job in heard}
    assert not kinds & (BEFORE | AFTER | {JobKind.FILL, JobKind.LOOK_FOR_VOLES, JobKind.CHECK_STRAPS, JobKind.STRIP})
    assert {JobKind.WATER, JobKind.SCRATCH_TEST, JobKind.TAKE_CUTTINGS} <= kinds  # bare trees want these all the same


def test_without_a_forecast_past_winters_lead_to_the_wrap_and_what_precedes_it() -> None:
    (tie,) = of(jobs_due(garden(date(2026, 11, 5), trees=[replace(fig(date(2026, 11, 5)), nights=())]),
                         date(2026, 11, 5), date(2026, 11, 30)), JobKind.TIE_BRANCHES)  # fmt: skip
    assert (tie.by_day, tie.basis) == (date(2026, 11, 14), Basis.CALENDAR)


def test_while_a_forecast_asks_for_no_wrap_its_preparations_wait_beyond_it() -> None:
    today = date(2026, 11, 1)
    (tie,) = of(jobs_due(seen(today), today, date(2026, 11, 30)), JobKind.TIE_BRANCHES)
    assert tie.from_day == today + timedelta(days=AHEAD)
    late = date(2026, 11, 12)  # the middle of winters lies within the forecast, and it is not cold
    assert not of(jobs_due(seen(late), late, date(2027, 3, 1)), JobKind.TIE_BRANCHES)


def test_leaves_that_fell_do_not_bring_the_ties_weeks_before_a_wrap_nobody_asks_for() -> None:
    today = date(2026, 10, 25)
    fell = Sighting(tree="Porch fig", sight=SightingKind.LEAVES_DROPPED, at_utc=noon(date(2026, 10, 24)))
    facts = seen(today, records=Records(sightings=[fell]))
    assert not told(facts) & BEFORE
    assert JobKind.TAKE_CUTTINGS in told(facts)  # dormant wood roots, and is best cut before the cold


def test_a_neighbour_that_is_wrapped_now_brings_no_tie_weeks_before_its_own_wrap() -> None:
    today, on = date(2026, 10, 30), date(2026, 11, 1)
    kaki = replace(fig(today), tree=KAKI)
    facts = garden(today, trees=[fig(today), kaki], acts=[act(DeedKind.WRAPPED, on)])
    assert {job.trees for job in jobs_to_announce(facts) if job.kind in BEFORE} == {("Porch fig",)}


def test_straw_and_lines_are_seen_to_before_an_early_wrap() -> None:
    today, on = date(2026, 9, 12), date(2026, 9, 18)
    facts = seen(today, [act(DeedKind.WRAPPED, on)])
    (supplies,) = of(jobs_due(facts, today, on), JobKind.CHECK_SUPPLIES)
    (lines,) = of(jobs_due(facts, today, on), JobKind.LOCATE_LINES)
    assert supplies.by_day == on - timedelta(days=1)
    assert lines.by_day == on - timedelta(days=3)  # two business days


def test_fruit_is_picked_before_the_cover_hides_it_and_not_asked_for_under_it() -> None:
    today, on = date(2026, 10, 2), date(2026, 10, 4)
    ripe = seen(today, [act(DeedKind.WRAPPED, on)], Phase.RIPENING)
    (pick,) = of(jobs_due(ripe, today, on), JobKind.LAST_PICK)
    assert (pick.by_day, pick.reason) == (on, JobReason.OUT_OF_REACH)
    frost = [night(today + timedelta(days=i), -5.0 if i == 3 else 4.0) for i in range(AHEAD)]
    shut = replace(fig(today, CoverState.VENTED, Phase.RIPENING), nights=frost)
    under = garden(today, trees=[shut], records=wrapped(date(2026, 10, 1), "Porch fig"))
    assert not {job.kind for job in jobs_due(under, today, on)} & {JobKind.LAST_PICK, JobKind.COUNT_FRUIT}
    garage = replace(shut, cover=CAGE.model_copy(update={"preset": Preset.GARAGE}))
    within = garden(today, trees=[garage], records=wrapped(date(2026, 10, 1), "Porch fig"))
    assert of(jobs_due(within, today, on), JobKind.LAST_PICK)  # one walks in


@pytest.mark.parametrize(("on", "last"), [(date(2026, 10, 22), None), (date(2026, 11, 2), date(2026, 11, 2))])
def test_cuttings_of_leafless_wood_are_cut_by_the_day_the_cover_goes_on(on: date, last: date | None) -> None:
    """Half of years freeze by 15 October, and a fortnight later the leaves are down; wrapped in leaf none are cut."""
    today = on - timedelta(days=2)
    found = of(jobs_due(seen(today, [act(DeedKind.WRAPPED, on)]), today, date(2026, 11, 30)), JobKind.TAKE_CUTTINGS)
    assert [cut.by_day for cut in found] == ([last] if last else [])


@pytest.mark.parametrize("on", [date(2026, 10, 1), date(2026, 12, 20)])
def test_mice_are_looked_for_from_a_fortnight_after_the_straw_went_on(on: date) -> None:
    days = [job.from_day for today in WINTER if today > on for job in jobs_due(covered(today, on), today, today)
            if job.kind is JobKind.LOOK_FOR_VOLES]  # fmt: skip
    assert min(days) == max(on + timedelta(days=14), date(2026, 11, 1))
    assert max(days) <= date(2027, 3, 31)


def test_the_fill_is_topped_up_a_fortnight_after_the_real_wrap_and_told_only_once_it_is_on() -> None:
    on = date(2026, 12, 20)
    (fill,) = of(jobs_due(covered(on, on), on, date(2027, 2, 1)), JobKind.FILL)
    assert fill.from_day == date(2027, 1, 3)
    asked = seen(date(2026, 12, 18), [act(DeedKind.WRAPPED, on)])
    (listed,) = of(jobs_due(asked, on, date(2027, 2, 1)), JobKind.FILL)
    assert listed.from_day == date(2027, 1, 3)
    assert listed.waits


def test_what_follows_the_strip_is_not_asked_while_the_cover_is_on_though_a_neighbour_s_is_off() -> None:
    off = Deed(tree="Kaki", kind=DeedKind.STRIPPED, state=CoverState.BARE, at_utc=noon(date(2027, 4, 9)))
    records = Records(deeds=[*wrapped(date(2026, 11, 20), "Porch fig", "Kaki").deeds, off])
    heard: list[Job] = []
    for today in [date(2027, 4, 10) + timedelta(days=i) for i in range(60)]:
        bare = replace(fig(today, phase=Phase.WAKING), tree=KAKI)
        facts = garden(today, trees=[fig(today, CoverState.CLOSED, Phase.WAKING), bare], records=records)
        heard += [job for job in jobs_to_announce(facts) if job.kind in AFTER | HIDDEN]
    assert {job.kind for job in heard} == AFTER | HIDDEN
    assert {job.trees for job in heard} == {("Kaki",)}


def test_a_strip_asked_for_brings_what_follows_it_the_day_after() -> None:
    today, off = date(2027, 4, 20), date(2027, 4, 22)
    facts = covered(today, date(2026, 11, 20), Phase.WAKING, [act(DeedKind.STRIPPED, off, Reason.BUDS)])
    (scratch,) = of(jobs_due(facts, today, date(2027, 6, 1)), JobKind.SCRATCH_TEST)
    assert scratch.from_day == date(2027, 5, 1)  # the last freeze of half of years; it comes later than the strip
    (dry,) = of(jobs_due(facts, today, date(2027, 6, 1)), JobKind.DRY_AND_STORE)
    assert dry.from_day > off
    assert not told(facts) & (AFTER | HIDDEN)


def test_without_a_forecast_nothing_is_put_away_of_a_tree_that_was_never_wrapped() -> None:
    today = date(2027, 4, 26)
    never = garden(today, trees=trees(CoverState.BARE, Phase.WAKING))
    assert not told(never) & AFTER
    on = garden(today, records=wrapped(date(2026, 11, 20)), trees=trees(CoverState.CLOSED, Phase.WAKING))
    assert not told(on) & (AFTER | HIDDEN)


def test_bark_is_scratched_of_a_dead_tree_though_its_cover_stays() -> None:
    """Nothing is asked for the cover of a tree that is held dead; the look is what tells."""
    today = date(2027, 5, 3)
    one = replace(fig(today, CoverState.CLOSED, Phase.WAKING), bark_shows=date(2027, 5, 1))
    facts = garden(today, trees=[one], records=wrapped(date(2026, 11, 20), "Porch fig"))
    assert [job.reason for job in of(jobs_to_announce(facts), JobKind.SCRATCH_TEST)] == [JobReason.HELD_DEAD]


COVER_ONLY: Final = PREPARED - {JobKind.TAKE_CUTTINGS} | AFTER | {
    JobKind.WRAP, JobKind.FILL, JobKind.STRIP, JobKind.LOOK_FOR_VOLES,
}  # fmt: skip


def kinds_of_the_year(facts: GardenFacts, tree: str) -> set[JobKind]:
    return {job.kind for job in whole_year(facts) if tree in job.trees}


def test_nothing_is_got_ready_for_a_cover_that_never_pays_but_for_who_wraps_it_all_the_same() -> None:
    """An olive in a winter that kills it covered or bare: no stakes, no straw, no lines marked. Its grower wrapped it
    last winter, or the plan asks for it for once: then all is due as for any other."""
    autumn = date(2026, 9, 24)
    other, olive = fig(autumn), replace(fig(autumn), tree=KAKI)
    never = replace(olive, uncovered=True)

    def due(one: TreeFacts, records: Records = NOTHING_DONE, acts: Sequence[Act] = ()) -> set[JobKind]:
        facts = garden(autumn, trees=[other, one], records=records, acts=acts)
        return kinds_of_the_year(facts, "Kaki") & COVER_ONLY

    wanted = due(olive)
    assert {JobKind.CHECK_SUPPLIES, JobKind.LOCATE_LINES, JobKind.WRAP, JobKind.FILL} <= wanted
    assert due(never) == set()
    assert due(never, records=wrapped(date(2025, 11, 20), "Kaki")) == wanted
    assert JobKind.WRAP in due(olive, acts=[act(DeedKind.WRAPPED, autumn + timedelta(days=3), tree="Kaki")])
    assert kinds_of_the_year(garden(autumn, trees=[other, never]), "Kaki") >= {JobKind.LAST_PICK, JobKind.WATER}
