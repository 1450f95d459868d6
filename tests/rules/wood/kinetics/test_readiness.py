"""Readiness to wake: by portions, by a sum, by the calendar."""

import numpy as np
import pytest

from rules.wood.kinetics.readiness import daily_portions, ready_by_date, ready_by_portions_met, ready_by_sum


def test_constant_cold_banks_the_portions_the_model_is_known_for() -> None:
    # 100 days at 6 °C: 83.06 portions (computed by two separately written programs from the published constants)
    assert daily_portions(np.full(100, 6.0), np.full(100, 6.0))[-1] == pytest.approx(83.06, abs=0.01)
    assert daily_portions(np.full(100, 14.0), np.full(100, 14.0))[-1] == 0.0


def test_many_winters_at_once_bank_what_each_banks_alone() -> None:
    low, high = np.random.default_rng(1).normal([[2.0], [9.0]], 4.0, (2, 60))
    pair = daily_portions(np.stack([low, low - 3.0], axis=1), np.stack([high, high - 3.0], axis=1))
    assert np.array_equal(pair[:, 0], daily_portions(low, high))


def test_a_day_nobody_knows_does_not_empty_the_bank() -> None:
    low = np.full(60, 6.0)
    low[20:25] = np.nan
    assert daily_portions(low, low)[-1] == pytest.approx(daily_portions(np.full(60, 6.0), np.full(60, 6.0))[-1])


def test_wood_is_half_ready_at_its_need_and_wholly_at_half_as_much_again() -> None:
    portions = np.concatenate([np.zeros(120), [30.0, 45.0, 60.0, 75.0, 90.0, 120.0]])
    assert ready_by_portions_met(portions, 60.0)[-6:].tolist() == [0.0, 0.25, 0.5, 0.75, 1.0, 1.0]
    assert ready_by_date(200, 130.0)[[85, 130, 175]].tolist() == [0.0, 0.5, 1.0]


def test_no_autumn_is_so_cold_that_wood_is_ready_to_wake_before_december() -> None:
    assert ready_by_sum(np.full(120, -20.0), -600.0)[85] == 0.0
    assert ready_by_sum(np.full(120, -20.0), -600.0)[-1] == 1.0


def test_readiness_never_falls() -> None:
    mean_c = 8.0 - 13.0 * np.sin(2 * np.pi * (np.arange(240) - 30) / 365)
    assert (np.diff(ready_by_sum(mean_c, -600.0)) >= 0).all()
