"""Many covers before one freeze: what is too long for the light of one day is begun on days before."""

from collections import Counter
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from rules.garden.cover import Cover, CoverState
from rules.garden.records import DeedKind
from rules.plan.garden_plan import Plan, plan
from rules.plan.slots import slots_ahead
from tests.rules.plan.plan_gardens import NOW, SITE, days_of_air, forecast_of, heat_of, situation

FREEZE = date(2026, 1, 12)  # its night kills bare wood; those before it do not
AIR = days_of_air([1.0, 0.0, -2.0, -16.0, -10.0, -2.0], [8.0, 7.0, 5.0, 0.0, 0.0, 4.0])


def planned(count: int, minutes: float, *, hands: int = 1, gusts: float = 3.0) -> tuple[Plan, dict[date, float]]:
    """The plan of so many bare trees, and the minutes of daylight work there are on each day."""
    forecast = forecast_of(AIR, gust_m_s=np.full(len(AIR), gusts))
    cover = Cover(name="straw and blanket", minutes_to_wrap=minutes)
    garden = [
        situation(forecast, name=f"tree {i}", cover=cover, state=CoverState.BARE, count=15, worth_trips=40.0 + i)
        for i in range(count)
    ]
    times = [replace(slot, hands=hands) for slot in slots_ahead([one.weather for one in garden], SITE, NOW)]
    room = {slot.day: max(one.room_minutes for one in times if one.day == slot.day) for slot in times}
    return plan(garden, heat_of(garden, times), times, SITE), room


def minutes_a_day(found: Plan) -> Counter[date]:
    work: Counter[date] = Counter()
    for act in found.acts:
        assert act.kind is DeedKind.WRAPPED
        work[act.by_utc.date()] += round(act.minutes)
    return work


@pytest.mark.parametrize("count", [4, 6])
def test_wraps_that_do_not_fit_into_one_day_are_begun_before_it_and_all_are_done_in_time(count: int) -> None:
    found, room = planned(count, 150.0)
    work = minutes_a_day(found)
    assert len(work) > 1
    assert max(work) <= FREEZE
    assert all(work[day] <= room[day] for day in work)
    assert len({act.tree for act in found.acts}) == count


def test_what_fits_into_the_day_of_the_freeze_waits_for_it() -> None:
    found, _ = planned(2, 60.0)
    assert set(minutes_a_day(found)) == {FREEZE}


def test_the_more_help_the_later_it_may_begin() -> None:
    alone, _ = planned(6, 150.0)
    helped, _ = planned(6, 150.0, hands=3)
    assert min(minutes_a_day(helped)) > min(minutes_a_day(alone))


def test_what_is_worth_most_is_covered_first() -> None:
    found, _ = planned(6, 150.0)
    first = [act.tree for act in found.acts if act.by_utc.date() == min(minutes_a_day(found))]
    assert "tree 5" in first
    assert "tree 0" not in first


def test_of_more_than_all_the_days_hold_those_that_fit_are_asked_for_in_time() -> None:
    found, room = planned(20, 200.0)
    work = minutes_a_day(found)
    days_before = [day for day in work if day < FREEZE]
    assert days_before
    assert all(work[day] <= room[day] for day in days_before)
