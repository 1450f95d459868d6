"""Several services together: scores against an independent library, against each alone, and what they make of hours."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import numpy.typing as npt
import pytest

from rules.garden.doubt import DoubtKind
from rules.garden.tree import Site
from rules.learning import ForecastMiss, LearnedServices, blended, learn_forecast, learn_services, weights_of
from rules.weather.hourly import Forecast, night_minima
from rules.weather.members import members
from tests.hourly import hours_of
from tests.rules.learning.drawn_services import GARDENS, crps_c, held, told_night_by_night

Floats = npt.NDArray[np.float64]

SITE = Site(latitude_deg=45.0, longitude_deg=0.0, elevation_m=300, time_zone="UTC")
NOW = datetime(2026, 1, 5, 15, tzinfo=UTC)
START = NOW - timedelta(hours=15)


def told(service: str, low_c: float, hours: int = 96, raw: Floats | None = None) -> Forecast:
    """A forecast of sine days, `low_c` at 06:00 and 10 °C more at 18:00, made at 12:00."""
    weather = hours_of(START, low_c + 5 - 5 * np.cos(2 * np.pi * (np.arange(hours) - 6) / 24))
    made = NOW - timedelta(hours=3)
    return Forecast(
        service=service, issued_utc=made, fetched_utc=made, weather=weather, members_air_c=raw, credit=f"by {service}"
    )


def misses(bias_c: float, nights: int, sd_c: float = 0.0, seed: int = 1) -> list[ForecastMiss]:
    rng = np.random.default_rng(seed)
    return [
        ForecastMiss(
            evening=date(2025, 11, 1) + timedelta(days=n), lead_h=18.0, error_c=float(bias_c + rng.normal(0, sd_c)),
            told_c=-5.0,
        )
        for n in range(nights)
    ]  # fmt: skip


def lows(forecast: Forecast) -> list[float]:
    return [low.air_c for low in night_minima(forecast.weather, SITE.zone) if low.at_utc > NOW][:3]


def test_our_score_of_normal_forecasts_is_that_of_an_independent_library() -> None:
    scoringrules = pytest.importorskip("scoringrules")
    rng = np.random.default_rng(3)
    mean, sd, came = rng.normal(0, 5, 50), rng.uniform(0.5, 4, 50), rng.normal(0, 6, 50)
    assert crps_c(mean, sd, came) == pytest.approx(scoringrules.crps_normal(came, mean, sd), rel=1e-9)


@pytest.mark.parametrize("kind", list(GARDENS))
def test_services_together_are_no_worse_than_the_best_of_them_and_their_intervals_are_true(kind: str) -> None:
    """The last winter of a drawn garden; the airports' one year whole."""
    nights = GARDENS[kind](1)
    last = slice(0 if kind == "airports" else len(nights) // 2, None)
    came_c = np.array([one.came_c for one in nights])[last]
    found = {name: (mean_c[last], sd_c[last]) for name, (mean_c, sd_c) in told_night_by_night(nights).items()}
    score = {name: float(crps_c(*own, came_c).mean()) for name, own in found.items()}
    assert score["blend"] < min(score[name] for name in nights[0].told_c) + 0.03  # two hundredths are chance
    assert score["blend"] < score["usual"]
    assert score["blend"] < min(one for name, one in score.items() if name.endswith("7 nights")) + 0.03
    assert held(*found["blend"], came_c, 0.8) == pytest.approx(0.8, abs=0.06)  # goal 3 points, 210 nights scatter by 3
    assert held(*found["blend"], came_c, 0.9) == pytest.approx(0.9, abs=0.04)
    if kind == "basin":  # as counted at Innsbruck: 2.24 by a moving bias, 1.85 by the usual, 1.29 by slope and season
        assert score["coarse, 7 nights"] > score["usual"]
        assert score["coarse"] < 0.85 * score["coarse, 7 nights"]


def test_two_equal_services_share_and_are_a_little_surer_than_one() -> None:
    shares, sd_c = weights_of(np.array([2.0, 2.0]), 0.7)
    assert shares.tolist() == pytest.approx([0.5, 0.5])
    assert sd_c == pytest.approx(2.0 * np.sqrt(0.85))


def test_a_far_worse_service_that_errs_alike_counts_nothing_and_never_less() -> None:
    shares, sd_c = weights_of(np.array([1.0, 4.0]), 0.7)
    assert shares.tolist() == [1.0, 0.0]
    assert sd_c == 1.0


def test_before_any_night_the_word_of_one_service_stands_untouched() -> None:
    alone = told("one", -6.0)
    assert blended([alone], LearnedServices(by_name={}), SITE, NOW).forecast is alone


def test_a_service_alone_is_moved_by_what_was_learned_of_it_and_the_past_is_left() -> None:
    alone = told("one", -6.0)
    learned = learn_services({"one": misses(2.0, 60, 1.0)})
    found = blended([alone], learned, SITE, NOW)
    assert lows(found.forecast) == pytest.approx([-8.0] * 3, abs=0.4)
    gone = alone.weather.index_of(NOW) + 1
    assert found.forecast.weather.air_c[:gone].tolist() == alone.weather.air_c[:gone].tolist()
    assert found.error.nights == 60


def test_each_is_corrected_by_its_own_habits_before_they_are_weighed() -> None:
    learned = learn_services({"one": misses(2.0, 60, 1.0, 1), "two": misses(-4.0, 60, 1.0, 2)})
    found = blended([told("one", -6.0), told("two", -12.0)], learned, SITE, NOW)
    assert lows(found.forecast) == pytest.approx([-8.0] * 3, abs=0.4)
    assert sum(found.shares.values()) == pytest.approx(1.0)
    assert found.forecast.credit == "by one; by two"
    assert found.doubts == ()


def test_services_that_differ_by_more_than_their_doubt_say_so() -> None:
    found = blended([told("one", -2.0), told("two", -9.0)], LearnedServices(by_name={}), SITE, NOW)
    assert [one.kind for one in found.doubts] == [DoubtKind.SERVICES_DIFFER]
    assert found.doubts[0].amount == pytest.approx(7.0)


def test_a_service_that_ends_early_counts_for_the_nights_it_knows() -> None:
    both = [told("one", -6.0), told("two", -10.0, hours=36)]
    first, second, _ = lows(blended(both, LearnedServices(by_name={}), SITE, NOW).forecast)
    assert first == pytest.approx(-8.0, abs=0.05)
    assert second == pytest.approx(-6.0, abs=0.3)


def test_members_of_whichever_service_gives_them_lie_about_the_common_curve() -> None:
    raw = told("two", -7.0).weather.air_c + np.linspace(-2, 2, 11)[:, None]
    found = blended([told("one", -6.0), told("two", -8.0, raw=raw)], LearnedServices(by_name={}), SITE, NOW)
    assert found.forecast.members_air_c is not None
    np.testing.assert_allclose(found.forecast.members_air_c.mean(axis=0), found.forecast.weather.air_c, atol=1e-9)
    spread = members(found.forecast, NOW, error=found.error)
    ahead = slice(found.forecast.weather.index_of(NOW) + 1, None)
    np.testing.assert_allclose(spread.mean(axis=0)[ahead], found.forecast.weather.air_c[ahead], atol=1e-9)


def test_two_published_services_together_are_as_sure_as_their_correlation_allows() -> None:
    found = blended([told("one", -6.0), told("two", -6.0)], LearnedServices(by_name={}), SITE, NOW)
    assert found.error.scale == pytest.approx(np.sqrt(0.85))


def test_the_learned_correlation_of_errors_is_found_again() -> None:
    rng = np.random.default_rng(8)
    shared = rng.normal(size=400)
    for truth in (0.3, 0.9):
        own = [np.sqrt(truth) * shared + np.sqrt(1 - truth) * rng.normal(size=400) for _ in range(2)]
        both = {
            name: [replace(one, error_c=float(2 * e)) for one, e in zip(misses(0.0, 400), errors, strict=True)]
            for name, errors in zip(("one", "two"), own, strict=True)
        }
        assert learn_services(both).together == pytest.approx(truth, abs=0.1)


def test_a_hole_in_what_a_service_told_leaves_slope_and_season_as_they_were_assumed() -> None:
    bare = learn_forecast([replace(one, told_c=float("nan")) for one in misses(1.0, 40, 0.5)])
    assert bare.mean[4:].tolist() == [0.0, 0.0, 0.0]
