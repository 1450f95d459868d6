"""On either side of each threshold of the plan: what it costs to leave a cover as it is, and when somebody can go."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from rules.garden.cover import Cover, CoverState
from rules.garden.tree import Phase, Site
from rules.plan.cover_costs import StandingCost, minutes_of_change, standing_cost, work_of
from rules.plan.garden_plan import Reason
from rules.plan.prices import ASSUMED
from rules.plan.slots import DayPart, slots
from tests.rules.plan.plan_gardens import COVER, NOW, SITE, days_of_air, forecast_of, plan_of, situation
from tests.rules.plan.test_plan import SNAP, winters

CLOSED = 2


def held(
    wood_c: float, hottest_c: float = 0.0, phase: Phase = Phase.RESTING, *, chill_met: bool = True
) -> StandingCost:
    """One day under a cover in any state, the wood as warm in each."""
    wood, hottest = np.full((1, 1, 3), wood_c), np.full((1, 1, 3), hottest_c)
    return standing_cost(wood, hottest, np.ones(1), phase, ASSUMED, chill_met=chill_met)


def softened(wood_c: float, *, chill_met: bool) -> bool:
    return bool(held(wood_c, chill_met=chill_met).softened[0, 0, CLOSED] > 0)


def test_wood_whose_chill_is_met_is_softened_by_days_above_five_degrees() -> None:
    # hardiness is kept best at 5 °C (Kaku 1983)
    assert [softened(c, chill_met=True) for c in (4.0, 6.0)] == [False, True]


def test_wood_still_chilling_is_softened_only_by_days_above_ten_degrees() -> None:
    assert [softened(c, chill_met=False) for c in (8.0, 12.0)] == [False, True]


def test_autumn_wood_hardens_the_less_the_warmer_it_is_and_from_ten_degrees_on_not_at_all() -> None:
    cool, at_ten, warm = (
        float(held(c, phase=Phase.HARDENING, chill_met=False).unhardened[0, 0, CLOSED]) for c in (6.0, 10.0, 15.0)
    )
    assert cool < at_ten == warm == pytest.approx(ASSUMED.hardening_per_day)


def test_a_sealed_cover_wants_opening_from_seventeen_degrees_inside_and_pays_it_all_ten_above() -> None:
    mild, hot, hotter, hottest = (float(held(0.0, c).hot[0, 0, CLOSED]) for c in (15.0, 24.0, 27.0, 40.0))
    assert mild == 0.0
    assert 0.0 < hot < hotter == hottest == pytest.approx(ASSUMED.hot_per_day)


def test_taking_a_cover_off_takes_half_as_long_as_putting_it_on() -> None:
    assert minutes_of_change(COVER)[1, 0] == COVER.minutes_to_wrap / 2


@pytest.mark.parametrize(("minutes", "comes_off"), [(20.0, True), (45.0, False)])
def test_a_blanket_comes_off_for_a_warm_spell_and_a_straw_cage_stays_on_till_its_tree_wakes(
    minutes: float, comes_off: bool
) -> None:
    cover = Cover(name="any", minutes_to_wrap=minutes)
    tree = situation(forecast_of(days_of_air(*SNAP)), cover=cover, count=2).tree
    times = slots(SITE, NOW, np.full(72, 1.0), NOW, 10.0)
    winter, spring = (work_of(tree, cover, phase, times, (), (), ASSUMED) for phase in (Phase.RESTING, Phase.WAKING))
    assert bool(np.isfinite(winter[:, 1, 0]).any()) is comes_off
    assert np.isfinite(spring[:, 1, 0]).any()


def test_people_go_out_in_full_light_and_are_back_before_dark() -> None:
    # 40.5 N 105 W, 11 January: sun 07:21 to 16:53, highest at 12:08 (NOAA solar calculator, from memory, ± 5 min)
    day = date(2026, 1, 11)
    today = {slot.part: slot for slot in slots(SITE, NOW, np.full(72, 1.0), NOW, 10.0) if slot.day == day}
    morning, evening = today[DayPart.MORNING], today[DayPart.EVENING]
    off = timedelta(minutes=6)
    assert abs(morning.light_utc - datetime(2026, 1, 11, 15, 21, tzinfo=UTC)) < off  # an hour after sunrise
    assert abs(morning.by_utc - datetime(2026, 1, 11, 20, 8, tzinfo=UTC)) < off  # an hour after noon
    assert abs(evening.by_utc - datetime(2026, 1, 11, 23, 33, tzinfo=UTC)) < off  # twenty minutes before sunset


def test_where_the_sun_does_not_set_people_sleep_all_the_same() -> None:
    north = Site(latitude_deg=75.0, longitude_deg=0.0, elevation_m=0.0, time_zone="UTC")
    now = datetime(2026, 6, 20, tzinfo=UTC)
    found = [slot for slot in slots(north, now, np.full(48, 1.0), now, 10.0) if slot.day == date(2026, 6, 21)]
    assert min(slot.light_utc.hour for slot in found) in (5, 6)
    assert max(slot.by_utc.hour for slot in found) == 19


def test_a_fresh_breeze_keeps_nobody_from_the_film() -> None:
    air = days_of_air(*SNAP)
    calm, breeze = (
        plan_of([situation(forecast_of(air, gust_m_s=np.full(len(air), gust)), cover=COVER, count=5)])
        for gust in (3.0, 8.0)
    )
    assert breeze.acts
    assert [act.night for act in breeze.acts] == [act.night for act in calm.acts]


def test_a_tree_that_will_lose_most_of_its_worth_but_not_all_is_still_cared_for() -> None:
    one = situation(forecast_of(days_of_air(*SNAP)), cover=COVER, state=CoverState.BARE, count=5)
    found = plan_of([one], climate=winters(-8.0, 12.0))  # some 60 % go even with the best of care
    assert found.acts
    assert found.past_saving == {}


def test_a_cap_opened_today_may_be_opened_for_the_warm_days_that_begin_three_nights_on() -> None:
    days = days_of_air([0.0] * 3 + [8.0] * 6, [6.0] * 3 + [20.0] * 6)
    found = plan_of([situation(forecast_of(days), cover=COVER, state=CoverState.CLOSED, count=5)])
    assert [act.reason for act in found.acts] == [Reason.SOFTEN]
