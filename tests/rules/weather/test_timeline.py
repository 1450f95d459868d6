"""Past and forecast joined, the states a cover went through, and what the wood felt by day."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Records, state_series
from rules.weather.hourly import HourlyWeather
from rules.weather.timeline import joined_weather, timeline
from rules.wood.daily_temperatures import wood_days_from
from tests.hourly import hours_of

DENVER = ZoneInfo("America/Denver")
START = datetime(2026, 1, 14, 7, tzinfo=UTC)  # midnight in Denver


def weather(start: datetime, air: list[float]) -> HourlyWeather:
    return hours_of(start, air)


def deed(kind: DeedKind, state: CoverState, hour: float) -> Deed:
    return Deed(tree="Kaki", kind=kind, state=state, at_utc=START + timedelta(hours=hour))


def test_what_was_told_of_the_past_stands_over_an_old_forecast_of_it() -> None:
    past, forecast = weather(START, [-5.0] * 10), weather(START + timedelta(hours=5), [-9.0] * 20)
    line = timeline(past, forecast, START + timedelta(hours=8))
    assert line is not None
    assert line.past is not None
    assert line.past.air_c.tolist() == [-5.0] * 9
    assert line.ahead.air_c[0] == -5.0  # the present mark has been told
    assert line.ahead.air_c[1:].tolist() == [-9.0] * 16


def test_a_forecast_is_used_up_to_its_first_long_gap() -> None:
    air = [-1.0] * 10 + [np.nan] * 12 + [-20.0] * 10
    line = timeline(None, weather(START, air), START)
    assert line is not None
    assert line.ahead.hours == 10


def test_a_gap_of_the_past_is_no_gap_of_the_forecast_and_one_ahead_is_told_with_its_hours() -> None:
    air = [-1.0] * 5 + [np.nan] * 12 + [-2.0] * 13
    now = START + timedelta(hours=20)
    silent = timeline(weather(START, air), weather(now, [-2.0] * 10), now)
    assert silent is not None
    assert silent.doubts == ()
    holed = timeline(weather(START, air), weather(now, [-2.0, -2.0, np.nan, np.nan, -3.0, -3.0]), now)
    assert holed is not None
    (told,) = holed.doubts
    assert (told.amount, told.first_utc, told.last_utc) == (2.0, now + timedelta(hours=2), now + timedelta(hours=3))


def test_without_hours_from_now_on_there_is_no_timeline() -> None:
    assert timeline(None, weather(START, [-1.0] * 5), START + timedelta(hours=9)) is None


def test_joining_series_keeps_the_newer_word_and_fills_its_gaps_from_the_older() -> None:
    joined = joined_weather(weather(START, [1.0, 1.0, 1.0]), weather(START + timedelta(hours=1), [2.0, np.nan, 2.0]))
    assert joined.air_c.tolist() == [1.0, 2.0, 1.0, 2.0]


def test_a_cover_nobody_has_spoken_of_counts_as_off() -> None:
    deeds = [deed(DeedKind.WRAPPED, CoverState.VENTED, 2), deed(DeedKind.CLOSED, CoverState.CLOSED, 4)]
    assert state_series(Records(deeds=deeds), "Kaki", START, 6).tolist() == [0, 0, 1, 1, 2, 2]
    assert state_series(Records(deeds=deeds), "Porch fig", START, 6).tolist() == [0] * 6


def test_a_felt_day_is_the_local_calendar_day() -> None:
    hours = weather(START, [0.0] * 24 + [-10.0] * 24)
    days = wood_days_from(hours, hours.air_c, np.ones(48, dtype=bool), DENVER)
    assert days.first == date(2026, 1, 14)
    assert days.mean_c.tolist() == [0.0, -10.0]


def test_a_day_with_too_few_told_hours_is_unknown_not_guessed() -> None:
    hours = weather(START, [0.0] * 48)
    known = np.array([True] * 24 + [True] * 10 + [False] * 14)
    days = wood_days_from(hours, hours.air_c, known, DENVER)
    assert np.isnan(days.mean_c[1])
    assert days.mean_c[0] == 0.0


@pytest.mark.parametrize("gap", [1, 3, 6])
def test_the_march_through_the_past_meets_no_gap(gap: int) -> None:
    air = [-3.0] * 20 + [np.nan] * gap + [-5.0] * 20
    past = weather(START, air)
    line = timeline(past, weather(START, air + [-6.0] * 10), START + timedelta(hours=len(air)))
    assert line is not None
    assert line.past is not None
    assert not np.isnan(line.past.air_c).any()
    assert line.past_known.sum() >= 40
