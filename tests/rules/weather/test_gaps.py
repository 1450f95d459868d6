"""Gaps in the hours: short ones closed by a line, long ones left open, every one said."""

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.garden.doubt import Doubt, DoubtKind
from rules.weather.gaps import filled
from rules.weather.hourly import HourlyWeather, Hours
from tests.hourly import hours_of


def weather_of(air_c: Hours) -> HourlyWeather:
    size = np.abs(air_c)
    told = {"wind_m_s": size, "gust_m_s": size * 2, "cloud_fraction": np.clip(size / 60, 0, 1), "sun_w_m2": size}
    return hours_of(datetime(2026, 1, 1, tzinfo=UTC), air_c, dew_point_c=air_c - 2, **told)


def without(hours: int, unknown: list[int]) -> HourlyWeather:
    air = np.asarray(np.arange(hours) * -0.5, dtype=np.float64)
    air[unknown] = np.nan
    return weather_of(air)


def test_three_missing_hours_are_closed_by_a_straight_line_and_counted() -> None:
    whole, doubts = filled(without(12, [4, 5, 6]))
    assert whole.air_c == pytest.approx(np.arange(12) * -0.5)
    assert whole.cloud_fraction == pytest.approx(np.arange(12) * 0.5 / 60)
    told = Doubt(
        kind=DoubtKind.MISSING_HOURS,
        subject="air_c",
        amount=3.0,
        first_utc=datetime(2026, 1, 1, 4, tzinfo=UTC),
        last_utc=datetime(2026, 1, 1, 6, tzinfo=UTC),
    )
    assert doubts == (told,)


def test_six_hour_steps_are_closed_and_called_coarse() -> None:
    whole, doubts = filled(without(25, [i for i in range(7, 25) if i % 6]))
    assert whole.air_c == pytest.approx(np.arange(25) * -0.5)
    assert doubts == (Doubt(kind=DoubtKind.COARSE_STEPS, subject="air_c", amount=6.0),)


def test_longer_gaps_and_both_ends_stay_open_and_are_counted() -> None:
    unknown = [0, *range(10, 16), 30, 31]
    whole, doubts = filled(without(32, unknown))
    assert np.flatnonzero(np.isnan(whole.air_c)).tolist() == unknown
    told = Doubt(
        kind=DoubtKind.MISSING_HOURS,
        subject="air_c",
        amount=9.0,
        first_utc=datetime(2026, 1, 1, tzinfo=UTC),
        last_utc=datetime(2026, 1, 2, 7, tzinfo=UTC),
    )
    assert doubts == (told,)


def test_gusts_and_sun_are_not_invented() -> None:
    whole, _ = filled(without(12, [4, 5]))
    assert np.isnan(whole.gust_m_s[[4, 5]]).all()
    assert np.isnan(whole.sun_w_m2[[4, 5]]).all()


def test_whole_weather_raises_no_doubt() -> None:
    assert filled(without(48, []))[1] == ()


@pytest.mark.parametrize("known", [[], [5]])
def test_one_known_hour_or_none_is_no_line(known: list[int]) -> None:
    _, doubts = filled(without(24, [i for i in range(24) if i not in known]))
    assert doubts[0].amount == 24 - len(known)


@given(air=st.lists(st.one_of(st.just(float("nan")), st.floats(-40, 20)), min_size=1, max_size=60))
def test_filling_keeps_what_is_known_and_never_passes_it(air: list[float]) -> None:
    given_air = np.array(air)
    whole, _ = filled(weather_of(given_air))
    known = ~np.isnan(given_air)
    assert np.array_equal(whole.air_c[known], given_air[known])
    if known.any():
        assert np.nanmin(whole.air_c) == given_air[known].min()
        assert np.nanmax(whole.air_c) == given_air[known].max()
    again, _ = filled(whole)
    assert np.array_equal(again.air_c, whole.air_c, equal_nan=True)
