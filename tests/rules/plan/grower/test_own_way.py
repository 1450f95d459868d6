"""On either side of what the grower's own way goes by: what a cover must keep, how firmly it is followed, its price."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from rules.garden.cover import Cover, CoverState
from rules.garden.tree import Phase, Standing, Tending
from rules.plan.garden_plan import plan
from rules.plan.grower.own_way import course_of
from rules.plan.grower.way_price import lasting_c
from rules.plan.season.ways import BARE, EARLY, TAUGHT, Way
from rules.plan.slots import DayPart, slots_ahead
from rules.site.microclimate import PRIORS, at_tree
from tests.hourly import hours_of
from tests.rules.plan.plan_gardens import (
    NOW,
    SITE,
    bearing,
    days_of_air,
    forecast_of,
    heat_of,
    situation,
    stakes_of,
)

VENTED, CLOSED = 1, 2


def shuts_a_cover_that_keeps(warmer_c: float) -> bool:
    """Whether the taught way shuts an open cover before nights the wood does not bear, that warmer shut than open."""
    one = situation(forecast_of(days_of_air([-12.0] * 3, [-4.0] * 3)), count=2)
    at = stakes_of([one], slots_ahead([one.weather], SITE, NOW))
    felt = np.broadcast_to([-12.0, -12.0, -12.0 + warmer_c], at.stakes.middle_c.shape)
    course = course_of(replace(at, stakes=replace(at.stakes, middle_c=felt)), 0, TAUGHT, SITE.latitude_deg)
    return bool(course[-1] == CLOSED)


def test_nobody_is_sent_out_to_shut_what_keeps_the_wood_no_third_of_a_degree_warmer() -> None:
    """Film over bare wood on a clear night: less than any thermometer in a garden tells apart."""
    assert [shuts_a_cover_that_keeps(c) for c in (-0.5, 0.2, 0.5, 2.0)] == [False, False, True, True]


def strips_before(share_too_cold: float) -> bool:
    """Whether the early way uncovers in April where that share of the members tells a night the wood does not bear."""
    now = datetime(2026, 4, 20, 15, tzinfo=UTC)
    one = situation(
        forecast_of(np.full(96, 8.0), now), now, state=CoverState.CLOSED, count=20,
        wood_hardiness=bearing(-3.0, -6.0, phase=Phase.GROWING),
    )  # fmt: skip
    at = stakes_of([one], slots_ahead([one.weather], SITE, now))
    middle = np.full_like(at.stakes.middle_c, 4.0)
    middle[:, : round(share_too_cold * middle.shape[1])] = -9.0
    out = replace(
        at,
        stakes=replace(at.stakes, middle_c=middle),
        wood=tuple(replace(one, developed=np.ones_like(one.developed)) for one in at.wood),
    )
    return bool((course_of(out, 0, EARLY, SITE.latitude_deg) == BARE).any())


def test_nobody_who_tends_early_is_told_to_uncover_before_a_night_that_more_than_one_in_ten_times_is_too_cold() -> None:
    """The mean of members of which a third freeze is mild; who lost a spring's shoots to it would not call it so."""
    assert [strips_before(share) for share in (0.0, 0.1, 0.15, 0.3)] == [True, True, False, False]


def strips_tonight(told_c: float, unforeseen_c: float) -> bool:
    """Whether the early way uncovers before a night told so, by a forecast that errs by so much."""
    now = datetime(2026, 4, 20, 15, tzinfo=UTC)
    one = situation(
        forecast_of(np.full(96, 8.0), now), now, state=CoverState.CLOSED, count=5,
        wood_hardiness=bearing(-3.0, -6.0, phase=Phase.GROWING),
    )  # fmt: skip
    at = stakes_of([one], slots_ahead([one.weather], SITE, now))
    middle, unforeseen = np.full_like(at.stakes.middle_c, 6.0), np.zeros_like(at.stakes.unforeseen_c)
    middle[:, :, 1], unforeseen[:, 1] = told_c, unforeseen_c  # this evening's night
    out = replace(at, stakes=replace(at.stakes, middle_c=middle, unforeseen_c=unforeseen))
    return bool((course_of(out, 0, EARLY, SITE.latitude_deg)[:2] == BARE).any())


