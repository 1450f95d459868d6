"""Chill and heat sums against published tables, hand-worked values and an independent integrator."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.wood.kinetics.chill import dynamic_chill_portions

WINTER_AIR = st.lists(st.floats(-20, 30), min_size=1, max_size=200)


# Dynamic Model, constants from memory; totals computed from the recursion by two separately written programs.
@pytest.mark.parametrize(
    ("air_c", "portions"), [(0, 12.48), (2, 64.43), (4, 72.84), (6, 83.06), (7, 84.61), (12, 61.00), (13, 0), (20, 0)]
)
def test_portions_of_2400_hours_at_one_temperature(air_c: float, portions: float) -> None:
    # 0.01: the table prints two decimals
    assert dynamic_chill_portions(np.full(2400, float(air_c)))[-1] == pytest.approx(portions, abs=0.01)


def test_portions_at_6_c_are_banked_at_hours_29_57_and_85() -> None:
    total = dynamic_chill_portions(np.full(100, 6.0))
    rises = np.flatnonzero(np.diff(total, prepend=0.0)) + 1
    assert rises.tolist() == [29, 57, 85]
    assert total[rises - 1] == pytest.approx([0.9805, 1.9577, 2.9349], abs=5e-5)


# Same two programs: 50 days of 16 h at 6 °C, then 8 h at X.
@pytest.mark.parametrize(("warm_c", "portions"), [(6, 41.04), (10, 41.20), (15, 35.98), (20, 24.42)])
def test_warm_afternoons_take_from_the_portions(warm_c: float, portions: float) -> None:
    days = np.tile(np.repeat([6.0, warm_c], [16, 8]), 50)
    assert dynamic_chill_portions(days)[-1] == pytest.approx(portions, abs=0.01)


def test_the_order_of_hours_changes_only_the_last_digits() -> None:
    days = np.tile(np.repeat([10.0, 6.0], [8, 16]), 50)
    assert dynamic_chill_portions(days)[-1] == pytest.approx(41.29, abs=0.01)


@given(air=WINTER_AIR)
def test_portions_never_fall_and_never_come_faster_than_one_in_28_hours(air: list[float]) -> None:
    total = dynamic_chill_portions(air)
    assert (np.diff(total, prepend=0.0) >= 0).all()
    assert total[-1] <= len(air) / 28


@given(air=WINTER_AIR, warm_c=st.floats(18, 35))
def test_warmth_adds_no_portion_and_takes_none_that_is_banked(air: list[float], warm_c: float) -> None:
    before = dynamic_chill_portions(air)[-1]
    # A product standing above 1 at the end was banked in its own hour, so a warm hour finds less than 1 to work on.
    assert dynamic_chill_portions([*air, *[warm_c] * 48])[-1] == pytest.approx(before, abs=1e-12)


def test_trees_side_by_side_get_what_each_would_alone() -> None:
    air = np.random.default_rng(1).uniform(-5, 20, (3, 2, 400))
    together = dynamic_chill_portions(air)
    assert together.shape == air.shape
    np.testing.assert_array_equal(together[2, 1], dynamic_chill_portions(air[2, 1]))


def test_a_gap_in_the_hours_is_refused_by_the_dynamic_model() -> None:
    with pytest.raises(ValueError, match="air_c of hour 2 is missing"):
        dynamic_chill_portions([5.0, 5.0, np.nan])
