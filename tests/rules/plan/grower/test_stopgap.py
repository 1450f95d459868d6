"""A blanket for a night: when the plan asks for it in place of a cover, and when not."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest

from rules.compiled.library import LIBRARY
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from rules.garden.tree import Phase, Standing
from rules.heat.stopgap import blanket_gains_c
from rules.heat.what_if import Stand
from rules.plan.garden_plan import Plan, plan
from rules.plan.garden_stakes import AtStake, at_stake
from rules.plan.grower.stopgap import BARE, STOPGAP, with_stopgaps
from rules.plan.prices import ASSUMED
from rules.plan.search import BEAM, _answers, _in_arrays, _short
from rules.plan.situation import TreeSituation
from rules.plan.slots import DayPart, Slot, marks_of, slots_ahead
from tests.rules.plan.plan_gardens import SITE, SOIL, bearing, days_of_air, forecast_of, heat_of, situation

NOW = datetime(2026, 10, 5, 15, tzinfo=UTC)
MILD = (6.0,) * 8
SAFE_C, HALF_C = -2.0, -4.5  # wood in leaf in early October


def in_leaf(
    lows_c: Sequence[float], *, standing: Standing = Standing.WALL, trees: int = 1, gust_m_s: float = 4.0
) -> tuple[list[TreeSituation], tuple[Slot, ...]]:
    """Bare trees in leaf, an hour's work to cover, under such nights from tonight on."""
    air_c = days_of_air([5.0, *lows_c], [13.0] * (1 + len(lows_c)))
    told = forecast_of(air_c, NOW, wind_m_s=1.5, gust_m_s=np.full(len(air_c), gust_m_s))
    wood = bearing(SAFE_C, HALF_C, 1.0, Phase.RIPENING)
    garden = [
        situation(told, NOW, name=f"fig {i}", state=CoverState.BARE, standing=standing, wood_hardiness=wood)
        for i in range(trees)
    ]
    times = slots_ahead([one.weather for one in garden], SITE, NOW)
    marks = marks_of(times, garden[0].weather.air_c.shape[-1])
    nights = [slice(marks[k], marks[k + 1] + 1) for k, one in enumerate(times) if one.part is DayPart.EVENING]
    gains_c = blanket_gains_c([Stand(one.cover, one.weather) for one in garden], [nights] * trees, SOIL)
    return [replace(one, blanket_c=gain_c) for one, gain_c in zip(garden, gains_c, strict=True)], times


def planned(garden: Sequence[TreeSituation], times: Sequence[Slot]) -> Plan:
    return plan(garden, heat_of(garden, times), times, SITE)


def asked_today(made: Plan) -> set[DeedKind]:
    today = date(2026, 10, 5)
    return {act.kind for act in made.acts if act.night == today}


def test_for_one_sharp_night_in_leaf_by_the_house_blankets_are_asked_for_in_place_of_hours_of_wrapping() -> None:
    garden, times = in_leaf([-2.0, *MILD], trees=6)
    made = planned(garden, times)
    assert asked_today(made) == {DeedKind.BLANKETED}
    assert all(act.state is CoverState.BARE and act.minutes <= 10.0 for act in made.acts)
    assert all(act.chance_after < 0.7 * act.chance and act.saves_trips > act.price_trips for act in made.acts)
    without = planned([replace(one, blanket_c=None) for one in garden], times)
    assert DeedKind.BLANKETED not in asked_today(without)


def test_for_a_night_that_a_blanket_does_not_keep_off_the_cover_is_asked_for() -> None:
    garden, times = in_leaf([-7.0, *MILD], trees=6)
    assert asked_today(planned(garden, times)) == {DeedKind.WRAPPED}


def test_for_a_cold_spell_the_cover_goes_on_at_once_and_nobody_throws_blankets_every_evening() -> None:
    garden, times = in_leaf([-2.5, -3.0, -3.5, -4.0, -5.0, -6.0, -6.0, -6.0, -6.0], trees=6)
    assert asked_today(planned(garden, times)) == {DeedKind.WRAPPED}


