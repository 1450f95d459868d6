"""Answers of Open-Meteo: structure after its public documentation, values invented."""

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from bot.forecasts.kept_answers import WeatherServiceError
from bot.forecasts.services.open_meteo import parse_open_meteo, place_open_meteo
from bot.forecasts.services.open_meteo_past import parse_past_days
from rules.garden.doubt import Doubt, DoubtKind

DATA = Path(__file__).parents[2] / "data" / "weather_json"
FORECAST = (DATA / "om_forecast.json").read_text(encoding="utf-8")
ENSEMBLE = (DATA / "om_ensemble.json").read_text(encoding="utf-8")
FETCHED = datetime(2026, 1, 14, 10, 5, tzinfo=UTC)
NAN = np.nan


def answer(air: list[object], *, start: str = "2026-01-14T00:00", offset_s: object = 0, **hourly: Any) -> str:
    """An answer whose hours follow each other on the clock that is written in it."""
    first = datetime.fromisoformat(start)
    times = [(first + timedelta(hours=i)).isoformat(timespec="minutes") for i in range(len(air))]
    units = {name: "°C" for name in ("temperature_2m", *hourly) if name.startswith("temperature")}
    units |= {"time": "iso8601", "wind_speed_10m": "m/s", "cloud_cover": "%"}
    stated = {"time": times, "temperature_2m": air, **hourly}
    place = {"latitude": 39.0, "longitude": -109.0, "utc_offset_seconds": offset_s}
    return json.dumps({**place, "hourly_units": units, "hourly": stated})


def test_local_hours_are_moved_by_the_answers_own_offset_and_units_are_read() -> None:
    forecast = parse_open_meteo(FORECAST, FETCHED)
    weather = forecast.weather
    assert weather.start_utc == datetime(2026, 1, 14, 7, tzinfo=UTC)  # midnight at UTC-7
    np.testing.assert_array_equal(weather.air_c, [-8.1, -8.9, NAN])
    np.testing.assert_array_equal(weather.dew_point_c, [-11.2, -11.5, NAN])
    np.testing.assert_allclose(weather.wind_m_s, [3.2 / 3.6, 2.5 / 3.6, NAN])  # km/h in this answer
    np.testing.assert_allclose(weather.gust_m_s, [9.4 / 3.6, 8.6 / 3.6, NAN])
    np.testing.assert_array_equal(weather.cloud_fraction, [0.04, 0, NAN])
    np.testing.assert_array_equal(weather.sun_w_m2, [0, 0, NAN])


def test_rain_is_water_of_the_hour_before_and_snow_a_depth_in_centimetres() -> None:
    # Open-Meteo's documentation: both a "preceding hour sum"; 7 cm of its snowfall are 10 mm of its precipitation.
    weather = parse_open_meteo(FORECAST, FETCHED).weather
    np.testing.assert_array_equal(weather.precipitation_mm, [0, 1.0, NAN])
    np.testing.assert_allclose(weather.new_snow_m, [0, 0.007, NAN])
    assert weather.new_snow_m[1] * 1000 / weather.precipitation_mm[1] == pytest.approx(70 / 10)


def test_an_answer_from_before_we_asked_for_rain_tells_of_none() -> None:
    weather = parse_open_meteo(answer([-3.0, -4.0]), FETCHED).weather
    assert np.isnan(weather.precipitation_mm).all()
    assert np.isnan(weather.new_snow_m).all()


def test_rain_in_inches_is_read_and_rain_beyond_belief_is_refused_and_counted() -> None:
    body = json.loads(answer([-3.0, -4.0, -5.0], precipitation=[0.5, 0.0, 20.0], snowfall=[1.0, None, 0.0]))
    body["hourly_units"] |= {"precipitation": "inch", "snowfall": "inch"}
    forecast = parse_open_meteo(json.dumps(body), FETCHED)
    np.testing.assert_allclose(forecast.weather.precipitation_mm, [12.7, 0.0, NAN])  # 20 in an hour were 508 mm
    np.testing.assert_allclose(forecast.weather.new_snow_m, [0.0254, NAN, 0.0])
    assert forecast.doubts == (Doubt(kind=DoubtKind.VALUE_REFUSED, subject="precipitation_mm", amount=1.0),)


def test_the_service_does_not_say_when_it_issued_so_our_own_time_counts() -> None:
    forecast = parse_open_meteo(FORECAST, FETCHED)
    assert forecast.issued_utc is None
    assert forecast.known_since_utc == FETCHED
    assert "Open-Meteo" in forecast.credit


def test_members_of_the_ensemble_stand_on_the_same_hours() -> None:
    forecast = parse_open_meteo(FORECAST, FETCHED, ENSEMBLE)
    assert forecast.members_air_c is not None
    np.testing.assert_array_equal(forecast.members_air_c, [[-7.2, -7.8, NAN], [-6.4, -7.1, NAN], [-8.3, -8.6, NAN]])


def test_an_ensemble_that_starts_later_is_missing_before() -> None:
    later = answer([-1.0, -2.0], start="2026-01-14T02:00", temperature_2m_member01=[-3.0, -4.0])
    forecast = parse_open_meteo(answer([-1.0, -1.5, -2.0]), FETCHED, later)
    assert forecast.members_air_c is not None
    np.testing.assert_array_equal(forecast.members_air_c, [[NAN, NAN, -1.0], [NAN, NAN, -3.0]])


def test_an_ensemble_without_members_is_refused() -> None:
    with pytest.raises(WeatherServiceError, match="no members"):
        parse_open_meteo(FORECAST, FETCHED, answer([-1.0, -2.0]))


