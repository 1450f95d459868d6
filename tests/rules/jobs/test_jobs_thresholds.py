"""On either side of each threshold of the year's rulebook: what a grower is asked for there, and what not."""

from datetime import date, timedelta

import pytest

from rules.garden.cover import CoverState
from rules.garden.tree import Phase
from rules.jobs import DayWeather, JobKind, JobReason, TreeFacts, jobs_due, jobs_to_announce
from tests.rules.jobs.test_jobs import FIG, garden, month_of, night, of, snowy, trees, whole_year, wrapped

TODAY = date(2027, 1, 10)


@pytest.mark.parametrize(
    ("evening", "air_c", "is_asked"),
    [
        (date(2026, 10, 3), -2.1, True),  # nearly even odds of the -2.2 °C that kill fruit
        (date(2026, 10, 3), -1.4, False),  # one in five: fruit hangs on
        (date(2026, 11, 20), -9.0, True),  # a late autumn
        (date(2026, 12, 10), -9.0, False),  # eight weeks after the middle killing freeze: what hangs now is mummies
    ],
)
def test_fruit_comes_in_for_a_likely_freeze_of_autumn_alone(evening: date, air_c: float, is_asked: bool) -> None:
    facts = garden(evening, trees=[TreeFacts(tree=FIG, phase=Phase.RIPENING, nights=[night(evening, air_c)])])
    asked = of(jobs_due(facts, evening, evening), JobKind.LAST_PICK)
    assert any(job.reason is JobReason.KILLING_FREEZE for job in asked) is is_asked


def test_cuttings_wait_a_fortnight_after_the_killing_freeze_and_end_before_the_cold() -> None:
    # no past winters: half of years freeze by 15 October and are too cold for half-hard wood by 15 November
    (job,) = of(whole_year(garden()), JobKind.TAKE_CUTTINGS)
    assert (job.from_day, job.by_day) == (date(2026, 10, 29), date(2026, 11, 14))


def test_a_cover_left_on_into_may_is_to_come_off_within_a_week() -> None:
    today = date(2027, 5, 30)
    facts = garden(today, records=wrapped(date(2026, 11, 20)), trees=trees(CoverState.CLOSED, Phase.WAKING)[:1])
    (job,) = of(jobs_to_announce(facts), JobKind.STRIP)
    assert job.by_day - today == timedelta(days=7)


def watered(**weather: float) -> list[JobReason]:
    """Why roots are to be watered today, after a dry month and three such days, the last of them today."""
    alike = DayWeather(**{"high_c": 8.0, "mean_c": 3.0, "fallen_mm": 0.0, **weather})
    days = month_of(TODAY, 0.0) | {TODAY - timedelta(days=i): alike for i in range(3)}
    return [job.reason for job in of(jobs_due(garden(TODAY, days=days), TODAY, TODAY), JobKind.WATER)]


def test_water_is_for_mild_days_on_ground_that_has_thawed_and_is_bare() -> None:
    # "air and soil above 40 °F, no snow cover": Klett & Wilson 2008, Colorado State University Extension
    assert watered() == [JobReason.DRY_WINTER]
    assert watered(high_c=3.0) == []
    assert watered(mean_c=0.5) == [JobReason.DRY_WINTER]
    assert watered(mean_c=-0.5) == []
    assert watered(snow_m=0.002) == [JobReason.DRY_WINTER]
    assert watered(snow_m=0.005) == []  # 15 mm in three days still lie


def test_three_thawed_days_are_enough_after_any_frost_and_two_are_not() -> None:
    frost, thaw = DayWeather(high_c=-2.0, mean_c=-8.0, fallen_mm=0.0), DayWeather(high_c=9.0, mean_c=4.0, fallen_mm=0.0)
    days = month_of(TODAY, 0.0) | {TODAY - timedelta(days=i): frost for i in range(1, 7)}
    days |= {TODAY + timedelta(days=i): thaw for i in range(5)}
    (job,) = of(jobs_due(garden(TODAY, days=days), TODAY, date(2027, 1, 31)), JobKind.WATER)
    assert job.from_day == TODAY + timedelta(days=2)


def test_a_month_of_eighteen_millimetres_is_dry_whatever_fell_before_it() -> None:
    long_ago = {TODAY - timedelta(days=i): DayWeather(high_c=5.0, mean_c=1.0, fallen_mm=8.0) for i in range(31, 50)}
    today = {TODAY: DayWeather(high_c=8.0, mean_c=3.0, fallen_mm=0.0)}
    (job,) = of(jobs_due(garden(TODAY, days=month_of(TODAY, 0.6) | long_ago | today), TODAY, TODAY), JobKind.WATER)
    assert job.reason is JobReason.DRY_WINTER
    assert job.amount == pytest.approx(18.0)


def test_a_fresh_breeze_moves_no_strap_and_a_near_gale_does() -> None:
    # Beaufort 7, "whole trees in motion, inconvenience in walking against the wind", begins at 13.9 m/s
    for gust_m_s, wanted in ((10.5, False), (14.0, True)):
        days = {TODAY + timedelta(days=2): DayWeather(high_c=3.0, gust_m_s=gust_m_s)}
        facts = garden(TODAY, trees=trees(CoverState.CLOSED, Phase.RESTING), days=days)
        assert bool(of(jobs_due(facts, TODAY, TODAY), JobKind.CHECK_STRAPS)) is wanted


@pytest.mark.parametrize(
    ("depths_m", "is_asked"),
    [
        ((0.04,), False),  # less than what loads a cover
        ((0.06,), True),
        ((0.03, 0.015, 0.03), True),  # it went on snowing a little: one fall
        ((0.03, 0.007, 0.03), False),  # a day of flurries between: two light falls
    ],
)
def test_snow_is_a_job_where_one_fall_is_deep(depths_m: tuple[float, ...], is_asked: bool) -> None:
    facts = garden(TODAY, trees=trees(CoverState.CLOSED, Phase.RESTING), days=snowy(TODAY, *depths_m))
    asked = of(jobs_due(facts, TODAY, TODAY + timedelta(days=3)), JobKind.SNOW)
    assert any(job.reason is JobReason.SNOW_FELL for job in asked) is is_asked


def test_snow_just_below_freezing_is_wet_and_sticks_and_a_degree_colder_it_is_not() -> None:
    # the class of wet snow begins at -0.5 °C (Susong, Marks & Garen 1999)
    for air_c, wanted in ((-0.4, {JobReason.WET_SNOW}), (-0.8, set())):
        facts = garden(TODAY, trees=trees(CoverState.BARE, Phase.RESTING), days=snowy(TODAY, 0.12, air_c=air_c))
        jobs = of(jobs_due(facts, TODAY, TODAY), JobKind.SNOW)
        assert {job.reason for job in jobs if "Kaki" in job.trees} == wanted  # bare in winter; a satsuma is in leaf
