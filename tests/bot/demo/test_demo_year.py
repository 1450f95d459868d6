"""The invented year: weather that a forecaster would believe, and the first days of its conversation."""

import io
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from bot.demo.weather import FORECAST_H, invented_forecast, invented_truth, invented_winters
from bot.demo.year import run_year
from bot.forecasts import dump_forecast, parse_saved
from bot.settings import Garden, read_garden
from rules.weather.hourly import HourlyWeather, night_minima
from rules.weather.members import lead_sigma_c
from rules.weather.minima_table import parse_daily_minima
from tests.bot.household_phones import demo_garden

CONFIG = Path(__file__).parents[3] / "demo_config"
FIRST = date(2025, 9, 1)


@pytest.fixture(scope="module")
def garden() -> Garden:
    return read_garden(CONFIG / "larkmoor.toml", today=date(2025, 11, 25))


@pytest.fixture(scope="module")
def truth(garden: Garden) -> HourlyWeather:
    return invented_truth(garden.site, FIRST, 365, np.random.default_rng(1))


def test_the_same_seed_makes_the_same_year(garden: Garden, truth: HourlyWeather) -> None:
    again = invented_truth(garden.site, FIRST, 365, np.random.default_rng(1))
    assert np.array_equal(again.air_c, truth.air_c)


def test_nights_are_coldest_near_sunrise_and_winters_colder_than_summers(garden: Garden, truth: HourlyWeather) -> None:
    nights = night_minima(truth, garden.site.zone)
    hours = [night.at_utc.astimezone(garden.site.zone).hour for night in nights if night.complete]
    assert np.median(hours) in (6, 7)  # sunrise there is between 5:50 and 7:25 by the clock
    winter = [night.air_c for night in nights if night.evening.month in (12, 1, 2)]
    summer = [night.air_c for night in nights if night.evening.month in (6, 7)]
    assert max(winter) < min(summer)


def test_no_sun_shines_at_midnight(garden: Garden, truth: HourlyWeather) -> None:
    at = truth.index_of(datetime(2026, 6, 21, 7, tzinfo=UTC))  # 07:00 UTC is an hour past midnight there
    assert truth.sun_w_m2[at] == 0.0
    assert truth.sun_w_m2[at + 12] > 300.0


def test_a_dry_valley_has_its_rain_and_snow(truth: HourlyWeather) -> None:
    # 150 to 400 mm a year: the semi-arid class of the FAO's aridity zones, for a place of this kind, from memory
    assert 150 < truth.precipitation_mm.sum() < 400
    assert (truth.precipitation_mm == 0).mean() > 0.8
    frosty = truth.precipitation_mm[truth.air_c < -1.0]
    assert frosty.sum() > 5.0  # some of it snow


def test_forecast_errors_grow_with_lead_as_a_service_s_do(garden: Garden, truth: HourlyWeather) -> None:
    days = [datetime(2025, 9, 20, 11, tzinfo=UTC) + timedelta(days=i) for i in range(330)]
    told = [invented_forecast(truth, at, garden.site, 1, 24) for at in days]
    for lead_h in (24, 96):
        errors = [
            one.weather.air_c[24 + lead_h] - truth.air_c[truth.index_of(at + timedelta(hours=lead_h))]
            for one, at in zip(told, days, strict=True)
        ]
        # 330 draws, neighbours alike: the sd is known to about a tenth
        assert np.std(errors) == pytest.approx(float(lead_sigma_c(np.array([lead_h]))[0]), rel=0.2)


def test_a_forecast_knows_the_past_and_survives_being_saved(garden: Garden, truth: HourlyWeather) -> None:
    issued = datetime(2026, 1, 14, 11, tzinfo=UTC)
    one = invented_forecast(truth, issued, garden.site, 1, 24)
    at = truth.index_of(issued)
    assert np.allclose(one.weather.air_c[:25], truth.air_c[at - 24 : at + 1], atol=0.051)  # one decimal is kept
    assert one.weather.hours == 24 + FORECAST_H
    assert np.array_equal(parse_saved(dump_forecast(one), issued).weather.air_c, one.weather.air_c)


def test_past_winters_are_a_table_a_grower_could_give() -> None:
    winters = parse_daily_minima(invented_winters(date(2015, 1, 1), 3650, np.random.default_rng(2)))
    assert winters.min_c.shape == (3650,)
    assert -25.0 < float(np.nanmin(winters.min_c)) < -8.0


def test_ten_days_of_the_year_are_told_and_counted(tmp_path: Path) -> None:
    out = io.StringIO()
    assert run_year(out, demo_garden(tmp_path, "Porch fig").parent, days=10) == 0
    story = out.getvalue()
    assert "Rowan: picked 14 from porch" in story
    assert "Noted: 14 picked from Porch fig." in story
    assert "Messages sent unasked, by month:" in story
    assert "2025-09" in story
    assert "stumbled" not in story
