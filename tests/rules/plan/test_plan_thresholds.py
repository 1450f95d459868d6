"""On either side of each threshold of the plan: what it costs to leave a cover as it is, and when somebody can go."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from rules.garden.cover import Cover, CoverState
from rules.garden.records import Sighting, SightingKind
from rules.garden.tree import Phase, Site
from rules.plan.certainty.staying import stays
from rules.plan.changes.shut_at_once import shut_at_once
from rules.plan.changes.strip_cue import broken
from rules.plan.cover_costs import StandingCost, minutes_of_change, standing_cost, work_of
from rules.plan.garden_stakes import _work
from rules.plan.prices import ASSUMED
from rules.plan.slots import DayPart, slots, slots_ahead
from rules.plan.wood_ahead import WoodCourses
from rules.wood.season import SightingEffect
from tests.rules.plan.plan_gardens import (
    COVER,
    NOW,
    SITE,
    bearing,
    days_of_air,
    forecast_of,
    plan_of,
    situation,
    stakes_of,
)
from tests.rules.plan.test_plan import SNAP, winters
from tests.rules.plan.test_plan_search import one_night

VENTED, CLOSED = 1, 2


def held(inside_c: float, hottest_c: float, leaves: float, developed: float, *, mould: bool = False) -> StandingCost:
    """A day shut in."""
    return standing_cost(CLOSED, np.asarray(inside_c), np.asarray(hottest_c), leaves, developed, ASSUMED, mould=mould)


def test_green_leaves_shut_in_rot_the_more_the_warmer_it_is_and_dry_leafless_wood_does_not() -> None:
    cool, warm = (float(held(c, c, leaves=1.0, developed=0.0).rot) for c in (5.0, 15.0))
    assert 0.0 < cool < warm
    assert float(held(15.0, 15.0, leaves=0.0, developed=0.0).rot) == 0.0
    assert float(held(15.0, 15.0, leaves=0.0, developed=0.0, mould=True).rot) > 0.0


def test_ten_days_shut_in_full_leaf_at_ten_degrees_are_a_trip_at_five_half_of_it_and_in_frost_nothing() -> None:
    """A tenth of a trip a day by the share of the leaves and what is felt inside over 10 °C; the amount assumed."""
    days = [10 * float(held(c, c, leaves=1.0, developed=0.0).rot) for c in (10.0, 5.0, -5.0)]
    assert days == pytest.approx([1.0, 0.5, 0.0])
    assert float(held(10.0, 10.0, leaves=0.5, developed=0.0).rot) == pytest.approx(0.05)


def test_leaves_packed_in_straw_rot_under_an_open_top_too_by_their_share_of_the_dark_and_bare_not_at_all() -> None:
    """Who wraps before leaf fall has mould however the top stands: common practice; half the light, assumed."""
    air = np.asarray(10.0)
    bare, opened, shut = (float(standing_cost(at, air, air, 1.0, 0.0, ASSUMED).rot) for at in (0, 1, CLOSED))
    assert bare == 0.0
    assert opened == pytest.approx(0.5 / 0.9 * shut)
    mouldy = standing_cost(1, air, air, 0.0, 0.0, ASSUMED, mould=True)
    assert float(mouldy.rot) == 0.0  # an open top dries what leafless wood stands in


def test_shoots_grow_pale_in_the_dark_from_the_break_of_the_buds_on() -> None:
    assert [float(held(10.0, 15.0, 0.0, way).pale) > 0 for way in (0.5, 0.9)] == [False, True]


def test_leaves_under_film_are_cooked_from_some_forty_six_degrees_on() -> None:
    """Half of a leaf's photosystems fail at 44 to 47 °C (thyme, J. Exp. Bot. 2024, erae096, abstract)."""
    mild, at_half, cooked = (float(held(20.0, c, leaves=1.0, developed=0.0).hot) for c in (38.0, 46.0, 54.0))
    assert mild == pytest.approx(0.0, abs=0.01)
    assert at_half == pytest.approx(ASSUMED.shoots / 2, rel=0.01)
    assert cooked == pytest.approx(ASSUMED.shoots, rel=0.01)


def test_at_forty_four_degrees_a_leaf_in_six_is_lost_and_where_membranes_fail_nearly_all_are() -> None:
    """46 ± 2 °C as above; membranes fail at 50 °C (Colorado State University Extension, as the handbook read it)."""
    share = [float(held(20.0, c, leaves=1.0, developed=0.0).hot) / ASSUMED.shoots for c in (42.0, 44.0, 48.0, 50.0)]
    assert share[0] < 0.05
    assert share[1:3] == pytest.approx([1 / 6, 5 / 6], abs=0.02)
    assert share[3] > 0.95


def test_shoots_shut_in_for_days_cost_by_the_day_whatever_slots_the_days_are_cut_into() -> None:
    """0.3 trips a day in the dark by the share of daylight kept out: all but a tenth; open half, bare none."""
    air = days_of_air([4.0] * 5, [12.0] * 5)  # 112 hours
    green = situation(forecast_of(air), count=2, wood_hardiness=bearing(phase=Phase.GROWING))
    (parts,) = stakes_of([green], slots_ahead([green.weather], SITE, NOW)).parts
    assert parts.pale.mean(axis=0).sum(axis=0) == pytest.approx([0.0, 0.15 * 112 / 24, 0.27 * 112 / 24], rel=0.02)


