"""Where a tree is in its year: seasons of both halves of the earth, day length, phases, what can be believed when."""

from datetime import UTC, date, datetime, timedelta
from typing import Any, Final

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.garden.records import Sighting, SightingKind
from rules.garden.species import species_row
from rules.garden.tree import Phase, Site
from rules.wood.season import (
    SightingEffect,
    day_length_h,
    day_of_season,
    hardening_share,
    judged,
    phase_by_date,
    phase_of,
    phase_seen,
    season_place,
)

NORTH: Final = Site(latitude_deg=40, longitude_deg=-100, elevation_m=900, time_zone="America/Denver")
SOUTH: Final = Site(latitude_deg=-40, longitude_deg=150, elevation_m=900, time_zone="Australia/Sydney")
FIG_T50: Final = {phase: species_row("fig").lt50_c(phase) for phase in Phase}


def state(**changed: Any) -> Phase:
    told: dict[str, Any] = {"day": 60, "hc_c": -8.0, "hardest_c": -8.0, "eco": False, "woke": False, "green": False}
    return phase_of(**(told | changed), lt50_c=FIG_T50)


def sighting(sight: SightingKind, day: date, hour: int = 18) -> Sighting:
    return Sighting(tree="Porch", sight=sight, at_utc=datetime(day.year, day.month, day.day, hour, tzinfo=UTC))


@given(st.dates(date(1990, 1, 1), date(2060, 12, 31)), st.sampled_from([40.0, -40.0]))
def test_every_day_belongs_to_one_season_and_lies_within_it(day: date, latitude_deg: float) -> None:
    place = season_place(day, latitude_deg)
    assert place.start + timedelta(days=place.day) == day
    assert 0 <= place.day <= 365
    assert (place.start.month, place.start.day) == ((9, 7) if latitude_deg > 0 else (3, 7))


def test_the_first_of_december_is_the_last_of_may_in_the_south() -> None:
    assert season_place(date(2026, 12, 1), 40.0).day == day_of_season((12, 1))
    assert season_place(date(2027, 5, 31), -40.0).day == day_of_season((12, 1))


# Outside check: US Naval Observatory, duration of daylight tables, from memory: 40° N 21 June 15 h 01 min, 21 December
# 9 h 20 min; equator 12 h 07 min on any day. Two minutes for the memory and the year.
@pytest.mark.parametrize(
    ("day", "latitude_deg", "hours"),
    [
        (date(2026, 6, 21), 40.0, 15 + 1 / 60),
        (date(2026, 12, 21), 40.0, 9 + 20 / 60),
        (date(2026, 6, 21), 0.0, 12 + 7 / 60),
        (date(2026, 12, 21), 0.0, 12 + 7 / 60),
    ],
)
def test_day_length_agrees_with_the_almanac(day: date, latitude_deg: float, hours: float) -> None:
    assert day_length_h(day, 1, latitude_deg)[0] == pytest.approx(hours, abs=2 / 60)


def test_beyond_the_circles_the_day_lasts_all_or_none_of_24_hours() -> None:
    assert day_length_h(date(2026, 6, 21), 1, 75.0)[0] == 24.0
    assert day_length_h(date(2026, 12, 21), 1, 75.0)[0] == 0.0
    assert np.isfinite(day_length_h(date(2026, 1, 1), 365, 90.0)).all()


def test_long_days_hold_hardening_back_and_short_days_do_not() -> None:
    share = hardening_share(day_length_h(date(2026, 6, 21), 150, 40.0))
    assert share[0] == 0.0
    assert (np.diff(share) >= 0).all()
    assert share[-1] == 1.0


@pytest.mark.parametrize(
    ("told", "phase"),
    [
        ({"hc_c": -5.0, "hardest_c": -5.0}, Phase.RIPENING),
        ({}, Phase.HARDENING),
        ({"hc_c": -11.0, "hardest_c": -11.0}, Phase.RESTING),
        ({"day": 90, "eco": True}, Phase.HARDENING),  # chill met in December does not make hardening wood wake
        ({"day": 130, "eco": True, "hc_c": -9.0, "hardest_c": -12.0}, Phase.WAKING),
        ({"day": 130, "eco": True, "hc_c": -11.0, "hardest_c": -12.0}, Phase.RESTING),
        ({"day": 175, "eco": True}, Phase.WAKING),  # never fully hardened and it is March
        ({"day": 130, "eco": True, "woke": True, "hc_c": -11.0, "hardest_c": -11.0}, Phase.WAKING),
        ({"day": 230, "eco": True, "green": True}, Phase.GROWING),
    ],
)
def test_the_state_of_the_wood_names_its_phase(told: dict[str, Any], phase: Phase) -> None:
    assert state(**told) is phase


@pytest.mark.parametrize(
    ("north", "south", "phase"),
    [
        (date(2026, 9, 10), date(2027, 3, 10), Phase.RIPENING),
        (date(2026, 11, 15), date(2027, 5, 15), Phase.HARDENING),
        (date(2027, 1, 20), date(2027, 7, 20), Phase.RESTING),
        (date(2027, 3, 10), date(2027, 9, 10), Phase.WAKING),
        (date(2027, 6, 1), date(2027, 12, 1), Phase.GROWING),
    ],
)
def test_the_calendar_mirrors_by_half_a_year(north: date, south: date, phase: Phase) -> None:
    assert phase_by_date(north, NORTH) is phase_by_date(south, SOUTH) is phase


