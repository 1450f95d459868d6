"""On either side of each threshold of a round: how often it asks, how far back it reads, how far ahead it plans."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest
import responses

from bot import logbook as lb
from bot.logbook import Connection
from bot.rounds.deciding import _just_tended
from bot.rounds.gathering import gather
from bot.rounds.inputs import inputs_of
from bot.rounds.job_facts import job_facts, night_offset_c
from bot.rounds.learning.inside import readings_inside
from bot.rounds.learning.recorded_weather import recorded_weather
from bot.rounds.presence import away_days, go_away
from bot.rounds.weather.asking import refresh_forecast
from bot.rounds.weather.past_winters import refresh_past_winters
from rules.garden.cover import CoverState
from rules.garden.doubt import DoubtKind
from rules.garden.records import Deed, DeedKind, Place, Reading, Records
from rules.garden.tree import Standing
from rules.jobs import GardenFacts, JobKind, JobMark, MarkState
from rules.outlook.garden_outlook import outlook
from rules.site.microclimate import PRIORS
from rules.weather.hourly import HourlyWeather
from tests.bot.invented_gardens import cold_forecast, garden
from tests.bot.rounds.test_faults import CHAT, MORNING, NAME, Life
from tests.bot.rounds.test_rounds_past_winters import ARCHIVE, TRANSPORT, online
from tests.bot.weather_service import Mood
from tests.hourly import hours_of

SOURCE = lb.Source(garden=NAME, person="Rowan", update_id=None, noted_utc=MORNING)


def days_ago(days: float) -> datetime:
    return MORNING - timedelta(days=days)


def long_past(days: int) -> HourlyWeather:
    """Hours from so many days ago to now."""
    told = np.full(days * 24 + 1, 3.0)
    same = dict.fromkeys(("wind_m_s", "gust_m_s", "sun_w_m2", "precipitation_mm"), told)
    return hours_of(days_ago(days), told, dew_point_c=told - 2, cloud_fraction=told / 4, **same)


# services


def asks(one: Life, minutes: float) -> bool:
    return refresh_forecast(one.setting, MORNING + timedelta(minutes=minutes))


def test_services_are_asked_once_an_hour(one: Life) -> None:
    assert [asks(one, minutes) for minutes in (0, 40, 61)] == [True, False, True]


def test_services_that_failed_are_asked_again_after_ten_minutes(one: Life) -> None:
    one.weather.mood = Mood.DOWN
    assert [asks(one, minutes) for minutes in (0, 7, 11)] == [True, False, True]


@responses.activate
def test_an_archive_out_of_reach_is_asked_again_half_a_day_later(one: Life) -> None:
    responses.get(ARCHIVE, status=503)
    times = [MORNING + timedelta(hours=hours) for hours in (0, 8, 13)]
    assert [refresh_past_winters(online(), one.logbook, TRANSPORT, at) for at in times] == [True, False, True]


def test_a_forecast_of_this_morning_is_fresh_at_dinner_and_stale_at_night(one: Life) -> None:
    asks(one, 0)
    with one.logbook.begin() as c:
        for hours, wanted in ((8, False), (13, True)):
            seen = gather(c, one.setting.garden, MORNING + timedelta(hours=hours), one.setting.weather_of)
            assert (DoubtKind.STALE_FORECAST in {doubt.kind for doubt in seen.doubts}) is wanted


# how far back


def test_on_new_year_s_day_the_wood_s_autumn_is_remembered_from_september_on(one: Life, c: Connection) -> None:
    new_year = MORNING.replace(month=1, day=1, year=2027)
    weather = replace(long_past(200), start_utc=new_year - timedelta(days=200))
    lb.note_past_hours(c, one.setting.weather_of, weather, new_year, new_year)
    past = gather(c, one.setting.garden, new_year, one.setting.weather_of).past
    assert past is not None
    assert date(2026, 8, 15) < past.start_utc.date() < date(2026, 9, 10)


def test_in_september_the_summer_is_remembered_that_deep_ground_still_holds(one: Life, c: Connection) -> None:
    """The year's wave is two months late at a depth it is damped to a third at (some 2 m), and three months at 3 m."""
    september = MORNING.replace(month=9, day=20)
    lb.note_past_hours(c, one.setting.weather_of, replace(long_past(200), start_utc=september - timedelta(days=200)),
                       september, september)  # fmt: skip
    past = gather(c, one.setting.garden, september, one.setting.weather_of).past
    assert past is not None
    assert date(2026, 5, 1) < past.start_utc.date() < date(2026, 6, 20)