def test_for_a_night_it_bears_no_blanket_is_asked_for() -> None:
    garden, times = in_leaf([2.0, *MILD], trees=6)
    assert not planned(garden, times).acts


def test_no_blanket_is_asked_for_in_a_night_of_gusts_that_would_take_it() -> None:
    garden, times = in_leaf([-2.0, *MILD], trees=6)
    blows = np.where(np.arange(garden[0].weather.gust_m_s.shape[-1]) > 14, 14.0, 4.0)  # from after dusk on
    stormy = [replace(one, weather=replace(one.weather, gust_m_s=blows)) for one in garden]
    assert DeedKind.BLANKETED not in asked_today(planned(stormy, times))


def test_a_blanket_is_two_visits_and_some_minutes() -> None:
    garden, times = in_leaf([-2.5, *MILD])
    stakes = stakes_with_blankets(garden, times).stakes
    on = [k for k, one in enumerate(times) if one.part is DayPart.EVENING]
    off = [k for k, one in enumerate(times) if one.part is DayPart.MORNING and k > 0]
    assert np.allclose(stakes.work[0, on, BARE, STOPGAP], 0.25)
    assert np.isinf(stakes.work[0, off, BARE, STOPGAP]).all()  # nobody throws it over for the day
    assert np.allclose(stakes.work[0, off, STOPGAP, BARE], 0.1)
    assert np.isinf(stakes.work[0, off, STOPGAP, STOPGAP]).all()  # nor leaves it on where somebody can come


def test_who_cannot_come_in_the_morning_leaves_the_blanket_on_till_the_next_visit() -> None:
    garden, times = in_leaf([-2.5, *MILD])
    free = [replace(one, hands=0) if one.part is DayPart.MORNING else one for one in times]
    stakes = stakes_with_blankets(garden, free).stakes
    mornings = [k for k, one in enumerate(free) if one.part is DayPart.MORNING]
    assert np.allclose(stakes.work[0, mornings, STOPGAP, STOPGAP], 0.0)


def stakes_with_blankets(garden: Sequence[TreeSituation], times: Sequence[Slot]) -> AtStake:
    courses = heat_of(garden, times)
    at = at_stake(garden, times, SITE, (), (), None, ASSUMED, courses)
    return with_stopgaps(at, courses, (), (), ASSUMED)


def test_a_blanket_changes_nothing_for_whoever_throws_none_over() -> None:
    garden, times = in_leaf([-2.5, *MILD], trees=2)
    whole = stakes_with_blankets(garden, times)
    plain = at_stake(garden, times, SITE, (), (), None, ASSUMED, heat_of(garden, times))
    for name in ("middle_c", "tip_c", "standing_cost", "width_c", "unforeseen_c", "softens_c"):
        assert np.allclose(getattr(whole.stakes, name)[..., :STOPGAP], getattr(plain.stakes, name)), name
    assert np.array_equal(whole.stakes.work[..., :STOPGAP, :STOPGAP], plain.stakes.work)


@pytest.mark.skipif(LIBRARY is None, reason="nothing was built from C here")
def test_the_search_that_was_built_takes_a_blanket_as_the_one_in_arrays_does() -> None:
    garden, times = in_leaf([-2.0, 4.0, 5.0, -2.0, *MILD[:4]], trees=3)
    stakes = stakes_with_blankets(garden, times).stakes
    visits, prefix = np.full(stakes.shape, 0.4), np.empty((3, 0), dtype=np.int64)
    built = _answers(stakes, visits, prefix, BEAM)
    plain = _in_arrays(_short(stakes), visits.astype(np.float32), prefix, BEAM)
    assert np.allclose(built.cost, plain.cost, atol=1e-3)
    assert (built.course == STOPGAP).any()
