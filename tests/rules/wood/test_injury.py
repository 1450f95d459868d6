"""Injury: the dose curve against published points, the normal integral against the standard library."""

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.wood.injury import (
    DOUBLING_C,
    HABITUAL_HOURS,
    chance_colder,
    dose_c,
    dose_width_c,
    expected_share_lost,
    lost_together,
    normal_share,
    with_tip,
)
from rules.wood.night_losses import harm_of

shares = st.floats(0.0, 1.0)
cold_c = st.floats(-35.0, 10.0)


def test_the_normal_integral_is_that_of_the_standard_library() -> None:
    z = np.linspace(-9, 9, 1801)
    exact = np.array([NormalDist().cdf(one) for one in z])
    assert np.abs(normal_share(z) - exact).max() < 7.5e-8  # the bound stated with the formula (Abramowitz & Stegun)


@pytest.mark.parametrize(("t10_f", "t50_f", "t90_f"), [(10.6, 5.2, -0.1), (12.5, 4.9, -2.7)])
def test_a_dose_curve_through_two_points_meets_the_third(t10_f: float, t50_f: float, t90_f: float) -> None:
    """Peach buds 'Contender' and 'July Prince', LT10, LT50, LT90, University of Kentucky, December 2025."""
    t10, t50, t90 = ((one - 32) / 1.8 for one in (t10_f, t50_f, t90_f))
    lost = expected_share_lost(np.array([t90]), 0.0, t10, t50, 0.0)
    assert float(lost) == pytest.approx(0.9, abs=0.01)  # the reports round to 0.1 °F, and the curve is taken as normal


def test_elberta_buds_survive_four_degrees_above_their_half_point() -> None:
    """Proebsting & Mills 1966, as quoted: 90 % alive 4 °C above LT50."""
    assert dose_width_c(-16.5, -20.5) == pytest.approx(3.1, abs=0.05)
    assert float(expected_share_lost(np.array([-16.5]), 0.0, -16.5, -20.5, 0.0)) == pytest.approx(0.1, abs=1e-6)


def test_half_points_that_are_not_colder_are_refused() -> None:
    with pytest.raises(ValueError, match=r"-8 °C is not below -9 °C"):
        dose_width_c(-9.0, -8.0)


def test_twice_the_hours_hurt_as_half_a_degree_colder() -> None:
    night = np.full(int(2 * HABITUAL_HOURS), -6.0)
    assert float(dose_c(night)) == pytest.approx(-6.0 - DOUBLING_C)


@given(st.lists(cold_c, min_size=1, max_size=30), st.floats(0.0, 8.0))
def test_a_colder_or_longer_night_never_hurts_less(night: list[float], by_c: float) -> None:
    hours = np.array(night)
    assert dose_c(hours - by_c) == pytest.approx(dose_c(hours) - by_c, abs=1e-9)
    assert dose_c(np.append(hours, 12.0)) <= dose_c(hours) + 1e-12


@given(shares, shares, shares)
def test_nights_together_take_at_least_the_worst_and_at_most_independent_ones(a: float, b: float, c: float) -> None:
    both = float(lost_together(a, b))
    assert max(a, b) - 1e-12 <= both <= a + b - a * b + 1e-12
    assert float(lost_together(both, c)) <= 1.0 + 1e-12
    assert float(lost_together(a, 0.0)) == a


@given(cold_c, st.floats(0.1, 4.0), st.floats(0.1, 4.0))
def test_doubt_takes_the_sure_out_of_both_sides(tissue: float, small: float, more: float) -> None:
    sharp, blunt = (float(expected_share_lost(np.array([tissue]), s, -9.0, -12.0, 0.0)) for s in (small, small + more))
    assert abs(blunt - 0.5) <= abs(sharp - 0.5) + 1e-9


def test_members_spread_and_stated_spread_give_the_same_chance() -> None:
    """1000 normal quantiles of sd 3 about −7 against one member at −7 with that sd: the two ways to hold a doubt."""
    members = np.array([NormalDist(-7.0, 3.0).inv_cdf((i + 0.5) / 1000) for i in range(1000)])
    assert float(chance_colder(members, 0.0, -9.0, 1.0)) == pytest.approx(
        float(chance_colder(np.array([-7.0]), 3.0, -9.0, 1.0)), abs=2e-3
    )
    assert float(chance_colder(np.array([-7.0]), 3.0, -9.0, 0.0)) == pytest.approx(
        0.5 * math.erfc((2 / 3) / math.sqrt(2)), abs=1e-6
    )


def test_the_tip_weighs_a_fifth() -> None:
    assert float(with_tip(0.0, 1.0)) == pytest.approx(0.2)


@pytest.mark.parametrize("tissue_c", [8.0, 2.0, 0.0, -0.5])
def test_a_night_without_frost_takes_nothing_of_the_tenderest_wood_however_doubtful(tissue_c: float) -> None:
    assert float(expected_share_lost(np.array([tissue_c]), 3.0, -1.0, -2.2, 2.0)) == 0.0
    assert float(harm_of(np.array(-2.2), np.array(4.0), np.array(tissue_c), np.array(tissue_c))) == 0.0


def test_a_night_of_plain_frost_takes_what_the_dose_curve_says() -> None:
    assert float(expected_share_lost(np.array([-4.0]), 0.0, -2.5, -4.0, 0.0)) == pytest.approx(0.5)
