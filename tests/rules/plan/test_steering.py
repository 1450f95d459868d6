"""Covers tended in the grower's own way and in their own hours: followed without argument, asked when they can go."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest

from rules.garden.cover import Cover, CoverState, Preset
from rules.garden.records import DeedKind
from rules.garden.tree import Phase, Tending
from rules.plan.garden_plan import Plan, Reason, plan
from rules.plan.grower.free_hours import ANY_TIME, FreeHours, hours_of
from rules.plan.grower.own_way import NOT_THIS_WAY, steered
from rules.plan.slots import DayPart, slots, slots_ahead
from tests.rules.plan.plan_gardens import (
    COVER,
    NOW,
    SITE,
    bearing,
    days_of_air,
    forecast_of,
    heat_of,
    plan_of,
    situation,
    stakes_of,
)

COLD_JOBS = (DeedKind.WRAPPED, DeedKind.CLOSED)
WARM = ([6.0] * 8, [18.0] * 8)
COLDER = ([-4.0, -5.0, -10.2, -5.0, -2.0, -1.0], [4.0, 4.0, 2.0, 2.0, 4.0, 4.0])
SNAP = ([-2.0, -3.0, -4.0, -15.0, -6.0, -1.0], [4.0, 4.0, 2.0, -5.0, 0.0, 4.0])  # Monday's night kills an open fig


def own_way(days: tuple[list[float], list[float]], state: CoverState, tending: Tending) -> Plan:
    one = situation(forecast_of(days_of_air(*days)), cover=COVER, state=state, wood_hardiness=bearing(), count=5)
    tree = one.tree.model_copy(update={"tending": tending})
    return plan_of([replace(one, tree=tree)])


def test_who_was_taught_to_open_in_warm_spells_is_asked_to_and_told_that_it_is_their_way() -> None:
    opened = own_way(WARM, CoverState.CLOSED, Tending.AS_TAUGHT).acts[0]
    assert (opened.kind, opened.reason) == (DeedKind.VENTED, Reason.YOUR_WAY)
    assert own_way(WARM, CoverState.CLOSED, Tending.FEWEST_TRIPS).acts == ()


def test_the_way_that_was_taught_shuts_before_the_frost_and_keeps_open_before_it() -> None:
    shut = own_way(SNAP, CoverState.VENTED, Tending.AS_TAUGHT).acts
    assert [act.kind for act in shut][:1] == [DeedKind.CLOSED]
    assert shut[0].reason is Reason.COLD
    assert shut[0].by_utc < datetime(2026, 1, 14, tzinfo=UTC)  # before the −15 °C morning of the thirteenth


def test_the_way_that_was_taught_shuts_for_a_night_as_cold_as_the_wood_is_safe_to_and_for_none_far_milder() -> None:
    """Open, the wood would feel about the −8.5 °C of three in ten; or three degrees more."""
    one = situation(forecast_of(days_of_air(*COLDER)), cover=COVER, wood_hardiness=bearing(), count=5)
    felt = stakes_of([one], slots_ahead([one.weather], SITE, NOW)).stakes.middle_c[0].mean(axis=0)[:, 1].min()
    assert felt == pytest.approx(-8.5, abs=0.4)
    assert own_way(COLDER, CoverState.VENTED, Tending.AS_TAUGHT).acts[0].kind is DeedKind.CLOSED
    milder = ([air_c + 3.5 for air_c in COLDER[0]], COLDER[1])
    assert own_way(milder, CoverState.VENTED, Tending.AS_TAUGHT).acts == ()


def test_who_tends_early_wraps_before_a_night_of_three_in_ten_and_not_only_of_five() -> None:
    """Bare, the wood would feel about the −8.5 °C of three in ten (50 % point −12, one spread 1.4 °C)."""
    for warmer_c, wanted in ((1.0, {DeedKind.WRAPPED}), (6.0, set())):
        days = ([air_c + warmer_c for air_c in COLDER[0]], COLDER[1])
        assert {act.kind for act in own_way(days, CoverState.BARE, Tending.EARLY).acts} == wanted


def test_covers_due_within_four_days_come_off_in_one_visit() -> None:
    """Buds of one tree break now, of the other in three days, or in five."""
    early = replace(bearing(), phase=Phase.GROWING)

    def off(days_later: int) -> list[int]:
        """Days from now on which each cover comes off."""
        both = [
            situation(forecast_of(days_of_air(*WARM)), name=name, cover=COVER, state=CoverState.CLOSED,
                      wood_hardiness=early, count=5)
            for name in ("Porch", "Wall")
        ]  # fmt: skip
        both = [replace(one, tree=one.tree.model_copy(update={"tending": Tending.EARLY})) for one in both]
        times = slots_ahead([one.weather for one in both], SITE, NOW)
        at = stakes_of(both, times)
        broken = np.arange(len(times) + 1) >= 2 * days_later
        wood = [replace(at.wood[i], developed=np.repeat(each[:, None], 3, axis=1))
                for i, each in enumerate((np.ones(len(broken)), np.where(broken, 0.8, 0.5)))]  # fmt: skip
        kept = steered(replace(at, wood=wood), SITE.latitude_deg).standing_cost[:, 0]
        return [int(np.argmax(each[:, 0] < NOT_THIS_WAY / 2)) // 2 for each in kept]

    assert off(3) == [0, 0]
    assert off(5) == [0, 5]


def test_nobody_s_way_puts_on_or_shuts_a_film_that_radiates_more_than_it_holds() -> None:
    """Clear film is colder inside than outside on a clear night until it is wet (Savage 1980)."""
    film = Cover(name="film", preset=Preset.FILM)
    for state in (CoverState.BARE, CoverState.VENTED):
        one = situation(forecast_of(days_of_air(*SNAP)), cover=film, state=state, wood_hardiness=bearing(), count=5)
        tree = one.tree.model_copy(update={"tending": Tending.AS_TAUGHT})
        assert not [act for act in plan_of([replace(one, tree=tree)]).acts if act.kind in COLD_JOBS]


@pytest.mark.parametrize("text", ["noon", "20-18", "18:00", "8:00-25:00"])
def test_hours_that_make_no_sense_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="must be hours like"):
        hours_of(text)


def test_who_can_go_on_saturdays_only_is_asked_on_the_saturday_before_the_cold() -> None:
    """10 January 2026 is a Saturday, and the cold comes on Tuesday morning."""
    one = situation(forecast_of(days_of_air(*SNAP)), cover=COVER, state=CoverState.VENTED, count=5)
    free = FreeHours(saturday="all day")
    times = slots_ahead([one.weather], SITE, NOW, free=free)
    acts = plan([one], heat_of([one], times), times, SITE).acts
    assert {act.by_utc.astimezone(SITE.zone).date() for act in acts} == {date(2026, 1, 10)}
    assert not any(act.can_wait for act in acts)  # no other Saturday comes before Tuesday
    assert acts[0].kind is DeedKind.CLOSED


def test_evenings_after_six_lie_in_the_dark_in_january_and_two_people_have_twice_the_time() -> None:
    light = slots(SITE, NOW, np.full(72, 1.0), NOW, 10.0)
    evenings = FreeHours(**dict.fromkeys(("sunday", "monday"), "18:00-20:00"), hands=2)
    for slot in (one.in_free_hours(evenings, SITE.zone) for one in light):
        if slot.day.weekday() in (6, 0) and slot.part is DayPart.EVENING:
            assert slot.from_utc.astimezone(SITE.zone).time() == time(18)
            assert slot.by_utc - slot.from_utc == timedelta(hours=2)
            assert slot.room_minutes == 240.0
        else:
            assert slot.room_minutes == 0.0
    assert ANY_TIME.minutes() == (1440.0,) * 7
