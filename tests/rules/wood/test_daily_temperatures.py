"""A series of felt days: what is refused by name, what is held out, what a calendar does to it."""

from datetime import UTC, date, datetime
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from rules.wood.daily_temperatures import WoodDays, wood_days_from
from tests.hourly import hours_of

START: Final = date(2025, 9, 7)


def test_a_real_cold_wave_is_believed() -> None:
    mean_c = np.full(30, -2.0)
    mean_c[10:14] -= 22.0  # the arctic fronts of the high plains bring as much within a day
    kept, refused = WoodDays(first=START, mean_c=mean_c, min_c=mean_c - 6, max_c=mean_c + 6).believed()
    assert refused == 0
    assert np.array_equal(kept.mean_c, mean_c)


def test_swapped_extremes_are_refused_by_name_of_the_day() -> None:
    with pytest.raises(
        ValueError, match=r"2025-09-08: the minimum 9\.0 °C is above its maximum 2\.0 °C; were they swapped"
    ):
        WoodDays(first=START, mean_c=np.array([5.0, 5.0]), min_c=np.array([2.0, 9.0]), max_c=np.array([9.0, 2.0]))


def test_a_mean_outside_its_extremes_is_refused() -> None:
    with pytest.raises(ValueError, match=r"2025-09-07: the mean 30\.0 °C is outside 2\.0 to 9\.0 °C"):
        WoodDays(first=START, mean_c=np.array([30.0]), min_c=np.array([2.0]), max_c=np.array([9.0]))


def test_unequal_lengths_are_refused() -> None:
    with pytest.raises(ValueError, match="one shape"):
        WoodDays(first=START, mean_c=np.zeros(3), min_c=np.zeros(2), max_c=np.zeros(3))


def test_a_night_whose_cold_comes_before_midnight_is_one_night_not_two() -> None:
    start = datetime(2026, 1, 10, 0, tzinfo=UTC)
    air_c = np.full(96, 2.0)
    air_c[46:52] = -15.0  # 22:00 on the 11th to 03:00 on the 12th
    days = wood_days_from(hours_of(start, air_c), air_c, np.ones(96, dtype=bool), ZoneInfo("UTC"))
    assert days.minima_from(date(2026, 1, 10), 4).tolist() == [2.0, -15.0, -15.0, 2.0]
    assert days.nights_from(date(2026, 1, 10), 3).tolist() == [2.0, -15.0, 2.0]