def test_nobody_uncovers_the_day_before_a_night_that_the_last_forecast_s_error_may_make_too_cold() -> None:
    """All members of tonight agree; that they err by 2 °C is one chance in five of −3 where −1.5 is told."""
    assert [strips_tonight(told_c, 2.0) for told_c in (1.0, -1.5)] == [True, False]
    assert strips_tonight(-1.5, 0.2)


def test_who_tends_as_taught_is_asked_for_no_wrap_in_april_however_dear_the_tree() -> None:
    """Nobody wraps a tree after winter: their way is followed without argument, though one night's frost takes all."""
    now = datetime(2026, 4, 10, 15, tzinfo=UTC)  # nine in the morning by the garden's clock
    air = np.full(72, 8.0)
    air[12:19] = -16.0  # from nine in the evening to four
    asked = {}
    for tending in (Tending.AS_TAUGHT, Tending.FEWEST_TRIPS):
        one = situation(
            forecast_of(air, now), now, cover=Cover(name="blanket", minutes_to_wrap=10.0), state=CoverState.BARE,
            wood_hardiness=bearing(-3.0, -6.0, phase=Phase.GROWING), worth_trips=1000.0, count=5,
        )  # fmt: skip
        one = replace(one, tree=one.tree.model_copy(update={"tending": tending}))
        times = slots_ahead([one.weather], SITE, now)
        asked[tending] = len(plan([one], heat_of([one], times), times, SITE).acts)
    assert asked[Tending.FEWEST_TRIPS] > 0
    assert asked[Tending.AS_TAUGHT] == 0


@pytest.mark.parametrize("standing", [Standing.OPEN, Standing.WALL, Standing.HOLLOW])
def test_a_way_is_priced_with_the_doubt_of_its_site_that_the_plan_has_in_a_still_night_half_in_cloud(
    standing: Standing,
) -> None:
    night = at_tree(hours_of(NOW, [-5.0] * 24, cloud_fraction=0.5, wind_m_s=0.5), SITE, standing)
    bare_c, vented_c, closed_c = lasting_c(standing)
    assert bare_c == pytest.approx(night.offset_sd_c, rel=0.1)
    assert PRIORS[standing].mixed_sd_c < bare_c < PRIORS[standing].sd_c(1.0)
    assert bare_c < vented_c == closed_c


def opens_before_a_cold_night(way: Way, days_off: int) -> bool:
    """Whether a shut cover is opened today, in a warm April, where one night so many days off is too cold for it."""
    now = datetime(2026, 4, 20, 15, tzinfo=UTC)
    one = situation(
        forecast_of(np.full(24 * 9, 12.0), now), now, state=CoverState.CLOSED, count=5,
        wood_hardiness=bearing(-3.0, -6.0, phase=Phase.WAKING),
    )  # fmt: skip
    times = slots_ahead([one.weather], SITE, now)
    at = stakes_of([one], times)
    evenings = [k for k, slot in enumerate(times) if slot.part is DayPart.EVENING]
    middle = np.full_like(at.stakes.middle_c, 6.0)
    middle[:, :, evenings[days_off]] = -5.0
    out = replace(at, stakes=replace(at.stakes, middle_c=middle), wood=tuple(
        replace(one, developed=np.zeros_like(one.developed)) for one in at.wood
    ))  # fmt: skip
    return bool(course_of(out, 0, way, SITE.latitude_deg)[evenings[0]] == VENTED)


def test_who_tends_early_opens_once_and_not_for_days_before_a_night_that_is_told_already() -> None:
    """Opened today and shut again on Saturday for a frost that was in today's forecast: two walks for nothing. The
    rule that is taught looks at four nights, and is followed as it is."""
    assert [opens_before_a_cold_night(EARLY, days) for days in (2, 5, 7)] == [False, False, False]
    assert [opens_before_a_cold_night(TAUGHT, days) for days in (2, 5, 7)] == [False, True, True]
