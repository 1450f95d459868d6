"""Whole courses of a winter against every course there is: a forward search that carries each state exactly."""

from dataclasses import fields

import numpy as np
import numpy.typing as npt
import pytest

from rules.garden.cover import Cover
from rules.garden.species import species_row
from rules.plan.cover_costs import minutes_of_change
from rules.plan.prices import ASSUMED
from rules.plan.season.felt_winters import FeltWinters, felt_winters, heat_of, seasons_of
from rules.plan.season.marching import Lanes, TreeTerms, march, taken_off
from rules.plan.season.table import bare_wood, kinetics_of, season_table
from rules.plan.season.whole_courses import best_courses
from rules.wood.kinetics.day_by_day import WoodLanes
from rules.wood.kinetics.hardening import _Wood
from rules.wood.night_losses import OFF_C
from rules.wood.season import day_of_season
from tests.high_plains import high_plains
from tests.rules.plan.plan_gardens import SITE

Ints = npt.NDArray[np.int64]
FIRST, LAST = 20, 265
AS_BARE = OFF_C.index(0.0)
KEPT = 3000  # courses under way in one winter: twice as many change no cost by a hundredth of a trip
COVER = Cover(name="any")


def terms(cultivar: str) -> TreeTerms:
    step = ASSUMED.of_work(1.0) * minutes_of_change(COVER) + ASSUMED.visit * (1.0 - np.eye(3))
    return TreeTerms(
        row=species_row("fig", cultivar), worth=40.0, lasting_c=(1.0, 1.5, 1.5), step=step, minutes=(60.0, 10.0),
        free_minutes=(1440.0,) * 7, weekday=0,
    )  # fmt: skip


def winters(warmer_c: float, cultivar: str) -> FeltWinters:
    seasons = seasons_of(high_plains(), SITE)
    assert seasons is not None
    return felt_winters(species_row("fig", cultivar), SITE, seasons, heat_of(COVER, SITE, seasons), warmer_c)


def picked(lanes: Lanes, at: Ints) -> Lanes:
    """A copy of these lanes."""
    wood = _Wood(**{field.name: getattr(lanes.wood.wood, field.name)[at] for field in fields(_Wood)})
    own = WoodLanes(kinetics=lanes.wood.kinetics, wood=wood, leaves=lanes.wood.leaves[at], cooled=lanes.wood.cooled[at])
    rest = {field.name: getattr(lanes, field.name)[at] for field in fields(Lanes) if field.name != "wood"}
    return Lanes(wood=own, **rest)


def merged(lanes: Lanes) -> Lanes:
    """The cheapest of lanes that stand alike: same state, wood within 0.1 °C, loss within 1 %."""
    worth = lanes.cost + 40.0 * lanes.lost + ASSUMED.shoots * lanes.shoots_lost
    marks = (lanes.state, lanes.stripped, np.round(lanes.wood.lt50_c * 10), np.round(lanes.lost * 100),
             np.round(lanes.wood.developed * 50), np.round(lanes.shoots_lost * 10))  # fmt: skip
    order = np.argsort(worth, kind="stable")
    _, first = np.unique(np.stack(marks)[:, order], axis=1, return_index=True)
    kept = order[np.sort(first)][:KEPT]
    return picked(lanes, kept)


def best_of_all(felt: FeltWinters, tree: TreeTerms, winter: int) -> float:
    """Cost of the best course by one who may change the cover every evening of one winter."""
    start = np.array([winter])
    lanes = Lanes.beginning(start, np.zeros(1, dtype=np.int64), bare_wood(felt, tree, FIRST, start, np.zeros(1)))
    for day in range(FIRST, LAST):
        wide = picked(lanes, np.tile(np.arange(len(lanes.state)), 3))
        chosen = np.repeat(np.arange(3), len(lanes.state))
        fits = np.flatnonzero(~(wide.stripped & (chosen > 0)))  # who has stripped has done so for good
        wide, chosen = picked(wide, fits), chosen[fits]

        def decide(_: int, __: Lanes, chosen: Ints = chosen) -> Ints:
            return chosen

        lanes = merged(march(wide, felt, tree, ASSUMED, decide, range(day, day + 1)))
    total = lanes.cost + taken_off(lanes, tree) + ASSUMED.shoots * lanes.shoots_lost + tree.worth * lanes.lost
    return float(total.min())


@pytest.mark.parametrize(("cultivar", "warmer_c", "winter"), [("Hardy Chicago", 11.0, 2), ("", 13.0, 7)])
def test_a_whole_course_costs_no_more_than_one_per_cent_over_the_best_of_all_courses(
    cultivar: str, warmer_c: float, winter: int
) -> None:
    felt, tree = winters(warmer_c, cultivar), terms(cultivar)
    found = float(best_courses(felt, tree, ASSUMED, FIRST, LAST).cost[winter])
    exact = best_of_all(felt, tree, winter)
    assert exact - 0.05 <= found <= 1.01 * exact


def test_wood_marched_day_by_day_is_the_wood_of_the_season_s_own_course() -> None:
    """The same step, leaves, frost and all, as that of `hardening_course`; rounding apart."""
    felt, tree = winters(0.0, "Hardy Chicago"), terms("Hardy Chicago")
    seasons = seasons_of(high_plains(), SITE)
    assert seasons is not None
    wood = WoodLanes.begun(kinetics_of(tree), (len(seasons.min_c),))
    for day in range(felt.days):
        low, high, ready = seasons.min_c[:, day], seasons.max_c[:, day], felt.ready[:, day]
        wood.day_passes(day, (low + high) / 2, low, 1.0, ready, float(felt.length[day]))
        assert wood.lt50_c == pytest.approx(felt.bare.hc_c[day, :, 0], abs=1e-9)
        assert wood.developed == pytest.approx(felt.bare.developed[day, :, 0], abs=1e-9)


def test_the_table_prices_a_state_the_less_the_less_there_is_to_lose() -> None:
    table = season_table(winters(11.0, ""), terms(""), ASSUMED)
    assert (np.diff(table.cost, axis=-1) <= 1e-9).all()
    assert table.on(290)[0] == pytest.approx(0.0, abs=0.05)  # nothing is ahead of a bare tree in late June
    early, late = (table.on(day)[0, 1, 0] for day in (40, 130))
    assert late < early  # half the winter is over


@pytest.mark.parametrize("warmer_c", [9.0, 11.0])
def test_in_full_leaf_weeks_before_its_first_killing_night_no_tree_is_worth_wrapping_even_with_the_top_left_off(
    warmer_c: float,
) -> None:
    """Common practice: after leaf fall, or before the night that needs it; the visit left to the neighbours."""
    tree = terms("")
    table = season_table(winters(warmer_c, ""), tree, ASSUMED)
    minutes = float(tree.step[0, 1]) - ASSUMED.visit
    worth = {day: float(np.subtract(*table.on(day_of_season(day))[:2, AS_BARE, 0])) for day in ((10, 5), (12, 5))}
    assert worth[10, 5] < minutes - 1.0  # a month in the straw in leaf costs more than a walk
    assert worth[12, 5] == pytest.approx(minutes, abs=0.3)  # without leaves it may as well be done today