def test_one_offset_holds_for_the_whole_series_also_across_a_change_of_the_clock() -> None:
    # Asked before the change of 2025-10-26 in Vienna: the service keeps UTC+2 to the end (open-meteo issue 1545), so
    # its "2025-10-27T00:00" is 23:00 on the Vienna clock, as the published daily stamp 1761516000 says.
    weather = parse_open_meteo(answer([5.0] * 73, start="2025-10-24T00:00", offset_s=7200), FETCHED).weather
    assert weather.end_utc == datetime.fromtimestamp(1761516000, UTC)
    assert weather.end_utc.astimezone(ZoneInfo("Europe/Vienna")).strftime("%d %H:%M") == "26 23:00"
    assert weather.hours == 73


def test_unix_times_are_utc_whatever_the_offset() -> None:
    document = json.loads(answer([1.0, 2.0], offset_s=7200))
    document["hourly_units"]["time"] = "unixtime"
    document["hourly"]["time"] = [1761256800, 1761260400]
    assert parse_open_meteo(json.dumps(document), FETCHED).weather.start_utc == datetime(2025, 10, 23, 22, tzinfo=UTC)


@pytest.mark.parametrize("second", ["2026-01-14T00:00", "2026-01-14T02:00"])
def test_hours_that_stand_still_or_jump_are_refused(second: str) -> None:
    document = json.loads(answer([1.0, 2.0]))
    document["hourly"]["time"][1] = second
    with pytest.raises(WeatherServiceError, match="jump at"):
        parse_open_meteo(json.dumps(document), FETCHED)


@pytest.mark.parametrize("offset_s", [None, "UTC", True, 10**9])
def test_local_hours_without_an_offset_are_refused(offset_s: object) -> None:
    with pytest.raises(WeatherServiceError, match="offset"):
        parse_open_meteo(answer([1.0, 2.0], offset_s=offset_s), FETCHED)


def test_hours_of_a_half_hour_zone_are_refused() -> None:
    with pytest.raises(WeatherServiceError, match="off the hour"):
        parse_open_meteo(answer([1.0, 2.0], offset_s=19800), FETCHED)


def test_values_for_other_hours_than_named_are_refused() -> None:
    with pytest.raises(WeatherServiceError, match="cloud_cover for other hours"):
        parse_open_meteo(answer([1.0, 2.0], cloud_cover=[10]), FETCHED)


def test_nulls_at_the_end_of_the_horizon_are_missing_hours() -> None:
    np.testing.assert_array_equal(parse_open_meteo(answer([1.0, None, None]), FETCHED).weather.air_c, [1.0, NAN, NAN])


def test_only_nulls_are_no_forecast() -> None:
    with pytest.raises(WeatherServiceError, match="no temperatures"):
        parse_open_meteo(answer([None, None]), FETCHED)


def test_one_wind_in_the_hundreds_is_refused_and_counted() -> None:
    # 1 048.36 mph stands in a published hourly series (Newark, 2013-02-12T08:00Z): 468.7 m/s.
    forecast = parse_open_meteo(answer([1.0, 2.0, 3.0], wind_speed_10m=[4.0, 468.7, 3.0]), FETCHED)
    np.testing.assert_array_equal(forecast.weather.wind_m_s, [4.0, NAN, 3.0])
    assert forecast.doubts == (Doubt(kind=DoubtKind.VALUE_REFUSED, subject="wind_m_s", amount=1),)


def test_a_series_in_kelvin_is_refused() -> None:
    with pytest.raises(WeatherServiceError, match="Kelvin"):
        parse_open_meteo(answer([265.0, 264.0, 266.0]), FETCHED)


@pytest.mark.parametrize(
    "body", ["", "[]", "null", '{"hourly": {"time": []}}', "<html>", FORECAST[:300], "[" * 100_000]
)
def test_what_is_no_whole_answer_is_no_forecast(body: str) -> None:
    with pytest.raises(WeatherServiceError):
        parse_open_meteo(body, FETCHED)


def test_the_place_is_the_grid_cell() -> None:
    assert place_open_meteo(FORECAST) == (39.0, -109.0)
    assert place_open_meteo('{"latitude": "north"}') is None


def archive(**daily: Any) -> str:
    units = {"temperature_2m_min": "°C", "temperature_2m_max": "°C", "temperature_2m_mean": "°C"}
    return json.dumps({"latitude": 39.0, "longitude": -109.0, "daily_units": units, "daily": daily})


def test_past_days_come_as_dates_and_plain_arrays() -> None:
    days = parse_past_days(
        archive(
            time=["2025-12-31", "2026-01-01", "2026-01-02"],
            temperature_2m_min=[-8.0, None, -9.5],
            temperature_2m_max=[1.0, 2.0, -1.0],
            temperature_2m_mean=[-3.0, -2.0, -5.0],
        )
    )
    assert days.dates == (date(2025, 12, 31), date(2026, 1, 1), date(2026, 1, 2))
    np.testing.assert_array_equal(days.min_c, [-8.0, NAN, -9.5])
    np.testing.assert_array_equal(days.max_c, [1.0, 2.0, -1.0])
    np.testing.assert_array_equal(days.mean_c, [-3.0, -2.0, -5.0])


@pytest.mark.parametrize("time", [[], None, ["2026-01-01", "2026-01-03"], ["2026-01-01", 7], ["yesterday"]])
def test_past_days_with_gaps_or_without_dates_are_refused(time: object) -> None:
    with pytest.raises(WeatherServiceError, match="archive"):
        parse_past_days(archive(time=time, temperature_2m_min=[1.0]))
