"""Forecasts of past winters: wrong as published ones are, from night to night and update to update, and read well."""

import numpy as np
import numpy.typing as npt
import pytest

from rules.plan.season.felt_winters import seasons_of, told_errors_c
from rules.plan.season.forecast_errors import forecast_errors_c, sigma_by_lead_c
from rules.weather.daily_minima import DailyMinima
from rules.weather.members import WINTER_SD_C, lead_sigma_c, members
from tests.high_plains import high_plains
from tests.rules.plan.plan_gardens import NOW, SITE, forecast_of
from tests.rules.wood.winter_records import PLACES

Floats = npt.NDArray[np.float64]
WINTER = (11, 12, 1, 2, 3)


def alike(one: Floats, other: Floats) -> float:
    """Correlation of two arrays of one shape."""
    return float(np.corrcoef(one.ravel(), other.ravel())[0, 1])


DRAWN = forecast_errors_c(600, 60, np.random.default_rng(1))  # 36 000 nights: correlations within 0.01


def test_tonight_s_forecast_is_as_wrong_as_last_night_s_was_as_often_as_published_ones() -> None:
    """Correlation 0.21 of the errors of successive nights (National Weather Service, ten valley cities, 2021-22).

    Counted on some 2 000 nights: give or take 0.04, two standard errors.
    """
    assert alike(DRAWN[:, :-1, 0], DRAWN[:, 1:, 0]) == pytest.approx(0.21, abs=0.04)


def test_what_one_day_s_news_changes_of_two_nights_hangs_together_as_nights_of_one_forecast_do() -> None:
    """The garden's members are drawn by another model; half of an error is shared a day apart: assumed in both."""
    news = DRAWN[:, 1:, :-1] - DRAWN[:, :-1, 1:]  # the same nights, told a day later
    course = members(forecast_of(np.full(240, 0.0)), NOW, 401)
    apart = [alike(course[:, hour], course[:, hour + 24]) for hour in range(100, 210, 5)]
    growing = int((np.diff(np.square(sigma_by_lead_c())) > 0.0).sum())  # at the last leads there is no news
    together = [alike(news[..., lead], news[..., lead + 1]) for lead in range(growing - 1)]
    assert np.mean(together) == pytest.approx(np.mean(apart), abs=0.06)


def test_forecasts_are_heard_until_they_know_no_more_than_any_winter_night_and_hardly_longer() -> None:
    """Published errors grow to the sd of winter lows at seven and a half days."""
    knows_nothing = sigma_by_lead_c() >= WINTER_SD_C - 1e-9
    assert knows_nothing[-1]
    assert knows_nothing.sum() <= 2


def nights_and_told(sd_c: float) -> tuple[Floats, Floats]:
    """Nights with this spread about the usual, and what the best estimate of each night ahead told: by lead."""
    came = np.random.default_rng(2).normal(0.0, sd_c, (300, 81))
    error = told_errors_c(came)
    leads = np.lib.stride_tricks.sliding_window_view(came[:, 1:], error.shape[-1], axis=1)
    return leads, leads + error[:, : leads.shape[1]]


@pytest.mark.parametrize("sd_c", [2.6, 4.7])
def test_where_a_best_estimate_tells_so_many_degrees_below_the_usual_so_many_come(sd_c: float) -> None:
    """It leaves nothing that could be told better by a line; 20 000 nights, three standard errors."""
    came, told = nights_and_told(sd_c)
    for lead in (0, 2, 4):
        assert np.polyfit(told[..., lead].ravel(), came[..., lead].ravel(), 1)[0] == pytest.approx(1.0, abs=0.05)


def test_a_best_estimate_is_no_further_off_than_the_forecast_nor_than_the_usual() -> None:
    for sd_c in (2.6, 4.7):
        came, told = nights_and_told(sd_c)
        off_c = (told - came).std(axis=(0, 1))
        assert (off_c <= 1.02 * np.minimum(sigma_by_lead_c(), sd_c)).all()


def test_where_each_night_is_as_the_last_year_s_nothing_is_told_far_off() -> None:
    """Half the error of a published forecast of the next day, and no more of the days after."""
    error = told_errors_c(np.zeros((300, 81)))
    assert (error.std(axis=(0, 1)) < 0.5 * lead_sigma_c(24.0)).all()


def test_a_day_whose_warmest_nobody_kept_swings_as_days_of_real_winters_do() -> None:
    """Between the least and the most of four places whose trees are covered or nearly are."""
    swings = []
    for place in ("newark", "greensboro", "north italy", "high plains"):
        days = [(low, high) for day, low, high, _ in PLACES[place][3]() if day.month in WINTER]
        swings.append(np.mean([high - low for low, high in days]))
    record = high_plains()
    seasons = seasons_of(DailyMinima(first=record.first, min_c=record.min_c), SITE)
    assert seasons is not None
    assert min(swings) < float((seasons.max_c - seasons.min_c).mean()) < max(swings)
