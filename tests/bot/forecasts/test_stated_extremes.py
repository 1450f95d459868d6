"""Curves reach the lows and highs that services state for whole stretches, on answers that others recorded."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from bot.forecasts.services.met_norway import parse_met_norway
from bot.forecasts.services.open_meteo import parse_open_meteo
from bot.forecasts.services.us_nws import parse_us_nws
from rules.garden.doubt import DoubtKind
from rules.weather.gaps import filled
from rules.weather.hourly import HourlyWeather
from rules.weather.members import members
from rules.weather.stated_extremes import StatedExtremes, reaching
from tests.hourly import hours_of

DATA = Path(__file__).parents[2] / "data" / "weather_json"
US = (DATA / "nws_recorded_2022.json").read_text(encoding="utf-8")
NORWAY = (DATA / "met_recorded_2022.json").read_text(encoding="utf-8")
START = datetime(2026, 1, 14, tzinfo=UTC)
HOUR = timedelta(hours=1)


def hours(*air_c: float) -> HourlyWeather:
    return hours_of(START, air_c)


def air_between(weather: HourlyWeather, first: datetime, last: datetime) -> list[float]:
    return [float(air_c) for air_c in weather.air_c[weather.index_of(first) : weather.index_of(last) + 1]]


def test_a_recorded_us_night_goes_down_to_the_low_that_its_hours_do_not_show() -> None:
    weather = parse_us_nws(US, datetime(2022, 2, 3, 20, tzinfo=UTC)).weather
    for day, hourly_c, stated_c in ((4, 17.78, 17.78), (5, 17.78, 16.67)):  # the second night's low is 1.1 °C below
        night = air_between(weather, datetime(2022, 2, day, tzinfo=UTC), datetime(2022, 2, day, 14, tzinfo=UTC))
        assert min(night) == pytest.approx(stated_c, abs=0.01)
        assert min(night) <= hourly_c
        assert night.index(min(night)) == 9 - (day == 4)  # from 09 (08) UTC on, as the hours have it
    assert air_between(weather, datetime(2022, 2, 4, 20, tzinfo=UTC), datetime(2022, 2, 4, 21, tzinfo=UTC)) == [
        pytest.approx(26.67, abs=0.01),
        25.0,
    ]  # a day's hours are left alone, and so is the night whose period is cut to an hour


def test_recorded_steps_of_six_hours_go_down_and_up_to_what_is_stated_between_them() -> None:
    told = json.loads(NORWAY)["properties"]["timeseries"]
    weather = parse_met_norway(NORWAY, datetime(2022, 5, 22, tzinfo=UTC)).weather
    assert len(told) == 10
    for one in told[:-1]:
        begins = datetime.fromisoformat(one["time"])
        step = air_between(weather, begins, begins + 6 * HOUR)
        stated = one["data"]["next_6_hours"]["details"]
        assert min(step) <= stated["air_temperature_min"] + 1e-9
        assert max(step) >= stated["air_temperature_max"] - 1e-9
        assert step[0] == pytest.approx(one["data"]["instant"]["details"]["air_temperature"], abs=0.35)
    assert [one.kind for one in filled(weather)[1]] == []  # nothing is blunted any more


def test_without_the_stated_lows_the_recorded_steps_would_be_more_than_a_degree_too_warm() -> None:
    document = json.loads(NORWAY)
    low_c = [
        one["data"]["next_6_hours"]["details"]["air_temperature_min"] for one in document["properties"]["timeseries"]
    ]
    for one in document["properties"]["timeseries"]:
        del one["data"]["next_6_hours"]
    bare, doubts = filled(parse_met_norway(json.dumps(document), datetime(2022, 5, 22, tzinfo=UTC)).weather)
    lows = np.array([bare.air_c[6 * i : 6 * i + 7].min() for i in range(9)])
    assert (lows - low_c[:9]).max() == pytest.approx(1.3, abs=0.05)
    assert [one.kind for one in doubts] == [DoubtKind.COARSE_STEPS]


def test_members_keep_the_bounded_curve_as_their_mean() -> None:
    forecast = parse_us_nws(US, datetime(2022, 2, 3, 20, tzinfo=UTC))
    spread = members(forecast, datetime(2022, 2, 4, tzinfo=UTC))
    np.testing.assert_allclose(spread.mean(axis=0), forecast.weather.air_c, atol=1e-9)


def test_days_of_open_meteo_bound_its_hours() -> None:
    times = [f"2026-01-14T{hour:02d}:00" for hour in range(24)]
    body = {
        "latitude": 39.0, "longitude": -109.0, "utc_offset_seconds": 0,
        "hourly_units": {"time": "iso8601", "temperature_2m": "°C"},
        "hourly": {"time": times, "temperature_2m": [-6 + 4 * np.sin((hour - 9) * np.pi / 12) for hour in range(24)]},
        "daily_units": {"time": "iso8601", "temperature_2m_min": "°C", "temperature_2m_max": "°C"},
        "daily": {"time": ["2026-01-14"], "temperature_2m_min": [-11.3], "temperature_2m_max": [-1.2]},
    }  # fmt: skip
    air_c = parse_open_meteo(json.dumps(body), START).weather.air_c
    assert (air_c.min(), int(air_c.argmin())) == (pytest.approx(-11.3), 3)
    assert (air_c.max(), int(air_c.argmax())) == (pytest.approx(-1.2), 15)
    assert air_c[9] == pytest.approx(-6, abs=0.1)  # halfway hours stay


def test_an_hour_colder_than_the_stated_low_keeps_what_it_says() -> None:
    told = hours(-3.0, -6.0, -9.0, -6.0, -3.0)
    stated = StatedExtremes(start_utc=START, end_utc=START + 4 * HOUR, min_c=-7.0, max_c=-4.0)
    assert reaching(told, [stated]).air_c.tolist() == told.air_c.tolist()


def test_a_low_stated_for_hours_that_are_not_told_moves_nothing() -> None:
    told = hours(-3.0, -4.0, -3.0)
    for first, last in ((-9, 1), (1, 9), (20, 30)):
        stated = StatedExtremes(start_utc=START + first * HOUR, end_utc=START + last * HOUR, min_c=-15.0)
        assert reaching(told, [stated]).air_c.tolist() == told.air_c.tolist()


def test_hours_all_alike_dip_in_the_middle_and_not_everywhere() -> None:
    stated = StatedExtremes(start_utc=START, end_utc=START + 8 * HOUR, min_c=-5.0)
    air_c = reaching(hours(*[-2.0] * 9), [stated]).air_c
    assert (air_c[0], air_c.min(), int(air_c.argmin())) == (-2.0, pytest.approx(-5.0), 4)
