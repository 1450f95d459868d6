"""Answers of MET Norway's Locationforecast: structure after its public documentation, values invented."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from bot.forecasts.kept_answers import WeatherServiceError
from bot.forecasts.services.met_norway import parse_met_norway, place_met_norway

COMPLETE = (Path(__file__).parents[2] / "data" / "weather_json" / "met_complete.json").read_text(encoding="utf-8")
FETCHED = datetime(2026, 1, 14, 10, 5, tzinfo=UTC)


def complete(*instants: tuple[str, dict[str, Any]], **units: str) -> str:
    """The documented answer with other instants."""
    document = json.loads(COMPLETE)
    document["properties"]["meta"]["units"] |= units
    document["properties"]["timeseries"] = [
        {"time": time, "data": {"instant": {"details": details}}} for time, details in instants
    ]
    return json.dumps(document)


def test_instants_in_utc_stand_on_their_hours_and_absent_keys_are_missing() -> None:
    forecast = parse_met_norway(COMPLETE, FETCHED)
    weather = forecast.weather
    assert weather.start_utc == datetime(2026, 1, 14, 10, tzinfo=UTC)
    assert weather.end_utc == datetime(2026, 1, 23, 12, tzinfo=UTC)
    known = {hour: weather.air_c[hour] for hour in np.flatnonzero(np.isfinite(weather.air_c)).tolist()}
    assert known == {0: -9.1, 86: -3.0, 218: -1.0}  # 14 Jan 10Z, 18 Jan 00Z, 23 Jan 12Z
    assert (weather.dew_point_c[0], weather.wind_m_s[86]) == (-12.0, 1.9)
    assert weather.cloud_fraction[0] == pytest.approx(0.031)
    assert np.isnan(weather.gust_m_s).all()
    assert np.isnan(weather.wind_m_s[218])


def fallen(time: str, **periods: float) -> dict[str, Any]:
    """One step with what falls in the hours after it."""
    ahead = {name: {"details": {"precipitation_amount": sum_mm}} for name, sum_mm in periods.items()}
    return {"time": time, "data": {"instant": {"details": {"air_temperature": 1.0}}, **ahead}}


def test_rain_of_the_next_hours_stands_at_the_marks_that_end_them() -> None:
    # Where hourly steps give way to steps of six hours, only the hours not yet told are shared out.
    document = json.loads(COMPLETE)
    document["properties"]["timeseries"] = [
        fallen("2026-01-14T10:00:00Z", next_1_hours=0.4, next_6_hours=9.0),
        fallen("2026-01-14T11:00:00Z", next_1_hours=0.0, next_6_hours=9.0),
        fallen("2026-01-14T12:00:00Z", next_6_hours=3.0),
        fallen("2026-01-14T18:00:00Z"),
        fallen("2026-01-15T00:00:00Z", next_6_hours=1.2),
    ]
    weather = parse_met_norway(json.dumps(document), FETCHED).weather
    six_hours = [np.nan] * 6
    np.testing.assert_allclose(weather.precipitation_mm, [np.nan, 0.4, 0.0, *[0.5] * 6, *six_hours])
    assert np.isnan(weather.new_snow_m).all()  # the service has no depth of snow


def test_issue_time_and_credit_are_the_services_own() -> None:
    forecast = parse_met_norway(COMPLETE, FETCHED)
    assert forecast.issued_utc == datetime(2026, 1, 14, 9, 31, 2, tzinfo=UTC)
    assert "MET Norway" in forecast.credit
    assert forecast.sigma_c is None


def test_percentiles_become_one_standard_deviation() -> None:
    # Of a normal curve: (p90 - p10) / (2 x 1.28155) = 6 / 2.5631 = 2.341.
    body = complete(
        (
            "2026-01-14T10:00:00Z",
            {"air_temperature": -9.0, "air_temperature_percentile_10": -12.0, "air_temperature_percentile_90": -6.0},
        ),
        ("2026-01-14T11:00:00Z", {"air_temperature": -9.0}),
        (
            "2026-01-14T12:00:00Z",
            {"air_temperature": -9.0, "air_temperature_percentile_10": -6.0, "air_temperature_percentile_90": -12.0},
        ),
    )
    sigma_c = parse_met_norway(body, FETCHED).sigma_c
    assert sigma_c is not None
    np.testing.assert_allclose(sigma_c, [2.341, np.nan, np.nan], atol=5e-4)


def test_an_hour_given_twice_is_refused() -> None:
    twice = ("2026-01-14T10:00:00Z", {"air_temperature": -9.0})
    with pytest.raises(WeatherServiceError, match="twice"):
        parse_met_norway(complete(twice, twice), FETCHED)


def test_a_time_without_its_offset_is_refused() -> None:
    with pytest.raises(WeatherServiceError, match="offset from UTC"):
        parse_met_norway(complete(("2026-01-14T10:00:00", {"air_temperature": -9.0})), FETCHED)


def test_temperatures_stated_in_kelvin_are_converted_and_unstated_kelvin_is_refused() -> None:
    instants = [(f"2026-01-14T{hour}:00:00Z", {"air_temperature": 268.15}) for hour in (10, 11)]
    forecast = parse_met_norway(complete(*instants, air_temperature="kelvin"), FETCHED)
    np.testing.assert_allclose(forecast.weather.air_c, [-5.0, -5.0])
    with pytest.raises(WeatherServiceError, match="Kelvin"):
        parse_met_norway(complete(*instants), FETCHED)


@pytest.mark.parametrize("body", ["{}", COMPLETE[:600], '{"properties": {"timeseries": [3, null]}}'])
def test_what_is_no_whole_answer_is_no_forecast(body: str) -> None:
    with pytest.raises(WeatherServiceError):
        parse_met_norway(body, FETCHED)


def test_a_series_over_a_century_is_refused() -> None:
    span = [("1926-01-14T10:00:00Z", {"air_temperature": 1.0}), ("2026-01-14T10:00:00Z", {"air_temperature": 1.0})]
    with pytest.raises(WeatherServiceError, match="more than we believe"):
        parse_met_norway(complete(*span), FETCHED)


def test_the_place_is_given_east_first() -> None:
    assert place_met_norway(COMPLETE) == (39.0, -109.0)
