"""A winter planned again with what is known by June: more care where a place is colder, fewer trips for hardy wood."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache

import numpy as np
import pytest

from rules.backtest.last_winter import _winter, phase_of_night, winter_replayed
from rules.backtest.winters import felt_nights, garden_of
from rules.garden.cover import Cover
from rules.garden.records import Records
from rules.garden.tree import Phase, Site, Tree
from rules.learning import LearnedHardiness, WouldHave
from rules.outlook.inputs import OutlookInputs
from rules.site.microclimate import SiteOffset
from rules.weather.hourly import HourlyWeather, night_minima
from tests.hourly import hours_of

SITE = Site(latitude_deg=40.4, longitude_deg=-104.7, elevation_m=1430.0, time_zone="America/Denver")
START = date(2024, 9, 7)
FIG = Tree(name="Bench fig", species="fig", cover="cage")
Told = Mapping[date, Mapping[date, float]]


@cache
def past(first_day: int = 0) -> HourlyWeather:
    """An invented winter: a yearly and a daily wave, and a week of hard cold in January."""
    hours = np.arange(24 * first_day, 24 * 260)
    day = hours / 24
    air_c = 13 - 11 * np.sin(2 * np.pi * (day - 40) / 365) + 6 * np.cos(2 * np.pi * (hours - 21) / 24)
    air_c -= np.where(np.abs(day - 135) < 4, 6.0, 0.0)
    start = datetime(2024, 9, 7, 7, tzinfo=UTC) + timedelta(days=first_day)
    return hours_of(start, air_c, dew_point_c=air_c - 3, wind_m_s=1.0, cloud_fraction=0.0)


def inputs(first_day: int = 0) -> OutlookInputs:
    return OutlookInputs(
        site=SITE, trees=(FIG,), covers={"cage": Cover(name="cage")}, forecast=None, past=past(first_day),
        records=Records(),
    )  # fmt: skip


def told(every: int = 1) -> Told:
    """Forecasts a degree too warm, reaching five nights."""
    lows = {low.evening: low.air_c + 1 for low in night_minima(past(), SITE.zone) if low.complete}
    evenings = list(lows)
    return {
        evening: {day: lows[day] for day in evenings[i : i + 5]} for i, evening in enumerate(evenings) if not i % every
    }


def hardier(shift_c: float, outcomes: int = 3) -> dict[str, tuple[LearnedHardiness, ...]]:
    found = LearnedHardiness(
        phase=Phase.RESTING, shift_c=shift_c, sd_c=0.7, prior_sd_c=2.0, outcomes=outcomes, odd=(), other_phase=0
    )
    waking = replace(found, phase=Phase.WAKING)
    return {FIG.name: (found, waking)}


def replayed(held: OutlookInputs, wood: Mapping[str, tuple[LearnedHardiness, ...]]) -> tuple[WouldHave, WouldHave]:
    autumn, june = winter_replayed(held, START, told(), wood)
    assert "autumn" in autumn.way
    assert "now" in june.way
    return autumn, june


def placed(radiation_c: float, sd_c: float = 0.3) -> OutlookInputs:
    offset = SiteOffset(radiation_c=radiation_c, mixed_c=0.0, radiation_sd_c=sd_c, mixed_sd_c=sd_c)
    return replace(inputs(), offsets={FIG.name: offset})


def test_where_nothing_was_learned_there_is_nothing_to_plan_again() -> None:
    assert winter_replayed(inputs(), START, told(), {}) == ()


def test_a_winter_of_which_too_little_was_forecast_or_known_is_not_invented() -> None:
    assert winter_replayed(placed(-2.0), START, told(every=3), {}) == ()
    assert winter_replayed(replace(placed(-2.0), past=past(120)), START, told(), {}) == ()
    assert winter_replayed(replace(placed(-2.0), past=None), START, told(), {}) == ()


def test_who_knows_that_the_place_is_colder_loses_no_more_wood_than_who_does_not() -> None:
    autumn, june = replayed(placed(-6.0), {})  # at -3 a fig that stays at rest in January is not yet worth a wrap
    assert june.lost[FIG.name] <= autumn.lost[FIG.name] + 1e-3
    assert june.trips >= 2  # wrapped and stripped at least


def test_who_knows_the_wood_to_be_much_hardier_makes_no_more_trips() -> None:
    autumn, june = replayed(inputs(), hardier(-8.0))
    assert june.trips <= autumn.trips
    assert june.lost[FIG.name] < 0.1


def test_a_garden_whose_autumn_nobody_told_is_taken_to_have_begun_as_the_first_week_known() -> None:
    winter = _winter(inputs(40), START)
    assert winter is not None
    assert winter.min_c[0, 0] == pytest.approx(winter.min_c[0, 41:47].mean(), abs=1.0)
    assert not np.isnan(winter.max_c).any()


def test_a_place_held_to_be_warmer_moves_what_is_felt_and_nothing_of_what_covers_hold() -> None:
    winter = _winter(inputs(), START)
    assert winter is not None
    plain = garden_of([(FIG, Cover(name="cage"))], SITE, winter)
    held = felt_nights(replace(plain, warmer_c=np.array([[2.0, 1.5, 1.0]])))
    as_told = felt_nights(plain)
    assert (held.dose_c - as_told.dose_c)[0, 5] == pytest.approx([2.0, 1.5, 1.0])
    assert held.held_c == pytest.approx(as_told.held_c)


def test_the_wood_rests_in_december_and_wakes_from_mid_january_as_the_standing_cost_costs_have_it() -> None:
    assert [phase_of_night(night) for night in (0, 83, 84, 128, 129)] == [
        Phase.HARDENING, Phase.HARDENING, Phase.RESTING, Phase.RESTING, Phase.WAKING,
    ]  # fmt: skip
