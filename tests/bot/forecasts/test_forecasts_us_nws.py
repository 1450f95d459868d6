"""Grid answers of the US National Weather Service: structure after its public documentation, values invented."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from bot.forecasts.kept_answers import WeatherServiceError
from bot.forecasts.services.us_nws import duration, grid_path, parse_us_nws, period_utc, place_us_nws
from rules.garden.doubt import Doubt, DoubtKind

GRID = (Path(__file__).parents[2] / "data" / "weather_json" / "nws_grid.json").read_text(encoding="utf-8")
POINT = (Path(__file__).parents[2] / "data" / "weather_json" / "nws_point.json").read_text(encoding="utf-8")
FETCHED = datetime(2026, 1, 14, 10, 5, tzinfo=UTC)


def grid(**layers: Any) -> str:
    """The documented grid answer with some layers replaced."""
    document = json.loads(GRID)
    document["properties"] |= layers
    return json.dumps(document)


def layer(unit: str, *entries: tuple[str, object]) -> dict[str, Any]:
    return {"uom": unit, "values": [{"validTime": period, "value": value} for period, value in entries]}


@pytest.mark.parametrize(
    ("text", "hours"), [("PT1H", 1), ("PT14H", 14), ("P1D", 24), ("P1DT6H", 30), ("P8DT1H", 193), ("P2DT12H", 60)]
)
def test_durations_are_those_of_iso_8601(text: str, hours: int) -> None:
    assert duration(text) == timedelta(hours=hours)


@pytest.mark.parametrize("text", ["P", "PT", "P1M", "P1Y", "PT1.5H", "1H", "", "P9999999D"])
def test_a_duration_without_a_fixed_length_is_refused(text: str) -> None:
    with pytest.raises(WeatherServiceError, match="duration"):
        duration(text)


def test_a_period_may_be_written_in_three_ways_and_now_may_stand_for_a_time() -> None:
    three, nine = datetime(2026, 1, 14, 3, tzinfo=UTC), datetime(2026, 1, 14, 9, tzinfo=UTC)
    assert period_utc("2026-01-14T03:00:00+00:00/2026-01-14T09:00:00+00:00", FETCHED) == (three, nine)
    assert period_utc("2026-01-13T20:00:00-07:00/PT6H", FETCHED) == (three, nine)
    assert period_utc("PT6H/2026-01-14T09:00:00Z", FETCHED) == (three, nine)
    assert period_utc("NOW/PT2H", FETCHED)[0] == datetime(2026, 1, 14, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    "text",
    ["2026-01-14T09:00:00Z/2026-01-14T03:00:00Z", "2026-01-14T03:00:00Z/P900D", "2026-01-14T03:00:00/PT1H", None],
)
def test_an_impossible_period_is_refused(text: str | None) -> None:
    with pytest.raises(WeatherServiceError):
        period_utc(text, FETCHED)


def test_run_length_values_are_spread_over_their_hours_and_a_null_is_a_missing_hour() -> None:
    forecast = parse_us_nws(GRID, FETCHED)
    assert forecast.weather.start_utc == datetime(2026, 1, 14, 3, tzinfo=UTC)  # hours before it was issued
    np.testing.assert_allclose(forecast.weather.air_c, [-2.7778, -4.4444, -4.4444, np.nan], atol=1e-4)
    np.testing.assert_allclose(forecast.weather.dew_point_c, [-8.3333] * 4, atol=1e-4)
    assert forecast.issued_utc == datetime(2026, 1, 14, 9, 41, 12, tzinfo=UTC)
    assert "National Weather Service" in forecast.credit


def test_wind_comes_in_km_h_and_cloud_in_percent() -> None:
    weather = parse_us_nws(GRID, FETCHED).weather
    np.testing.assert_allclose(weather.wind_m_s, [5.556 / 3.6] * 3 + [np.nan])
    np.testing.assert_allclose(weather.gust_m_s, [18.52 / 3.6] * 4)
    np.testing.assert_allclose(weather.cloud_fraction, [0.12] * 4)
    assert np.isnan(weather.sun_w_m2).all()  # the service has no such layer


def test_snow_is_a_sum_over_its_period_and_is_shared_out_over_its_hours() -> None:
    # The three periods of weather-gov/api issue 134, in mm, of which an advisory said 8 inches in all; sums, not rates
    # (issue 21), else it were 49 inches.
    snow = layer(
        "wmoUnit:mm",
        ("2026-01-14T12:00:00+00:00/PT6H", 63.5),
        ("2026-01-14T18:00:00+00:00/PT6H", 116.84),
        ("2026-01-15T00:00:00+00:00/PT6H", 27.94),
    )
    air = layer("wmoUnit:degC", ("2026-01-14T03:00:00+00:00/P2D", -2.0))
    weather = parse_us_nws(grid(temperature=air, snowfallAmount=snow), FETCHED).weather
    assert np.nansum(weather.new_snow_m) == pytest.approx(8.2 * 0.0254, abs=1e-4)  # stated to a tenth of an inch
    twelve, six = 12 - 3, 18 + 12 - 3  # marks after 03Z
    np.testing.assert_allclose(weather.new_snow_m[twelve + 1 : twelve + 7], 0.0635 / 6)  # at 13Z to 18Z
    assert np.isnan(weather.new_snow_m[: twelve + 1]).all()
    assert np.isnan(weather.new_snow_m[six + 1 :]).all()
    assert np.isnan(weather.precipitation_mm).all()  # not in this answer: unknown, never none


def test_rain_of_a_period_off_the_hour_keeps_its_sum_and_a_null_tells_nothing() -> None:
    air = layer("wmoUnit:degC", ("2026-01-14T03:00:00+00:00/PT12H", 4.0))
    rain = layer(
        "wmoUnit:mm",
        ("2026-01-14T03:30:00+00:00/PT2H", 6.0),
        ("2026-01-14T05:30:00+00:00/PT1H", 0),
        ("2026-01-14T08:00:00+00:00/PT1H", None),
    )
    fallen_mm = parse_us_nws(grid(temperature=air, quantitativePrecipitation=rain), FETCHED).weather.precipitation_mm
    np.testing.assert_allclose(fallen_mm[:6], [np.nan, 1.5, 3.0, 1.5, 0.0, np.nan])


@pytest.mark.parametrize(
    ("unit", "value"),
    [("wmoUnit:degC", -5.0), ("unit:degC", -5.0), ("degC", -5.0), ("wmoUnit:degF", 23.0), ("uc:K", 268.15)],
)
def test_prefixes_do_not_matter_and_units_do(unit: str, value: float) -> None:
    body = grid(temperature=layer(unit, ("2026-01-14T03:00:00+00:00/PT2H", value)))
    np.testing.assert_allclose(parse_us_nws(body, FETCHED).weather.air_c, [-5.0, -5.0])


def test_temperatures_in_an_unknown_unit_are_refused_by_name() -> None:
    with pytest.raises(WeatherServiceError, match=r"degRe.*a unit we do not know"):
        parse_us_nws(grid(temperature=layer("wmoUnit:degRe", ("2026-01-14T03:00:00Z/PT2H", -4.0))), FETCHED)


def test_wind_in_an_unknown_unit_is_missing_and_counted() -> None:
    forecast = parse_us_nws(grid(windSpeed=layer("wmoUnit:furlong", ("2026-01-14T03:00:00Z/PT2H", 4.0))), FETCHED)
    assert np.isnan(forecast.weather.wind_m_s).all()
    assert Doubt(kind=DoubtKind.VALUE_REFUSED, subject="wind_m_s", amount=2) in forecast.doubts


def test_kelvin_called_celsius_is_refused() -> None:
    body = grid(temperature=layer("wmoUnit:degC", ("2026-01-14T03:00:00Z/PT9H", 268.15)))
    with pytest.raises(WeatherServiceError, match=r"268\.15 °C, beyond belief"):
        parse_us_nws(body, FETCHED)


def test_a_value_in_the_thousands_is_a_missing_hour_and_is_counted() -> None:
    entries = [
        ("2026-01-14T03:00:00Z/PT4H", -4.0),
        ("2026-01-14T07:00:00Z/PT1H", 9999.0),
        ("2026-01-14T08:00:00Z/PT1H", -5),
    ]
    forecast = parse_us_nws(grid(temperature=layer("wmoUnit:degC", *entries)), FETCHED)
    np.testing.assert_array_equal(forecast.weather.air_c, [-4, -4, -4, -4, np.nan, -5])
    assert forecast.doubts == (Doubt(kind=DoubtKind.VALUE_REFUSED, subject="air_c", amount=1),)


def test_a_text_where_a_number_was_due_is_refused_not_guessed() -> None:
    entries = [("2026-01-14T03:00:00Z/PT4H", -4.0), ("2026-01-14T07:00:00Z/PT1H", "-30")]
    forecast = parse_us_nws(grid(temperature=layer("wmoUnit:degC", *entries)), FETCHED)
    np.testing.assert_array_equal(forecast.weather.air_c, [-4, -4, -4, -4, np.nan])


@pytest.mark.parametrize("empty", [{"uom": "wmoUnit:degC", "values": []}, {}, None])
def test_an_empty_layer_of_dew_points_is_missing_hours(empty: object) -> None:
    assert np.isnan(parse_us_nws(grid(dewpoint=empty), FETCHED).weather.dew_point_c).all()


@pytest.mark.parametrize("empty", [{"uom": "wmoUnit:degC", "values": []}, {}, None])
def test_an_answer_without_temperatures_is_no_forecast(empty: object) -> None:
    with pytest.raises(WeatherServiceError, match="holds no temperatures"):
        parse_us_nws(grid(temperature=empty), FETCHED)


def test_an_answer_without_its_time_of_issue_is_no_forecast() -> None:
    with pytest.raises(WeatherServiceError, match="time"):
        parse_us_nws(grid(updateTime=None), FETCHED)


def test_grid_numbers_may_be_texts() -> None:
    assert parse_us_nws(grid(gridX="86", gridY="105"), FETCHED).weather.hours == 4


@pytest.mark.parametrize("cut", [10, 400, len(GRID) - 3])
def test_an_answer_cut_in_the_middle_is_no_forecast(cut: int) -> None:
    with pytest.raises(WeatherServiceError, match="broke off"):
        parse_us_nws(GRID[:cut], FETCHED)


def test_the_grid_cell_lies_at_the_middle_of_its_corners() -> None:
    assert place_us_nws(GRID) == pytest.approx((39.002, -109.002), abs=0.01)
    assert place_us_nws('{"geometry": null}') is None


def test_the_point_names_its_grid() -> None:
    assert grid_path(POINT) == "/gridpoints/KBX/86,105"
    with pytest.raises(WeatherServiceError, match="no forecast grid"):
        grid_path('{"properties": {"forecastGridData": null}}')
