"""Chill and heat sums against published tables, hand-worked values and an independent integrator."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from rules.garden.units import c_from_f
from rules.wood.chill import (
    chilling_hours_bennett,
    chilling_hours_weinberger,
    dynamic_chill_portions,
    utah_chill_units,
)
from rules.wood.heat_sums import (
    degree_days_double_sine,
    degree_days_four_cases,
    degree_days_simple,
    degree_days_single_sine,
    degree_days_triangle,
    growing_degree_hours_anderson,
    growing_degree_hours_richardson,
)

WINTER_AIR = st.lists(st.floats(-20, 30), min_size=1, max_size=200)


# Bennett 1949 counts 32 to 45 °F, Weinberger 1950 every hour below 45 °F (extension copy).
@pytest.mark.parametrize(
    ("air_f", "bennett", "weinberger"),
    [(31.9, 0, 1), (32.0, 1, 1), (44.9, 1, 1), (45.0, 1, 0), (45.1, 0, 0), (-10.0, 0, 1)],
)
def test_chilling_hours_count_their_published_range(air_f: float, bennett: int, weinberger: int) -> None:
    assert chilling_hours_bennett(c_from_f(air_f)) == bennett
    assert chilling_hours_weinberger(c_from_f(air_f)) == weinberger


# Richardson, Seeley & Walker 1974, continuous °F table as copied by the University of California, Davis.
@pytest.mark.parametrize(
    ("air_f", "units"),
    [
        (20.0, 0.0),
        (34.0, 0.0),
        (34.01, 0.5),
        (36.0, 0.5),
        (36.01, 1.0),
        (48.0, 1.0),
        (48.01, 0.5),
        (54.0, 0.5),
        (54.01, 0.0),
        (60.0, 0.0),
        (60.01, -0.5),
        (65.0, -0.5),
        (65.01, -1.0),
        (90.0, -1.0),
    ],
)
def test_utah_bands_begin_and_end_where_printed(air_f: float, units: float) -> None:
    assert utah_chill_units(c_from_f(air_f)) == units


# Original °C bands (Mouton 2021, Fresh Quarterly 13, Table 1), away from the 0.4 °C where the two tables differ.
@pytest.mark.parametrize(
    ("air_c", "units"), [(0.5, 0), (2.0, 0.5), (2.7, 1), (8.7, 1), (9.6, 0.5), (14.0, 0), (17.0, -0.5), (19.0, -1)]
)
def test_utah_agrees_with_the_celsius_table_inside_its_bands(air_c: float, units: float) -> None:
    assert utah_chill_units(air_c) == units


def test_a_missing_hour_stays_missing_in_hourly_counts() -> None:
    for count in (chilling_hours_bennett, chilling_hours_weinberger, utah_chill_units):
        assert np.isnan(count([np.nan, 5.0])).tolist() == [True, False]


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


@settings(deadline=None, max_examples=60)
@given(air=WINTER_AIR)
def test_portions_never_fall_and_never_come_faster_than_one_in_28_hours(air: list[float]) -> None:
    total = dynamic_chill_portions(air)
    assert (np.diff(total, prepend=0.0) >= 0).all()
    assert total[-1] <= len(air) / 28


@settings(deadline=None, max_examples=60)
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


# Anderson, Richardson & Kesner 1986, constants from memory; the values computed from the printed curve.
def test_anderson_hours_of_growth() -> None:
    air = [5, 7.2, 10, 12, 14.5, 15, 20, 25, 30, 36, 3.9, 36.1]
    table = [0.1173, 1.1803, 3.9534, 6.6639, 10.5, 11.2847, 18.197, 21.0, 7.2479, 0, 0, 0]
    assert growing_degree_hours_anderson(air) == pytest.approx(table, abs=1e-4)
    assert growing_degree_hours_anderson(25.0, stress_factor=0.5) == pytest.approx(10.5)


def test_richardson_hours_rise_straight_to_a_plateau() -> None:
    # Richardson et al. 1975, from memory
    assert growing_degree_hours_richardson([4.5, 5.5, 25, 40]) == pytest.approx([0, 1, 20.5, 20.5])


# Worked values; the sine column confirmed by numerical integration, the four cases as Met Éireann prints them.
@pytest.mark.parametrize(
    ("low", "high", "base", "sine", "triangle", "cases"),
    [(7, 14, 12, 0.4681, 0.2857, 0.50), (2, 20, 10, 3.3825, 2.7778, 3.00), (0, 20, 10, 3.1831, 2.5, 2.5)],
)
def test_degree_days_of_a_day_that_crosses_the_base(
    low: float, high: float, base: float, sine: float, triangle: float, cases: float
) -> None:
    assert degree_days_single_sine(low, high, base) == pytest.approx(sine, abs=1e-4)
    assert degree_days_triangle(low, high, base) == pytest.approx(triangle, abs=1e-4)
    assert degree_days_four_cases(low, high, base) == pytest.approx(cases, abs=1e-9)


@settings(deadline=None, max_examples=40)
@given(low=st.floats(-10, 15), more=st.floats(0, 25), next_low=st.floats(-10, 15), base=st.floats(0, 15))
def test_sine_degree_days_equal_the_area_under_the_wave(low: float, more: float, next_low: float, base: float) -> None:
    high = max(low, next_low) + more

    def above(day: float) -> float:
        foot = low if day < 0.5 else next_low
        return float(max((high + foot) / 2 - (high - foot) / 2 * np.cos(2 * np.pi * day) - base, 0.0))

    area = sum(quad(above, a, a + 0.125, limit=200)[0] for a in np.arange(0, 1, 0.125))  # scipy's integrator
    # 1e-5: the integrator meets a kink at the base
    assert degree_days_double_sine(low, high, next_low, base) == pytest.approx(area, abs=1e-5)


@settings(deadline=None, max_examples=60)
@given(low=st.floats(-20, 25), more=st.floats(0, 25), base=st.floats(0, 15))
def test_the_simple_mean_never_exceeds_the_sine_and_both_meet_when_the_whole_day_is_warm(
    low: float, more: float, base: float
) -> None:
    simple, sine = degree_days_simple(low, low + more, base), degree_days_single_sine(low, low + more, base)
    assert simple <= sine + 1e-9
    if low >= base:
        assert simple == pytest.approx(float(sine))


def test_swapped_extremes_are_refused_and_a_missing_day_stays_missing() -> None:
    with pytest.raises(ValueError, match="min_c 12 °C of day 1 lies above max_c 3 °C"):
        degree_days_single_sine([1.0, 12.0], [5.0, 3.0], 4.0)
    assert np.isnan(degree_days_single_sine([np.nan], [5.0], 4.0)).all()