@pytest.mark.parametrize(("cold_of_ten", "comes_off"), [(4, True), (6, False)])
def test_a_straw_cage_comes_off_in_spring_unless_more_than_half_of_the_forecast_brings_a_night_too_cold(
    cold_of_ten: int, comes_off: bool
) -> None:
    waking = situation(forecast_of(days_of_air(*SNAP)), count=2, wood_hardiness=bearing(phase=Phase.WAKING))
    waking = replace(waking, cover=Cover(name="straw cage", minutes_to_wrap=45.0))
    times = slots(SITE, NOW, np.full(72, 1.0), NOW, 10.0)
    bare_c = np.full((10, len(times)), 5.0)
    bare_c[:cold_of_ten, -1] = -20.0  # the last night told
    work = _work(waking, bare_c, np.ones((len(times), 2), dtype=bool), times, (), (), ASSUMED)
    assert bool(np.isfinite(work[0, 1:, 0]).any()) is comes_off


@pytest.mark.parametrize(("short_trips", "is_sure"), [(0.0007, False), (0.0015, True)])
def test_what_falls_short_of_its_price_by_less_than_a_thousandth_of_a_trip_is_left_to_the_search(
    short_trips: float, is_sure: bool
) -> None:
    """The search reckons in single precision: seven digits, of costs of hundreds of trips."""
    price = ASSUMED.visit + 0.5
    kills = one_night(0.999999, saves=price - short_trips, price=0.5)
    certain = replace(kills, middle_c=kills.middle_c[:, :1], tip_c=kills.tip_c[:, :1])
    assert stays(certain, ASSUMED) is is_sure


def test_taking_a_cover_off_takes_half_as_long_as_putting_it_on() -> None:
    assert minutes_of_change(COVER)[1, 0] == COVER.minutes_to_wrap / 2


@pytest.mark.parametrize(("minutes", "comes_off"), [(20.0, True), (45.0, False)])
def test_a_blanket_comes_off_for_a_warm_spell_and_a_straw_cage_stays_on_till_its_buds_break(
    minutes: float, comes_off: bool
) -> None:
    cover = Cover(name="any", minutes_to_wrap=minutes)
    tree = situation(forecast_of(days_of_air(*SNAP)), cover=cover, count=2).tree
    times = slots(SITE, NOW, np.full(72, 1.0), NOW, 10.0)
    in_bud, in_leaf = (np.full((len(times), 2), broken) for broken in (False, True))
    winter, spring = (work_of(tree, cover, broken, times, (), (), ASSUMED) for broken in (in_bud, in_leaf))
    assert bool(np.isfinite(winter[:, 1, 0]).any()) is comes_off
    assert np.isfinite(spring[:, 1, 0]).any()


def test_a_straw_cage_comes_off_once_its_own_buds_break_and_no_day_before() -> None:
    """Closed buds lose nothing in the dark, and each day waited shows one more night: none is taken along early."""
    one = situation(forecast_of(days_of_air([6.0] * 9, [18.0] * 9)), count=2, wood_hardiness=bearing())
    times = slots_ahead([one.weather], SITE, NOW)
    developed = np.where(np.arange(len(times) + 1) >= 6, 0.8, 0.5)[:, None].repeat(3, axis=1)
    wood = WoodCourses(softer_c=np.zeros_like(developed), leaves=np.zeros_like(developed), developed=developed)
    assert broken(one, wood, times, SITE)[:, 1].tolist() == [k >= 6 for k in range(len(times))]


@pytest.mark.parametrize("said", [True, False])
def test_buds_seen_to_move_are_believed_before_those_that_are_reckoned(said: bool) -> None:
    """The other half of the cue: what the grower sees inside."""
    seen = Sighting(tree="Porch fig", sight=SightingKind.BUDS_SWELLING, at_utc=NOW)
    effect = SightingEffect(
        sighting=seen, believed=said, phase_before=Phase.RESTING, phase_after=Phase.WAKING, lt10_before_c=-9.0,
        lt10_after_c=-5.0,
    )  # fmt: skip
    wood = replace(bearing(phase=Phase.WAKING), effects=(effect,))
    one = situation(forecast_of(days_of_air([6.0] * 3, [18.0] * 3)), count=2, wood_hardiness=wood)
    at = stakes_of([one], slots_ahead([one.weather], SITE, NOW))
    assert bool(np.isfinite(at.stakes.work[0, :, CLOSED, 0]).any()) is said


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


@pytest.mark.parametrize(("open_chance", "may_stay_open"), [(0.15, True), (0.25, False)])
def test_a_cover_put_on_for_a_night_too_cold_for_it_open_is_put_on_shut(
    open_chance: float, may_stay_open: bool
) -> None:
    """Shut 1 in 20. A morning's wrap is for the same night; where there is no time for the top, the wrap is better
    than none; and a cover that is on already is another visit's matter."""
    times = slots(SITE, NOW, np.full(72, 1.0), NOW, 10.0)
    chance, work = np.zeros((1, len(times), 3)), np.zeros((1, len(times), 3, 3))
    chance[0, 1] = 0.9, open_chance, 0.05  # the first evening's night
    found = shut_at_once(work, chance, times)
    stays_open = np.isfinite(found[0, :, 0, VENTED]).tolist()
    assert stays_open == [may_stay_open] * 2 + [True] * (len(times) - 2)
    assert np.isfinite(found[..., 1:, :]).all()
    work[..., CLOSED] = np.inf
    assert np.isfinite(shut_at_once(work, chance, times)[0, :, 0, VENTED]).all()
