"""Members: the published error at every lead, the same each time, moving with the forecast."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.weather.hourly import Forecast
from rules.weather.members import PUBLISHED, ForecastError, lead_sigma_c, members
from tests.hourly import hours_of

Floats = npt.NDArray[np.float64]
START = datetime(2026, 1, 14, 12, tzinfo=UTC)
HOURS = 168


def winter_air_c(hours: int = HOURS) -> Floats:
    return -3.0 - 6.0 * np.cos(2 * np.pi * (np.arange(hours) - 18) / 24)


def forecast_of(air_c: Floats, *, members_air_c: Floats | None = None, sigma_c: Floats | None = None) -> Forecast:
    weather = hours_of(START, air_c)
    return Forecast(
        service="made up",
        issued_utc=START,
        fetched_utc=START,
        weather=weather,
        members_air_c=members_air_c,
        sigma_c=sigma_c,
    )


def test_sigma_grows_with_lead_as_fitted() -> None:
    # RMSE of NWS minima in ten western valleys, 2.16, 2.22, 2.32, 2.41 at 12-48 h: the fit keeps within 0.03 of each
    assert lead_sigma_c([12, 24, 36, 48]) == pytest.approx([2.16, 2.22, 2.32, 2.41], abs=0.03)
    assert lead_sigma_c(np.arange(1, 8) * 24) == pytest.approx([2.22, 2.42, 2.72, 3.08, 3.50, 3.95, 4.43], abs=0.005)


def test_sigma_is_in_line_with_the_weather_prediction_centers_minima() -> None:
    # MAE about 4, 5, 6 °F at day 3, 5, 7, from memory; x 1.3 for RMSE. Round numbers: within 15 %
    assert lead_sigma_c([72, 120, 168]) == pytest.approx(np.array([4, 5, 6]) / 1.8 * 1.3, rel=0.15)


def test_sigma_stops_at_the_stations_winter_spread() -> None:
    assert lead_sigma_c(24 * 30) == 4.7
    assert lead_sigma_c(24 * 30, winter_sd_c=3.2) == 3.2  # Medford
    assert lead_sigma_c(-5) == lead_sigma_c(0)
    with pytest.raises(ValueError, match="winter_sd_c must be above 0"):
        lead_sigma_c(24, winter_sd_c=0)


@pytest.mark.parametrize("count", [2, 31, 50])
def test_members_have_the_forecasts_mean_and_the_published_spread_at_every_hour(count: int) -> None:
    air = members(forecast_of(winter_air_c()), START, count)
    assert air.shape == (count, HOURS)
    assert air.mean(axis=0) == pytest.approx(winter_air_c(), abs=1e-9)
    assert air.std(axis=0)[1:] == pytest.approx(lead_sigma_c(np.arange(1, HOURS)), abs=1e-9)


def test_a_night_minimum_is_as_sure_as_the_published_error_and_no_colder_than_forecast() -> None:
    air = members(forecast_of(winter_air_c()), START, 201)
    for day in range(7):
        night = slice(24 * day + 12, 24 * day + 24)
        minima = air[:, night].min(axis=1)
        sigma = float(lead_sigma_c(24 * day + 18))
        assert minima.std() == pytest.approx(sigma, rel=0.05)
        # The lowest of twelve uncertain hours lies a little below the hour forecast lowest: less than a twentieth
        assert winter_air_c()[night].min() - 0.05 * sigma < minima.mean() <= winter_air_c()[night].min() + 1e-9


def test_errors_hang_together_within_a_night_and_loosen_from_day_to_day() -> None:
    errors = members(forecast_of(np.zeros(HOURS)), START, 1001)

    def correlation(lag_h: int) -> float:
        pairs = [np.corrcoef(errors[:, i], errors[:, i + lag_h])[0, 1] for i in range(1, HOURS - lag_h, 12)]
        return float(np.mean(pairs))

    # Matérn 3/2 by hand with half correlation at 24 h; 0.03 is three standard errors of 1001 shuffled members
    assert correlation(7) == pytest.approx(0.913, abs=0.03)
    assert correlation(24) == pytest.approx(0.5, abs=0.04)
    assert correlation(24) > 0.21  # more than between one lead's errors on successive nights, as published
    assert correlation(48) == pytest.approx(0.152, abs=0.05)


def test_the_same_inputs_give_the_same_members() -> None:
    first = members(forecast_of(winter_air_c()), START)
    first_copy = first.copy()
    first += 100  # a caller's scribbling must not reach the next answer
    assert np.array_equal(members(forecast_of(winter_air_c()), START), first_copy)


def test_a_longer_forecast_changes_no_earlier_hour() -> None:
    short = members(forecast_of(winter_air_c(72)), START)
    long = members(forecast_of(winter_air_c(240)), START)
    assert long[:, :72] == pytest.approx(short, abs=1e-9)


@given(shift_c=st.floats(-15, 15), now_h=st.integers(-10, HOURS + 10), ensemble=st.booleans())
def test_a_warmer_forecast_makes_every_member_warmer_by_as_much(shift_c: float, now_h: int, ensemble: bool) -> None:
    now = START + timedelta(hours=now_h)
    spread = np.linspace(-1, 1, 11)[:, None] * np.linspace(0, 3, HOURS)

    def air(shift: float) -> Floats:
        forecast = forecast_of(winter_air_c() + shift)
        return members(replace(forecast, members_air_c=winter_air_c() + spread + shift) if ensemble else forecast, now)

    assert air(shift_c) - air(0.0) == pytest.approx(np.full((31, HOURS), shift_c), abs=1e-9)


def test_past_hours_carry_no_spread() -> None:
    air = members(forecast_of(winter_air_c()), START + timedelta(hours=30, minutes=20))
    assert np.array_equal(air[:, :31], np.tile(winter_air_c()[:31], (31, 1)))
    assert (air[:, 31:].std(axis=0) > 2).all()
    over = members(forecast_of(winter_air_c()), START + timedelta(days=30))
    assert np.array_equal(over, np.tile(winter_air_c(), (31, 1)))


def test_an_old_forecast_is_less_sure_of_the_same_hour() -> None:
    now = START + timedelta(hours=24)
    fresh = replace(forecast_of(winter_air_c()), issued_utc=now)
    old = replace(fresh, issued_utc=now - timedelta(hours=48))
    assert (members(old, now).std(axis=0)[25:] > members(fresh, now).std(axis=0)[25:]).all()
    unissued = replace(old, issued_utc=None, fetched_utc=now)  # knows only when it was fetched
    assert np.array_equal(members(unissued, now), members(fresh, now))


def test_missing_hours_stay_missing_in_every_member() -> None:
    air = winter_air_c()
    air[40] = np.nan
    got = members(forecast_of(air), START)
    assert np.flatnonzero(np.isnan(got).all(axis=0)).tolist() == [40]
    assert np.isnan(got).any(axis=0).sum() == 1


def test_a_services_own_sigma_widens_but_never_narrows() -> None:
    stated = np.full(HOURS, 0.8)
    stated[60:] = 6.0
    stated[100:] = np.nan
    sd = members(forecast_of(winter_air_c(), sigma_c=stated), START).std(axis=0)
    assert sd[1:60] == pytest.approx(lead_sigma_c(np.arange(1, 60)), abs=1e-9)
    assert sd[60:100] == pytest.approx(6.0, abs=1e-9)
    assert sd[100:] == pytest.approx(lead_sigma_c(np.arange(100, HOURS)), abs=1e-9)


def ensemble(spread_c: float, size: int = 50) -> Floats:
    wave = np.sin(np.arange(size)[:, None] * 2.399963 + np.arange(HOURS) / 40)  # golden angle: evenly spread phases
    raw: Floats = winter_air_c() + 1.5 + spread_c * np.sqrt(2) * wave
    return raw


@pytest.mark.parametrize(("spread_c", "wanted"), [(0.0, "lead"), (0.8, "lead"), (2.2, "inflated"), (6.0, "raw")])
def test_an_ensemble_is_centred_and_widened_to_the_larger_spread(spread_c: float, wanted: str) -> None:
    forecast = forecast_of(winter_air_c(), members_air_c=ensemble(spread_c))
    air = members(forecast, START, 31)
    assert air[:, 1:].mean(axis=0) == pytest.approx(ensemble(spread_c).mean(axis=0)[1:], abs=1e-9)
    lead, sd = lead_sigma_c(np.arange(HOURS)), air.std(axis=0)
    day_one = slice(6, 30)
    if wanted == "lead":
        assert sd[1:] == pytest.approx(lead[1:], abs=1e-9)
    elif wanted == "inflated":  # 1 / 0.55 of 2.2 is 4.0; 31 picked of 50 keep the raw spread to a tenth
        assert sd[day_one] == pytest.approx(2.2 / 0.55, rel=0.1)
    else:  # beyond the cap the ensemble keeps its own
        assert sd[day_one] == pytest.approx(6.0, rel=0.1)


def test_hours_beyond_the_ensemble_take_the_single_forecast() -> None:
    raw = ensemble(2.0)
    raw[:, 100:] = np.nan
    air = members(forecast_of(winter_air_c(), members_air_c=raw), START)
    assert air[:, 100:].mean(axis=0) == pytest.approx(winter_air_c()[100:], abs=1e-9)
    assert air[:, 100:].std(axis=0) == pytest.approx(lead_sigma_c(np.arange(100, HOURS)), abs=1e-9)


def test_a_better_service_spreads_its_members_less_and_never_below_two_thermometers() -> None:
    def sd(error: ForecastError) -> Floats:
        return np.asarray(members(forecast_of(winter_air_c()), START, error=error).std(axis=0)[1:])

    lead = np.arange(1, HOURS)
    assert sd(ForecastError(scale=0.7)) == pytest.approx(0.7 * lead_sigma_c(lead), abs=1e-9)
    assert sd(ForecastError(scale=0.01)) == pytest.approx(0.8, abs=1e-9)
    assert sd(ForecastError(drift_sd_c_d=0.15)) == pytest.approx(np.hypot(lead_sigma_c(lead), 0.15 * lead / 24))
    assert np.array_equal(sd(PUBLISHED), members(forecast_of(winter_air_c()), START).std(axis=0)[1:])


def test_bad_input_is_refused_with_its_bound() -> None:
    forecast = forecast_of(winter_air_c())
    with pytest.raises(ValueError, match="count must be at least 2 members, got 1"):
        members(forecast, START, 1)
    with pytest.raises(ValueError, match="now must be aware"):
        members(forecast, START.replace(tzinfo=None))
    with pytest.raises(ValueError, match=r"members_air_c has shape \(5, 3\)"):
        members(replace(forecast, members_air_c=np.zeros((5, 3))), START)
    with pytest.raises(ValueError, match=r"sigma_c has shape \(4,\)"):
        members(replace(forecast, sigma_c=np.zeros(4)), START)