@pytest.mark.parametrize(
    ("sight", "month", "day", "believed"),
    [
        (SightingKind.LEAVES_DROPPED, 7, 10, False),
        (SightingKind.LEAVES_DROPPED, 9, 3, True),  # a few days before the season opens
        (SightingKind.LEAVES_DROPPED, 10, 25, True),
        (SightingKind.LEAVES_YELLOW, 6, 20, False),
        (SightingKind.LEAVES_YELLOW, 10, 10, True),
        (SightingKind.LEAVES_FROZEN_GREEN, 10, 28, True),
        (SightingKind.LEAVES_FROZEN_GREEN, 4, 20, True),  # new leaves in a late frost
        (SightingKind.LEAVES_FROZEN_GREEN, 7, 20, False),
        (SightingKind.BUDS_SWELLING, 3, 1, True),
        (SightingKind.BUDS_SWELLING, 10, 1, False),
        (SightingKind.LEAFED_OUT, 5, 1, True),
        (SightingKind.LEAFED_OUT, 11, 1, False),
        (SightingKind.FRUIT_PEA_SIZE, 6, 15, True),
        (SightingKind.FRUIT_PEA_SIZE, 12, 24, False),
    ],
)
def test_a_sighting_is_believed_in_its_own_time_of_year(
    sight: SightingKind, month: int, day: int, believed: bool
) -> None:
    when = date(2027, month, day)
    (told,) = judged([sighting(sight, when)], "Porch", NORTH, when)
    assert told.believed is believed


@pytest.mark.parametrize("sight", list(SightingKind))
def test_what_is_believed_in_the_north_is_believed_half_a_year_later_in_the_south(sight: SightingKind) -> None:
    for week in range(52):
        north, south = date(2026, 9, 7) + timedelta(weeks=week), date(2027, 3, 7) + timedelta(weeks=week)
        (one,) = judged([sighting(sight, north)], "Porch", NORTH, north)
        (other,) = judged([sighting(sight, south, hour=0)], "Porch", SOUTH, south)
        assert (one.believed, one.day) == (other.believed, other.day)


def test_a_sighting_counts_on_its_local_day() -> None:
    late_evening = Sighting(
        tree="Porch", sight=SightingKind.LEAVES_DROPPED, at_utc=datetime(2026, 10, 25, 3, tzinfo=UTC)
    )
    (told,) = judged([late_evening], "Porch", NORTH, date(2026, 10, 25))  # 21:00 of the 24th in Denver
    assert told.day == (date(2026, 10, 24) - date(2026, 9, 7)).days


def test_sightings_come_in_order_and_only_those_of_this_tree_and_season() -> None:
    told = [
        sighting(SightingKind.BUDS_SWELLING, date(2027, 2, 20)),
        sighting(SightingKind.LEAVES_DROPPED, date(2026, 10, 25)),
        sighting(SightingKind.LEAVES_DROPPED, date(2025, 10, 25)),
        Sighting(tree="Wall", sight=SightingKind.LEAVES_DROPPED, at_utc=datetime(2026, 10, 20, tzinfo=UTC)),
    ]
    kept = judged(told, "Porch", NORTH, date(2027, 3, 1))
    assert [each.sighting for each in kept] == [told[1], told[0]]


def test_leaves_seen_just_before_the_season_opens_count_on_its_first_day() -> None:
    (told,) = judged([sighting(SightingKind.LEAVES_YELLOW, date(2026, 9, 2))], "Porch", NORTH, date(2026, 9, 10))
    assert (told.day, told.believed) == (0, True)


@pytest.mark.parametrize(
    ("before", "sight", "after"),
    [
        (Phase.RIPENING, SightingKind.LEAVES_DROPPED, Phase.HARDENING),
        (Phase.RESTING, SightingKind.LEAVES_DROPPED, Phase.RESTING),
        (Phase.RESTING, SightingKind.LEAVES_YELLOW, Phase.HARDENING),
        (Phase.RIPENING, SightingKind.LEAVES_YELLOW, Phase.RIPENING),
        (Phase.RESTING, SightingKind.LEAVES_FROZEN_GREEN, Phase.HARDENING),
        (Phase.RESTING, SightingKind.BUDS_SWELLING, Phase.WAKING),
        (Phase.GROWING, SightingKind.BUDS_SWELLING, Phase.GROWING),
        (Phase.RESTING, SightingKind.LEAFED_OUT, Phase.GROWING),
        (Phase.WAKING, SightingKind.FRUIT_PEA_SIZE, Phase.GROWING),
    ],
)
def test_what_is_seen_moves_the_calendars_phase(before: Phase, sight: SightingKind, after: Phase) -> None:
    assert phase_seen(before, sight) is after


def test_an_effect_counts_as_a_move_only_if_phase_or_a_twentieth_of_a_degree_changed() -> None:
    def effect(after_c: float, phase: Phase) -> SightingEffect:
        return SightingEffect(
            sighting=sighting(SightingKind.LEAVES_DROPPED, date(2026, 10, 1)), believed=True,
            phase_before=Phase.RIPENING, phase_after=phase, lt10_before_c=-3.0, lt10_after_c=after_c,
        )  # fmt: skip

    assert not effect(-3.04, Phase.RIPENING).moved
    assert effect(-3.06, Phase.RIPENING).moved
    assert effect(-3.0, Phase.HARDENING).moved
