"""On either side of each threshold of the ladder: who hears something there, and who is left in peace."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from bot.nudges import Announced, Ask, PastNudge, Stage, blind_nudge, jobs_to_tell, nudges_due, stage_times, wake_nudge
from rules.garden.records import DeedKind
from rules.jobs import JobKind, JobReason
from tests.bot.nudges.test_job_nudges import SATURDAY, job
from tests.bot.nudges.test_nudges import DAY, QUIET, act, at, due, said_of
from tests.bot.rounds.test_rounds_waking import AT_TEN, LOWEST, threat


def test_a_cap_to_be_opened_is_said_an_hour_before_it_may_be() -> None:
    opening = replace(act(kind=DeedKind.VENTED), from_utc=at(9.5))
    assert stage_times(Ask(verb=DeedKind.VENTED, day=DAY, acts=(opening,)), QUIET)[Stage.TODAY] == at(8.5)


def test_a_wrapping_six_days_off_is_not_spoken_of_yet() -> None:
    assert due([act("Kaki", DeedKind.WRAPPED, DAY + timedelta(days=6))], [], at(12)) == []
    assert due([act("Kaki", DeedKind.WRAPPED, DAY + timedelta(days=4))], [], at(12)) != []


def test_two_messages_leave_room_for_a_third_in_one_night() -> None:
    said = [PastNudge(key=str(i), stage=Stage.TODAY, verb=None, trees=(), day=DAY, opened_utc=at(13)) for i in range(2)]
    assert [nudge.stage for nudge in due([act()], said, at(15.6))] == [Stage.TODAY]


def test_a_forecast_of_this_morning_still_sees_the_night() -> None:
    assert blind_nudge(timedelta(hours=18), [], QUIET, at(14), at_risk=True) is None
    assert blind_nudge(timedelta(hours=25), [], QUIET, at(14), at_risk=True) is not None


@pytest.mark.parametrize(("chance", "silent", "is_over"), [
    (0.35, False, False),  # nobody who was asked aloud calls more than three in ten safe
    (0.12, False, False),
    (0.09, False, True),
    (0.35, True, True),  # announced for days ahead it is no more than a word: it is asked for anew if need be
    (0.45, True, False),
])  # fmt: skip
def test_an_ask_is_stood_down_where_the_night_is_harmless_now_an_announcement_where_the_risk_has_halved(
    chance: float, silent: bool, is_over: bool
) -> None:
    (first,) = due([act(chance=0.8)], [], at(9))
    said = replace(said_of(first, at(9)), silent=silent)
    found = nudges_due([], [said], [], {("Porch", DAY): chance}, QUIET, at(12))
    assert [one.stage for one in found] == [Stage.STAND_DOWN] * is_over


def test_who_asked_to_be_woken_is_where_it_saves_more_than_a_walk_in_the_night_and_there_is_time() -> None:
    assert wake_nudge([threat(saves_trips=7.0)], [], [], QUIET, AT_TEN) is not None
    assert wake_nudge([threat()], [], [], QUIET, LOWEST - timedelta(minutes=90)) is not None


@pytest.mark.parametrize(
    ("chance", "saves_trips", "at"),
    [
        (0.4, 20, AT_TEN),  # not likely enough
        (0.9, 4, AT_TEN),  # shutting it saves less than a walk in the night costs
        (0.8, 20, LOWEST - timedelta(minutes=65)),  # too late to keep anything in
        (0.8, 20, AT_TEN - timedelta(hours=2)),  # not in the quiet hours: then the ladder speaks
    ],
)
def test_there_is_no_waking_for_less_than_the_worst(chance: float, saves_trips: float, at: datetime) -> None:
    assert wake_nudge([threat(chance, saves_trips)], [], [], QUIET, at) is None


def test_what_was_told_last_season_is_told_anew_though_its_day_comes_weeks_earlier() -> None:
    told = Announced().after([job()], SATURDAY, is_busy=False)
    assert jobs_to_tell([job()], told, [], SATURDAY + timedelta(weeks=48)) == [job()]


def days_until_told_again(reason: JobReason, kind: JobKind) -> int:
    told = Announced().after([job(kind, reason)], SATURDAY, is_busy=False)
    days = range(1, 60)
    return next(n for n in days if jobs_to_tell([job(kind, reason, days=n)], told, [], SATURDAY + timedelta(days=n)))


def test_a_windy_month_is_told_of_once_a_fortnight_and_snow_once_a_week() -> None:
    assert days_until_told_again(JobReason.WIND_COMING, JobKind.CHECK_STRAPS) == 14
    assert days_until_told_again(JobReason.SNOW_FELL, JobKind.SNOW) == 7
    assert 3 < days_until_told_again(JobReason.WET_SNOW, JobKind.SNOW) < 7  # it presses harder, and sooner
