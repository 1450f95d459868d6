"""On either side of each threshold of the plan: how far it looks ahead, what is reason enough, what is left unsaid."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from rules.garden.cover import CoverState
from rules.garden.tree import Standing
from rules.heat.balance import inside_with_spread
from rules.plan.acts import _night_for, _reason
from rules.plan.cover_costs import StandingCost
from rules.plan.garden_plan import Plan, Reason, _likely, _past_saving
from rules.plan.garden_stakes import AtStake
from rules.plan.situation import LAST_LOOK_SD_C, cover_sd_c
from rules.plan.slots import DayPart, slots, slots_ahead
from rules.site.microclimate import at_tree
from rules.site.sun import sun_day
from rules.weather.members import lead_sigma_c
from tests.rules.plan.plan_gardens import (
    COVER,
    NOW,
    SITE,
    SOIL,
    days_of_air,
    forecast_of,
    plan_of,
    situation,
    stakes_of,
)

VENTED, CLOSED = 1, 2
WEEK = slots(SITE, NOW, np.full(240, 1.0), NOW, 10.0)
EVENINGS = [k for k, slot in enumerate(WEEK) if slot.part == DayPart.EVENING]
LEAVES_TOMORROW = [(date(2026, 1, 11), date(2026, 1, 20))]


# what an act is for


def night_asked_for(*gains: float) -> int:
    """Which evening from now an act is said to be for, where it lessens the chances of those evenings by so much."""
    gain = np.zeros(len(WEEK))
    gain[EVENINGS[: len(gains)]] = gains
    return EVENINGS.index(_night_for(WEEK, 0, gain))


def test_an_act_is_for_the_night_that_makes_the_difference_however_far_off() -> None:
    assert night_asked_for(0.0, 0.0, 0.0, 0.1) == 3
    assert night_asked_for(0.02, 0.0, 0.0, 0.0, 0.7) == 4
    assert night_asked_for(0.0) == 0


def test_a_nearer_night_that_is_one_in_six_too_cold_is_named_before_the_coldest() -> None:
    assert night_asked_for(0.1, 0.0, 0.9) == 2
    assert night_asked_for(0.17, 0.0, 0.9) == 0


def reason_to_open(hot_trips: float, slots_off: int = 0) -> Reason:
    """Why a closed cover is opened whose heat costs so much so many half days ahead."""
    at = stakes_of([situation(forecast_of(days_of_air([0.0] * 7, [6.0] * 7)), count=2)], WEEK[:12])
    none = np.zeros((2, 12, 3))
    hot = none.copy()
    hot[:, slots_off, CLOSED] = hot_trips
    parts = StandingCost(rot=none, hot=hot, pale=none)
    return _reason(replace(at, parts=[parts]), 0, 0, CLOSED, VENTED)


def test_heat_that_costs_less_than_a_fiftieth_of_a_trip_is_no_reason_to_give_for_opening() -> None:
    assert [reason_to_open(trips) for trips in (0.015, 0.03)] == [Reason.RISK_OVER, Reason.HOT]


def test_a_cover_is_opened_for_the_heat_of_the_fourth_day_and_not_yet_for_that_of_the_fifth() -> None:
    """Nobody would understand a cap opened today for a sunny day next week: there is time."""
    assert [reason_to_open(1.0, half_days) for half_days in (5, 7, 9)] == [Reason.HOT, Reason.HOT, Reason.RISK_OVER]


# what is planned


def planned_later(closed: int, vented: int, bare: int) -> list[int]:
    """States a vented cover is planned to be brought to tomorrow, by how many members of the forecast want which."""
    wanted = np.repeat([CLOSED, VENTED, 0], [closed, vented, bare])
    course = np.stack([np.full(len(wanted), VENTED), wanted], axis=1)[None]
    return [int(after[0]) for _, _, after, _ in _likely(course, 1, np.array([VENTED]))]


def test_what_more_than_half_of_the_forecast_asks_for_is_planned_and_what_is_merely_commonest_is_not() -> None:
    assert planned_later(closed=6, vented=4, bare=0) == [CLOSED]
    assert planned_later(closed=4, vented=3, bare=3) == []


def given_up(share_gone: float, *, pays: bool = False) -> dict[str, float]:
    """Bare trees that are told to be past saving, where the best of care still loses this share of their worth."""
    one = situation(forecast_of(days_of_air([0.0] * 3, [6.0] * 3)), state=CoverState.BARE, count=2)
    at: AtStake = stakes_of([one], WEEK[:4])
    tail = np.full_like(at.stakes.tail, share_gone * one.tree.worth_trips)
    told = replace(at, stakes=replace(at.stakes, tail=tail), wraps=np.array([pays]))
    return _past_saving(told, np.array([0]))


def test_a_tree_that_loses_nine_tenths_whatever_is_done_is_given_up_and_one_that_loses_six_is_not() -> None:
    assert given_up(0.6) == {}
    assert given_up(0.9) == {"Porch fig": pytest.approx(0.9)}
    assert given_up(0.9, pays=True) == {}  # whoever is asked to wrap it now and then is not told that no cover saves it


# gusts and last looks


def calm_slots(gust_m_s: float) -> int:
    air = days_of_air([-2.0] * 3, [4.0] * 3)
    one = situation(forecast_of(air, gust_m_s=np.full(len(air), gust_m_s)), count=2)
    return sum(slot.calm for slot in slots_ahead([one.weather], SITE, NOW))


def test_film_is_handled_at_gusts_of_nine_metres_a_second_and_not_at_eleven() -> None:
    assert calm_slots(9.0) > 0
    assert calm_slots(11.0) == 0


def test_what_is_unknown_at_the_last_look_is_what_a_forecast_made_in_that_day_s_light_does_not_know() -> None:
    """The low falls at about sunrise; the last ask for it goes out in the light of the day before."""
    day = WEEK[EVENINGS[0]]
    sunrise = sun_day(day.day + timedelta(days=1), SITE).sunrise_utc
    assert sunrise is not None
    first_h, last_h = ((sunrise - at) / timedelta(hours=1) for at in (day.light_utc, day.by_utc))
    assert float(lead_sigma_c(last_h)) < LAST_LOOK_SD_C < float(lead_sigma_c(first_h))


def test_the_plan_doubts_an_unread_cover_as_much_as_the_heat_balance_does_and_not_twice_as_much() -> None:
    """One sd of the wood at its coldest in nights of -12 °C, from all that is unknown and what the equations miss."""
    forecast = forecast_of(days_of_air([-12.0] * 12, [0.0] * 12))
    weather = at_tree(forecast.weather, SITE, Standing.OPEN)
    inside = inside_with_spread([COVER], np.full((1, len(weather.air_c)), CLOSED), weather, soil=SOIL)
    assert inside.spread_c is not None
    last_night = slice(-24, None)
    coldest = int(inside.wood_c[0, last_night].argmin())
    sd_c = float(inside.spread_c[0, last_night][coldest])
    assert cover_sd_c(COVER) == pytest.approx(sd_c, rel=0.1)  # one source: its inputs spread by 0.6 to 0.8 °C


# what would change the advice


def turned_by(low_c: float) -> list[float]:
    """Changes of the forecast told to turn today's advice, with a single cold night ahead and nobody there after."""
    air = days_of_air([-2.0, low_c, -2.0], [4.0, 2.0, 4.0])
    found = plan_of([situation(forecast_of(air), count=5)], away=LEAVES_TOMORROW)
    return [one.change_c for one in found.second_thoughts().would_change]


def test_a_near_miss_is_told_to_turn_by_one_degree_and_nothing_by_more_than_four() -> None:
    told = [turned_by(float(low_c)) for low_c in range(-3, -13, -1)]
    changes = [change_c for one in told for change_c in one]
    assert changes == sorted(changes)  # the colder the night, the less colder, then the more milder it must come
    assert min(map(abs, changes)) == 1.0
    assert 1.0 < max(map(abs, changes)) <= 4.0
    assert told[-1] == []  # further off than anybody wants to hear


def nights_told(evening: int) -> list[date]:
    """Nights told to turn the advice of who leaves tomorrow, where one night ahead is colder than all others."""
    lows = [1.0] * 9
    lows[evening + 1] = -5.0
    found: Plan = plan_of([situation(forecast_of(days_of_air(lows, [7.0] * 9)), count=5)], away=LEAVES_TOMORROW)
    return [one.night for one in found.second_thoughts().would_change]


def test_the_fourth_night_ahead_is_told_to_change_the_advice_and_none_after_the_fifth() -> None:
    assert nights_told(3) == [date(2026, 1, 13)]
    assert date(2026, 1, 16) not in nights_told(6)  # cold as it is