def test_what_was_done_last_winter_counts_and_the_winter_before_it_does_not(one: Life, c: Connection) -> None:
    for days in (380, 500):
        deed = Deed(tree="Porch fig", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=days_ago(days))
        lb.note_entry(c, SOURCE, deed)
    seen = gather(c, one.setting.garden, MORNING, one.setting.weather_of)
    assert min(deed.at_utc for deed in seen.records.deeds) == days_ago(380)


def facts_of(one: Life, c: Connection) -> GardenFacts:
    seen = gather(c, one.setting.garden, MORNING, one.setting.weather_of)
    inputs = inputs_of(one.setting.garden, seen)
    return job_facts(c, one.setting.garden, outlook(inputs, MORNING), inputs, seen.records, MORNING)


def test_a_job_answered_last_season_is_known_and_one_of_the_season_before_is_not(one: Life, c: Connection) -> None:
    for days in (380, 500):
        mark = JobMark(kind=JobKind.MULCH, tree="Porch fig", state=MarkState.DONE, at_utc=days_ago(days))
        lb.note_entry(c, SOURCE, mark)
    assert [mark.at_utc for mark in facts_of(one, c).marks] == [days_ago(380)]


def test_jobs_know_the_rain_of_thirty_whole_days_and_not_of_two_months(one: Life, c: Connection) -> None:
    lb.note_past_hours(c, one.setting.weather_of, long_past(100), MORNING, MORNING)
    first = min(facts_of(one, c).days)
    assert 30 <= (MORNING.date() - first).days <= 33


def test_readings_are_set_against_the_weather_of_two_winters_at_most(one: Life, c: Connection) -> None:
    lb.note_past_hours(c, "cell", long_past(700), MORNING, MORNING)
    old = recorded_weather(c, "cell", days_ago(690), None, MORNING)
    assert old is not None
    assert 400 < (MORNING - old.start_utc).days < 600
    recent = recorded_weather(c, "cell", days_ago(5), None, MORNING)
    assert recent is not None
    assert recent.start_utc == days_ago(7)  # the night of a reading begins the noon before it
    ahead = recorded_weather(c, "cell", days_ago(5), cold_forecast(MORNING), MORNING)
    assert ahead is not None
    assert ahead.start_utc + timedelta(hours=ahead.hours - 1) == MORNING + timedelta(hours=6)


def test_a_cover_is_learned_from_forty_days_of_readings_inside() -> None:
    own = [
        Reading(tree="Porch fig", air_c=-3.0, at_utc=days_ago(days), place=Place.INSIDE, is_minimum=True)
        for days in (60, 45, 35, 0)
    ]
    counted = readings_inside(own, "Porch fig", garden(NAME, "Porch fig").site.zone)
    assert [reading.at_utc for reading in counted] == [days_ago(35), MORNING]


def test_who_was_at_a_tree_two_hours_ago_is_not_sent_back_and_four_hours_later_may_be() -> None:
    def tended(hours: float) -> bool:
        at = MORNING - timedelta(hours=hours)
        deed = Deed(tree="Porch fig", kind=DeedKind.VENTED, state=CoverState.VENTED, at_utc=at)
        return bool(_just_tended(Records(deeds=[deed]), MORNING))

    assert [tended(hours) for hours in (0, 2, 4)] == [True, True, False]


# how far ahead, and how much


def test_who_is_away_without_an_end_is_planned_for_as_away_for_four_weeks(one: Life, c: Connection) -> None:
    (person,) = lb.list_people(c, NAME)
    assert person.chat_id == CHAT
    go_away(c, person, None)
    zone = one.setting.garden.site.zone
    assert away_days(c, NAME, zone, MORNING) == ((date(2026, 12, 3), date(2026, 12, 29)),)


def test_the_warmth_a_wall_gives_on_still_nights_counts_half_and_a_hollow_s_cold_in_full() -> None:
    wall, hollow = PRIORS[Standing.WALL], PRIORS[Standing.HOLLOW]
    assert wall.radiation_c > 0 > hollow.radiation_c
    assert night_offset_c(Standing.WALL) == pytest.approx(wall.mixed_c + wall.radiation_c / 2)
    assert night_offset_c(Standing.HOLLOW) == pytest.approx(hollow.mixed_c + hollow.radiation_c)
