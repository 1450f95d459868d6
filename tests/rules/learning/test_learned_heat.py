"""What was learned of a cover and of a service, put to use: how far it may move a night, and that it can be let go."""

from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.garden.cover import STATE_INDEX, Cover, CoverState, Preset
from rules.garden.records import Deed, DeedKind, Place
from rules.garden.tree import Standing
from rules.heat.balance import InsideTemperatures, inside_with_spread
from rules.heat.properties import LEAST_SHARE, LOG_SD, ReadCover, moved, perturbed, properties_of
from rules.heat.surroundings import Surroundings
from rules.learning import (
    ForecastMiss,
    LearnedCover,
    learn_cover,
    learn_forecast,
    learn_site,
    read_inside,
    unread_cover,
)
from rules.outlook.garden_outlook import Outlook, outlook, outlook_carried
from rules.outlook.inputs import OutlookInputs
from rules.outlook.tree_heat import tree_heats
from rules.outlook.views.week import week_ahead
from rules.site.microclimate import PRIORS
from rules.weather.members import PUBLISHED, ForecastError, lead_sigma_c, leads_h
from tests.rules.learning.learning_twins import DAYS, FIRST, NEW_YORK, SOIL, TwinCover, low, made_winter, twin_cover
from tests.rules.outlook.test_outlook import FRIDAY, garden, inputs

__all__ = ["garden", "inputs"]  # the fixtures of the demo's hardest night

DESCRIBED = Cover(name="twin", preset=Preset.STRAW_BLANKET_FILM)
TREE = "Bench fig"


@cache
def twin() -> TwinCover:
    return twin_cover(3, outside_sd_c=1.5)


@cache
def told() -> Surroundings:
    return replace(made_winter(np.random.default_rng([3, 5])), air_c=twin().moves.outside_c)


def marched(cover: Cover, air_shift_c: float = 0.0) -> InsideTemperatures:
    weather = replace(told(), air_c=told().air_c + air_shift_c)
    closed = np.full(24 * DAYS, STATE_INDEX[CoverState.CLOSED])
    return inside_with_spread([cover], closed[None], weather, soil=SOIL)


@cache
def as_described() -> InsideTemperatures:
    return marched(DESCRIBED)


def learned(lows_off_c: list[float]) -> LearnedCover:
    """From lows that lie so far [°C] from what the described cover would have had."""
    lows = []
    for i, off_c in enumerate(lows_off_c):
        night = DAYS - 5 - i
        hours = slice(night * 24 + 12, night * 24 + 36)
        lows.append(low(float(twin().moves.air_c[hours].min()) + off_c, night, Place.INSIDE))
    return learn_cover(lows, "Twin", twin().moves, [], NEW_YORK.zone)


def coldest() -> int:
    return int(np.argmin(twin().moves.wood_c))


def test_a_cover_that_nobody_read_is_the_one_that_was_described() -> None:
    assert unread_cover().read(DESCRIBED) is DESCRIBED


