"""Where it is told without a search that every cover stays as it is, the search finds so too."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from rules.garden.cover import Cover, CoverState
from rules.garden.tree import Phase, Tending
from rules.plan.certainty.frost_free import needs_no_cover
from rules.plan.certainty.staying import stays
from rules.plan.decision import choose
from rules.plan.garden_plan import _past_saving, plan
from rules.plan.prices import ASSUMED
from rules.plan.situation import TreeSituation
from rules.plan.slots import slots_ahead
from rules.plan.stakes import Stakes
from tests.high_plains import high_plains
from tests.rules.plan.plan_gardens import (
    NOW,
    SITE,
    bearing,
    days_of_air,
    forecast_of,
    heat_of,
    plan_of,
    situation,
    stakes_of,
)
from tests.rules.plan.test_plan_search import random_stakes

DRAWN = 40
STATES = list(CoverState)


def drawn_garden(seed: int) -> list[TreeSituation]:
    """One to three trees under one invented weather, mild in most gardens, each cover in any state."""
    chance = np.random.default_rng(seed)
    days, mean_c = int(chance.integers(2, 6)), chance.uniform(-6.0, 14.0)
    lows = chance.normal(mean_c, 2.0, days)
    forecast = forecast_of(days_of_air(list(lows), list(lows + chance.uniform(3.0, 14.0, days))))
    return [drawn_tree(chance, i, {"forecast": forecast}) for i in range(int(chance.integers(1, 4)))]


def drawn_tree(chance: np.random.Generator, number: int, more: dict[str, Any]) -> TreeSituation:
    lt10_c = chance.uniform(-14.0, -1.0)
    wood = bearing(lt10_c, lt10_c - chance.uniform(1.0, 4.0), chance.uniform(0.5, 2.5), chance.choice(list(Phase)))
    cover = Cover(
        name=f"cover {number}", minutes_to_wrap=chance.uniform(5.0, 90.0), minutes_to_close=chance.uniform(1.0, 20.0)
    )
    one = situation(
        **more, name=f"tree {number}", cover=cover, state=STATES[chance.integers(3)], wood_hardiness=wood, count=5,
        worth_trips=chance.uniform(1.0, 80.0),
    )  # fmt: skip
    return replace(one, lost_share=float(chance.choice([0.0, 0.3])))


def in_drawn_gardens(seeds: range) -> Iterator[Stakes]:
    for seed in seeds:
        garden = drawn_garden(seed)
        yield stakes_of(garden, slots_ahead([one.weather for one in garden], SITE, NOW)).stakes


def kept(stakes: Stakes) -> bool:
    """Whether the search leaves all as it is, today and in every member's days after."""
    choice = choose(stakes, 1, ASSUMED, np.full(stakes.shape[2], 1e6))
    now = stakes.state[:, None]
    return bool((choice.settled == now).all() and (choice.course == now[..., None]).all())


def test_nothing_is_asked_where_staying_is_sure_to_be_best() -> None:
    found = [(stays(stakes, ASSUMED), kept(stakes)) for stakes in in_drawn_gardens(range(DRAWN))]
    assert all(left for sure, left in found if sure)
    assert sum(sure for sure, _ in found) > 0.5 * sum(left for _, left in found)  # and most of the quiet ones are seen


@pytest.mark.parametrize("trees", [1, 2])
def test_of_stakes_that_no_garden_has_neither(trees: int) -> None:
    found = [random_stakes(seed, trees, 4)[0] for seed in range(24)]
    mild = [replace(one, middle_c=one.middle_c + 8.0 * (i % 3), tip_c=one.tip_c + 8.0 * (i % 3)) for i, one in
            enumerate(found)]  # fmt: skip
    assert all(kept(one) for one in mild if stays(one, ASSUMED))


def mild_week(state: CoverState) -> Sequence[TreeSituation]:
    return [situation(forecast_of(days_of_air([6.0] * 8, [12.0] * 8)), state=state)]


def test_in_a_mild_week_an_open_cover_stays_open_by_past_winters_too() -> None:
    for climate in (None, high_plains()):
        garden = mild_week(CoverState.VENTED)
        times = slots_ahead([one.weather for one in garden], SITE, NOW)
        found = plan(garden, heat_of(garden, times), times, SITE, climate=climate)
        assert found.acts == ()
    assert plan_of(mild_week(CoverState.VENTED)).second_thoughts().would_change == ()


def all_bare(seed: int) -> list[TreeSituation]:
    return [replace(one, state=CoverState.BARE) for one in drawn_garden(seed)]


def test_where_no_member_freezes_a_garden_of_bare_trees_the_search_covers_none_either() -> None:
    quiet = 0
    for seed in range(500, 500 + DRAWN):
        garden = all_bare(seed)
        times = slots_ahead([one.weather for one in garden], SITE, NOW)
        if needs_no_cover(garden, times, SITE, None):
            quiet += 1
            at = stakes_of(garden, times)
            assert kept(at.stakes)
            assert _past_saving(at, at.stakes.state) == {}
    assert quiet > DRAWN / 10


def test_a_cover_that_is_on_a_frost_ahead_or_a_winter_to_come_may_need_something() -> None:
    mild, cold = (
        [situation(forecast_of(days_of_air([low_c] * 4, [20.0] * 4)), state=CoverState.BARE)] for low_c in (12.0, 0.0)
    )
    times = slots_ahead([mild[0].weather], SITE, NOW)
    assert needs_no_cover(mild, times, SITE, None)
    assert not needs_no_cover(cold, times, SITE, None)
    assert not needs_no_cover([replace(mild[0], state=CoverState.VENTED)], times, SITE, None)
    assert not needs_no_cover(mild, times, SITE, high_plains())  # in January, past winters say that frost will come
    own_way = mild[0].tree.model_copy(update={"tending": Tending.EARLY})
    assert not needs_no_cover([replace(mild[0], tree=own_way)], times, SITE, None)
