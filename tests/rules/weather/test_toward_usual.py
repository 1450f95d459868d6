"""Nights far ahead drawn toward the usual of the season: how far, which not, and what it is worth."""

from datetime import date

import numpy as np
import numpy.typing as npt
import pytest

from rules.weather.climatology import as_it_came, read_by_the_past, shrinkage, toward_usual, usual_minima
from rules.weather.daily_minima import DailyMinima
from rules.weather.hourly import Forecast, night_minima
from rules.weather.members import members
from tests.rules.plan.plan_gardens import NOW, SITE, days_of_air, forecast_of

Floats = npt.NDArray[np.float64]
USUAL_C = 2.0
COLD = ([-12.0] * 9, [-2.0] * 9)  # day after day far below the usual


def winters(sd_c: float = 4.0) -> DailyMinima:
    """Twenty-four years of nights about the usual, as a normal climate has them."""
    return DailyMinima(
        first=date(2000, 7, 1), min_c=USUAL_C + sd_c * np.random.default_rng(6).standard_normal(24 * 365)
    )


def drawn(forecast: Forecast, climate: DailyMinima | None, *, of_one: bool = True) -> tuple[Floats, Floats]:
    """Members before and after, each (members, hours)."""
    before = members(forecast, NOW, 31)
    lead_h = np.arange(forecast.weather.hours, dtype=np.float64)
    return before, toward_usual(before, forecast.weather, lead_h, climate, SITE, of_one=of_one)


def test_the_best_estimate_leans_by_the_share_a_regression_finds() -> None:
    """Truth about the usual, a forecast that is the truth plus an error: least squares of numpy on 200 000 draws."""
    chance = np.random.default_rng(3)
    truth = USUAL_C + 4.0 * chance.standard_normal(200_000)
    told = truth + 2.5 * chance.standard_normal(200_000)
    slope, _ = np.polyfit(told - USUAL_C, truth - USUAL_C, 1)
    assert slope == pytest.approx(1.0 - float(shrinkage(2.5, 4.0)), abs=0.01)  # one sd of such a slope is 0.002


def test_what_comes_when_a_low_is_told_is_what_past_winters_of_a_normal_climate_make_of_it() -> None:
    """Against the linear answer, which is exact where the past is normal; and no colder past, no colder answer."""
    past = USUAL_C + 4.0 * np.random.default_rng(4).standard_normal((1, 4000))
    told = np.array([-4.0, 2.0, 6.0])
    mean, spread = as_it_came(told, np.full(3, 2.5), past)
    lean = float(shrinkage(2.5, 4.0))
    assert mean == pytest.approx(told + lean * (USUAL_C - told), abs=0.15)  # 4000 lows: their own scatter
    assert spread == pytest.approx(np.full(3, 2.5 * np.sqrt(1.0 - lean)), abs=0.15)


def test_tonight_and_tomorrow_stand_as_they_are_told() -> None:
    """Counted forecasts of the next day lean too little by less than 0.1 of their distance from the usual (weather
    service at ten western valley cities, 24 h, October to April)."""
    before, after = drawn(forecast_of(days_of_air(*COLD)), winters())
    moved = (after - before).mean(axis=0)
    off_c = USUAL_C - COLD[0][0]
    assert np.abs(moved[:12]).max() < 0.01 * off_c
    assert np.abs(moved[:36]).max() < 0.1 * off_c


def test_a_cold_week_told_nine_days_ahead_comes_about_half_as_far_from_the_usual_and_is_surer() -> None:
    forecast = forecast_of(days_of_air(*COLD))
    before, after = drawn(forecast, winters())
    minima = [
        [night.air_c for night in night_minima(forecast.weather, SITE.zone, air_c=one.mean(axis=0)) if night.complete]
        for one in (before, after)
    ]
    moved = np.array(minima[1]) - np.array(minima[0])
    assert (np.diff(moved) > 0.0).all()  # each night a little more than the one before
    off_c = USUAL_C - minima[0][-1]
    assert 0.4 * off_c < moved[-1] < 0.6 * off_c  # as likely an error of 4.2 °C beyond the next day's as a sd of 4
    assert (after.std(axis=0)[24:] < before.std(axis=0)[24:]).all()


def test_a_night_told_colder_than_any_on_record_is_not_drawn_to_the_record() -> None:
    past = np.linspace(-6.0, 10.0, 400)[None]
    mean, spread = as_it_came(np.array([-20.0]), np.array([0.5]), past)
    assert -20.0 < mean[0] < -19.0
    assert 0.0 < spread[0] < 1.0


def test_what_a_forecast_of_the_next_day_is_off_by_leans_nothing_and_stays_in_the_spread() -> None:
    past = USUAL_C + 4.0 * np.random.default_rng(4).standard_normal((1, 4000))
    told = np.array([-4.0, -4.0])
    mean, spread = read_by_the_past(told, np.array([2.2, 4.0]), 2.2, past)
    assert mean[0] == pytest.approx(-4.0)
    assert spread[0] == pytest.approx(2.2)
    lean = float(shrinkage(np.sqrt(4.0**2 - 2.2**2), 4.0))
    assert mean[1] == pytest.approx(-4.0 + lean * 6.0, abs=0.2)


def test_who_knows_no_past_winters_changes_nothing() -> None:
    forecast = forecast_of(days_of_air(*COLD))
    before, after = drawn(forecast, None)
    assert after is before
    few = DailyMinima(first=date(2020, 1, 1), min_c=np.zeros(4 * 365))
    assert drawn(forecast, few)[1] == pytest.approx(before)


def test_the_mean_of_an_ensemble_leans_by_itself_and_keeps_its_place() -> None:
    before, after = drawn(forecast_of(days_of_air(*COLD)), winters(), of_one=False)
    assert after.mean(axis=0) == pytest.approx(before.mean(axis=0))
    assert after.std(axis=0)[-1] < before.std(axis=0)[-1]


def test_the_usual_is_the_mean_of_the_years_and_its_sd_theirs() -> None:
    rows = np.array([[-4.0] * 60, [8.0] * 60])
    usual_c, sd_c = usual_minima(rows)
    assert usual_c == pytest.approx(np.full(60, 2.0))
    assert sd_c == pytest.approx(6.0)