def test_each_number_moved_by_one_sd_is_the_perturbed_cover() -> None:
    described = properties_of(DESCRIBED, CoverState.CLOSED)
    all_of_them = vars(perturbed(described))
    for i in range(2 * (len(LOG_SD) + 1)):
        by_sd = np.zeros(len(LOG_SD) + 1)
        by_sd[i // 2] = (1.0, -1.0)[i % 2]
        one = vars(moved(described, by_sd.tolist()))
        assert {name: float(value) for name, value in one.items()} == pytest.approx(
            {name: float(values[i]) for name, values in all_of_them.items()}
        )


def test_a_read_cover_marched_is_what_its_learning_said_of_it_to_a_few_tenths() -> None:
    """The learning is linear in the unknowns, the march is not: their second order is what is left (computed)."""
    found = learned([-2.0, -1.5, -2.5, -1.0, -2.0])
    said_c, said_sd_c = found.corrected(twin().moves)
    after = marched(found.read(DESCRIBED), found.air_shift_c)
    assert after.wood_c[0, coldest()] == pytest.approx(said_c[coldest()], abs=0.3)
    assert after.spread_c is not None
    air_sd_c = twin().moves.wood_moves_c[-1] * np.sqrt(found.air_left)
    whole_c = np.hypot(after.spread_c[0], air_sd_c)[coldest()]
    floor_c = LEAST_SHARE * float(np.sqrt((twin().moves.wood_moves_c[:-1, coldest()] ** 2).sum()))
    # the march keeps a third of the cover's own doubt whatever was read, and adds that of the air in squares
    assert said_sd_c[coldest()] * 0.95 < whole_c < np.hypot(said_sd_c[coldest()], floor_c) * 1.25


@settings(deadline=None, max_examples=8)
@given(st.lists(st.floats(-30, 30), min_size=1, max_size=6))
def test_no_readings_move_the_wood_further_than_they_say_nor_its_doubt_below_a_third(
    off_c: list[float],
) -> None:
    """By less than the furthest of them, to the few tenths that the march is not linear by."""
    found = learned(off_c)
    after, before = marched(found.read(DESCRIBED), found.air_shift_c), as_described()
    assert after.spread_c is not None
    assert before.spread_c is not None
    furthest_c = max(max(off_c), 0.0)
    gain_c = after.wood_c[0, coldest()] - before.wood_c[0, coldest()]
    assert gain_c <= furthest_c + 0.3
    assert after.spread_c[0, coldest()] >= LEAST_SHARE * before.spread_c[0, coldest()] * 0.85  # of the moved numbers


def test_colder_readings_inside_never_make_the_inside_warmer() -> None:
    wood_c = [
        marched(found.read(DESCRIBED), found.air_shift_c).wood_c[0, coldest()]
        for found in (learned([off_c] * 4) for off_c in (-3.0, -1.5, 0.0, 1.5))
    ]
    assert wood_c == sorted(wood_c)
    assert wood_c[0] < as_described().wood_c[0, coldest()] < wood_c[-1]


def test_a_cover_wrapped_anew_marches_half_way_back_to_the_described_one() -> None:
    lows = [
        low(float(twin().air_c[n * 24 + 12 : n * 24 + 36].min()), n, Place.INSIDE) for n in range(DAYS - 9, DAYS - 4)
    ]
    deed = Deed(
        tree="Twin", kind=DeedKind.WRAPPED, state=CoverState.CLOSED, at_utc=lows[-1].at_utc + timedelta(hours=2)
    )
    before, after = (learn_cover(lows, "Twin", twin().moves, deeds, NEW_YORK.zone) for deeds in ([], [deed]))
    whole, half = before.read(DESCRIBED), after.read(DESCRIBED)
    assert isinstance(whole, ReadCover)
    assert isinstance(half, ReadCover)
    assert np.array(half.shown) == pytest.approx(0.7 * np.array(whole.shown))
    assert after.air_shift_c == before.air_shift_c


def test_readings_inside_move_the_air_at_the_tree_by_what_they_say_and_leave_the_rest_of_its_doubt() -> None:
    prior = learn_site([], PRIORS[Standing.WALL])
    after = read_inside(prior, -1.2, 0.5)
    assert after.mean_c(1.0) == pytest.approx(prior.mean_c(1.0) - 1.2)
    assert after.sd_c(1.0) == pytest.approx(np.sqrt(0.5) * prior.sd_c(1.0))
    assert prior.mean_c(0.0) - 1.2 < after.mean_c(0.0) < prior.mean_c(0.0)  # of a windy night they say less
    assert after.offset.sd_c(0.0) >= 0.3
    assert read_inside(prior, 0.0, 1.0).mean_c(0.4) == pytest.approx(prior.mean_c(0.4))


@given(st.lists(st.floats(-40, 40), min_size=1, max_size=5))
def test_no_few_nights_narrow_a_service_by_more_than_they_can_show(errors_c: list[float]) -> None:
    """Stations differ in RMSE by 22 %: five nights, however good, leave more than two of those sd of it."""
    misses = [
        ForecastMiss(evening=FIRST + timedelta(days=i), lead_h=24.0, error_c=error_c)
        for i, error_c in enumerate(errors_c)
    ]
    error = learn_forecast(misses).error
    assert error.scale > np.exp(-2 * 0.22)
    assert abs(error.drift_c_d) <= 0.15 * 2
    assert error.sigma_c(24.0) > 0.64 * lead_sigma_c(24.0)


def test_a_service_without_a_night_to_judge_it_by_stays_as_published() -> None:
    assert learn_forecast(()).error == PUBLISHED


@pytest.fixture(scope="module")
def small(inputs: OutlookInputs) -> OutlookInputs:
    """Two trees, to be quick."""
    trees = tuple(tree for tree in inputs.trees if tree.name in (TREE, "Porch fig"))
    return replace(inputs, trees=trees)


@pytest.fixture(scope="module")
def usual(small: OutlookInputs) -> Outlook:
    """Its outlook without any reading."""
    return outlook(small, FRIDAY)


def leaky(small: OutlookInputs, by_sd: float) -> OutlookInputs:
    """The same garden with a cover that a thermometer has shown to leak, or to be tight."""
    tree = next(tree for tree in small.trees if tree.name == TREE)
    described = small.covers[tree.cover or ""]
    shown = dict.fromkeys(LOG_SD, 0.0) | dict.fromkeys(("leaks_per_h", "wind_leaks_per_h", "cap_m2k_w"), 0.0)
    shown["leaks_per_h"] = shown["wind_leaks_per_h"] = by_sd
    size = len(LOG_SD) + 2
    cover = ReadCover(
        **described.model_dump(),
        shown=(*shown.values(), 0.0, 0.0),
        doubt=tuple(map(tuple, (0.25 * np.eye(size)).tolist())),
        with_air_c=(0.0,) * size,
    )
    return replace(small, covers_read={TREE: cover})


def test_a_leaking_cover_is_colder_in_outlook_week_and_questions_and_its_neighbour_is_as_before(
    small: OutlookInputs, usual: Outlook
) -> None:
    read = leaky(small, 2.0)
    seen = outlook(read, FRIDAY)
    before, after = (one.tree(TREE).nights[0].tissue[CoverState.CLOSED] for one in (usual, seen))
    assert after.wood_c < before.wood_c - 0.2
    assert after.sd_c < before.sd_c
    assert seen.tree("Porch fig").nights == usual.tree("Porch fig").nights
    bare = [one.tree(TREE).nights[0].tissue[CoverState.BARE] for one in (usual, seen)]
    assert bare[0].wood_c == pytest.approx(bare[1].wood_c)
    tree = seen.tree(TREE).tree
    assert tree_heats(read, [tree], FRIDAY)[0].cover == read.covers_read[TREE]
    inside = [
        week_ahead(one, look, TREE).inside[CoverState.CLOSED].mean_c for one, look in ((small, usual), (read, seen))
    ]
    assert inside[1].min() < inside[0].min()


def test_what_a_cover_showed_is_not_lost_to_what_was_carried_and_is_gone_when_let_go(
    small: OutlookInputs, usual: Outlook
) -> None:
    _, carried = outlook_carried(small, FRIDAY, None)
    read = leaky(small, 2.0)
    anew, carried_on = outlook_carried(read, FRIDAY, None)
    assert outlook_carried(read, FRIDAY, carried)[0] == anew
    assert outlook_carried(small, FRIDAY, carried_on)[0].tree(TREE).nights == usual.tree(TREE).nights


def test_a_service_known_to_be_better_here_narrows_the_nights_and_one_that_drifts_is_moved(
    small: OutlookInputs, usual: Outlook
) -> None:
    assert small.forecast is not None
    better = outlook(replace(small, forecast_error=ForecastError(scale=0.7, nights=40)), FRIDAY)
    night, plain = better.tree(TREE).nights[1], usual.tree(TREE).nights[1]
    assert night.air_c == pytest.approx(plain.air_c, abs=0.05)
    assert night.air_high_c - night.air_low_c < 0.9 * (plain.air_high_c - plain.air_low_c)
    told = small.forecast.weather
    off_c = 0.4 / 24 * np.maximum(leads_h(told, small.forecast.known_since_utc), 0.0)
    moved = replace(small.forecast, weather=replace(told, air_c=told.air_c - off_c))
    colder = outlook(replace(small, forecast=moved, forecast_error=ForecastError(nights=40)), FRIDAY)
    fell_c = [a.air_c - b.air_c for a, b in zip(colder.tree(TREE).nights, usual.tree(TREE).nights, strict=True)]
    assert fell_c == sorted(fell_c, reverse=True)
    assert fell_c[-1] < -0.4
