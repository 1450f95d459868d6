"""A night's low inside belongs to the night that made it, though a shut cover lags past noon."""

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from rules.garden.cover import Cover
from rules.heat.balance import inside_temperatures
from rules.heat.night_lows import night_lows, wood_minima
from tests.hourly import hours_of
from tests.rules.heat.heat_fine_model import SPELL_SOIL, Spell

Floats = npt.NDArray[np.float64]
DAYS = 14
NIGHTS = [slice(24 * n + 12, 24 * n + 36) for n in range(DAYS - 2)]
THICK = Cover(name="thick", outer_diameter_m=1.4)  # 40 cm of straw: it lags by five hours and more


def test_a_mild_night_is_not_told_the_low_of_the_cold_one_before_it() -> None:
    """-14, then a night of +8: at noon between them a thick cover is still falling."""
    spell = Spell(minima_c=(2, -14, 8, 8), maxima_c=(6, -9, 2, 12), mild_c=(0, 6), mild_days=10, cloud=1.0)
    weather = spell.weather()
    inside = inside_temperatures([THICK], np.full((1, weather.air_c.size), 2), weather, soil=SPELL_SOIL)
    wood_c = inside.wood_c[0]
    night = NIGHTS[10]  # noon of the day before the -14 to noon of its own
    following = NIGHTS[11]
    (cold, mild), (at, _) = night_lows(wood_c, [night, following])
    assert wood_c[following].min() == cold  # by the clock both nights were told the same low
    assert at >= night.stop  # the cold night's own low came after noon
    assert cold == wood_c[night.start : following.stop].min()
    assert mild > wood_c[following].min() + 0.2


@given(arrays(float, 24 * DAYS, elements=st.floats(-30, 30)))
def test_every_hour_belongs_to_one_night_so_no_low_is_lost(
    course_c: np.ndarray[tuple[int], np.dtype[np.float64]],
) -> None:
    lows, marks = night_lows(course_c, NIGHTS)
    assert lows == pytest.approx(course_c[marks])
    first = int(course_c[12:24].argmax()) + 12
    assert lows.min() == course_c[first : NIGHTS[-1].stop].min()


def test_a_bare_tree_keeps_to_the_clock() -> None:
    course_c = Spell(mild_days=DAYS - 3).weather().air_c[: 24 * DAYS]
    lows, _ = night_lows(course_c, NIGHTS, covered=False)
    assert lows.tolist() == [course_c[night].min() for night in NIGHTS]


def test_in_the_open_the_turn_of_the_afternoon_changes_nothing_where_nights_are_colder_than_days() -> None:
    course_c = Spell(mild_days=DAYS - 3).weather().air_c[: 24 * DAYS]
    assert night_lows(course_c, NIGHTS)[0].tolist() == night_lows(course_c, NIGHTS, covered=False)[0].tolist()


def test_members_and_states_turn_each_at_its_own_hour() -> None:
    hours = np.arange(24 * DAYS)
    lags = np.array([0, 3, 6])
    courses_c = -5 + 4 * np.cos(2 * np.pi * (hours - 14 - lags[:, None]) / 24) + 0.5 * (hours // 96)
    together, _ = night_lows(courses_c, NIGHTS)
    for row, course_c in zip(together, courses_c, strict=True):
        assert row.tolist() == night_lows(course_c, NIGHTS)[0].tolist()


def test_a_past_with_gaps_tells_the_nights_it_knows() -> None:
    air_c = Spell(mild_days=DAYS - 3).weather().air_c[: 24 * DAYS]
    field = hours_of(datetime(2026, 1, 1, tzinfo=UTC), air_c)
    known = air_c.copy()
    known[100:140] = np.nan
    told = wood_minima(replace(field, air_c=known), ZoneInfo("UTC"), known, np.ones(len(known), dtype=bool))
    assert all(np.isfinite(one.air_c) for one in told)
    assert len({one.evening for one in told}) == len(told) >= DAYS - 3
