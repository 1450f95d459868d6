"""Inside temperatures: states over time, rounds, members, spread, and the refusals."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt
import pytest

from rules.garden.cover import Cover, Preset
from rules.garden.tree import Site, Standing
from rules.heat.balance import HeatStart, inside_temperatures, inside_with_spread
from rules.heat.properties import STRUCTURE_SD_C
from rules.heat.surroundings import Surroundings, TreeAir, bare_stem_c, part
from rules.site.microclimate import at_tree
from rules.site.soil import site_soil
from tests.hourly import hours_of
from tests.rules.heat.heat_fine_model import FIRST_JUDGED, SPELL_SOIL, Spell

SPELL = Spell().weather()
HOURS = SPELL.air_c.size
COVER = Cover(name="porch")
NIGHT_2 = slice(FIRST_JUDGED + 8 + 24, FIRST_JUDGED + 8 + 24 + 10)


def closed(covers: int = 1, hours: int = HOURS) -> np.ndarray[tuple[int, int], np.dtype[np.int64]]:
    return np.full((covers, hours), 2)


def test_a_trees_weather_fits_as_it_is() -> None:
    hours = 48
    air_c = -5 + 4 * np.cos(2 * np.pi * np.arange(hours) / 24)
    start = datetime(2026, 1, 10, tzinfo=UTC)
    field = hours_of(start, air_c, dew_point_c=-9.0, wind_m_s=2.0, cloud_fraction=0.0)
    site = Site(latitude_deg=40.5, longitude_deg=-75, elevation_m=50, time_zone="America/New_York")
    members = field.air_c + np.array([[-1.0], [1.0]])
    at_it: TreeAir = at_tree(field, site, Standing.WALL, air_c=members)
    inside = inside_temperatures([COVER], closed(1, hours), at_it, soil=site_soil(40.5, 50))
    assert inside.wood_c.shape == (1, 2, hours)
    assert (inside.wood_c[0, 0, 1:] < inside.wood_c[0, 1, 1:]).all()


def test_a_batch_gives_each_cover_what_it_gets_alone() -> None:
    covers = [Cover(name=preset, preset=preset) for preset in Preset]
    states = np.tile(np.repeat([2, 1, 0, 2], [200, 30, 20, HOURS - 250]), (len(covers), 1))
    together = inside_temperatures(covers, states, SPELL, soil=SPELL_SOIL)
    for row, cover in enumerate(covers):
        alone = inside_temperatures([cover], states[:1], SPELL, soil=SPELL_SOIL)
        # the same arithmetic in another order of operands: rounding only
        np.testing.assert_allclose(together.wood_c[row], alone.wood_c[0], atol=1e-9)
        np.testing.assert_allclose(together.top_c[row], alone.top_c[0], atol=1e-9)


def test_members_are_marched_as_if_each_were_the_only_weather() -> None:
    shifts = np.array([-2.0, 0.0, 1.5])
    members = moved(SPELL.air_c + shifts[:, None])
    inside = inside_temperatures([COVER, COVER], np.array([closed()[0], closed()[0] - 1]), members, soil=SPELL_SOIL)
    assert inside.wood_c.shape == (2, 3, HOURS)
    for member in range(3):
        alone = inside_temperatures([COVER], closed(), moved(members.air_c[member]), soil=SPELL_SOIL)
        np.testing.assert_allclose(inside.wood_c[0, member], alone.wood_c[0], atol=1e-9)


def test_covers_may_stand_in_weathers_of_their_own() -> None:
    mild = moved(SPELL.air_c + 3)
    inside = inside_temperatures([COVER, COVER, COVER], closed(3), [SPELL, mild, SPELL], soil=SPELL_SOIL)
    alone = inside_temperatures([COVER], closed(), mild, soil=SPELL_SOIL)
    np.testing.assert_allclose(inside.wood_c[1], alone.wood_c[0], atol=1e-9)
    np.testing.assert_allclose(inside.wood_c[0], inside.wood_c[2])


def moved(air_c: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Surroundings:
    return Surroundings(
        start_utc=SPELL.start_utc,
        air_c=air_c,
        wind_m_s=SPELL.wind_m_s,
        sky_emissivity=SPELL.sky_emissivity,
        sun_side_w_m2=SPELL.sun_side_w_m2,
        sun_top_w_m2=SPELL.sun_top_w_m2,
    )


def test_a_round_that_goes_on_from_the_last_agrees_with_one_march() -> None:
    states = closed(2)
    states[0, :100], states[0, 150:160], states[1, 118:130] = 0, 1, 1
    covers = [COVER, Cover(name="x", preset=Preset.FILM, water_l=20)]
    whole = inside_with_spread(covers, states, SPELL, soil=SPELL_SOIL)
    first = inside_with_spread(covers, states[:, :121], part(SPELL, 0, 121), soil=SPELL_SOIL)
    second = inside_with_spread(covers, states[:, 120:], part(SPELL, 120, HOURS), first.finish)
    np.testing.assert_allclose(second.wood_c, whole.wood_c[:, 120:], atol=1e-9)
    # the buckets of the moved covers are not kept, so only the dry cover's spread goes on exactly
    assert whole.spread_c is not None
    assert second.spread_c is not None
    np.testing.assert_allclose(second.spread_c[0], whole.spread_c[0, 120:], atol=1e-9)


def test_a_start_can_be_dealt_to_other_choices_of_the_same_tree() -> None:
    first = inside_temperatures([COVER], closed(1, 121), part(SPELL, 0, 121), soil=SPELL_SOIL)
    rest = HOURS - 120
    states = np.array([[0] * rest, [1] * rest, [2] * rest])
    inside = inside_temperatures([COVER] * 3, states, part(SPELL, 120, HOURS), first.finish.of([0, 0, 0]))
    lows = inside.wood_c.min(axis=1)
    assert lows[0] < lows[1] < lows[2]


def test_a_bare_tree_feels_what_a_bare_stem_feels() -> None:
    inside = inside_temperatures([COVER], closed() * 0, SPELL, soil=SPELL_SOIL)
    np.testing.assert_allclose(inside.wood_c[0], bare_stem_c(SPELL))
    np.testing.assert_allclose(inside.top_c[0], bare_stem_c(SPELL))
    np.testing.assert_allclose(inside.air_c[0], SPELL.air_c)


def test_a_cover_put_on_at_dusk_starts_from_the_bare_stem_and_gains_from_the_ground() -> None:
    states = closed()
    evening = FIRST_JUDGED + 24
    states[0, :evening] = 0
    inside = inside_temperatures([COVER], states, SPELL, soil=SPELL_SOIL)
    assert inside.wood_c[0, evening] == pytest.approx(bare_stem_c(SPELL)[evening])
    always = inside_temperatures([COVER], closed(), SPELL, soil=SPELL_SOIL)
    late, early = inside.wood_c[0, NIGHT_2].min(), always.wood_c[0, NIGHT_2].min()
    assert SPELL.air_c[NIGHT_2].min() + 3 < late < early + 1


def test_a_cap_opened_at_ten_changes_nothing_before_ten() -> None:
    states = closed(2)
    opened = FIRST_JUDGED + 18
    states[1, opened:] = 1
    inside = inside_temperatures([COVER, COVER], states, SPELL, soil=SPELL_SOIL)
    np.testing.assert_allclose(inside.wood_c[0, : opened + 1], inside.wood_c[1, : opened + 1], atol=1e-12)
    assert inside.wood_c[1, NIGHT_2].min() < inside.wood_c[0, NIGHT_2].min() - 3


def test_the_top_is_the_weak_point_under_a_poor_cap() -> None:
    thin, thick = Cover(name="x", cap="film"), Cover(name="x", plug_m=0.2)
    inside = inside_temperatures([thin, thick], closed(2), SPELL, soil=SPELL_SOIL)
    below = (inside.wood_c - inside.top_c)[:, NIGHT_2].max(axis=1)
    assert below[0] > below[1] > 0.5


def spread_c(states: np.ndarray[tuple[int, int], np.dtype[np.int64]]) -> npt.NDArray[np.float64]:
    found = inside_with_spread([COVER], states, SPELL, soil=SPELL_SOIL).spread_c
    assert found is not None
    return found


def test_unknown_straw_cap_leaks_and_soil_leave_about_one_degree() -> None:
    # 1500 draws of all unknowns gave 1.11 °C for night 2 (same spread of inputs, another sampling, exposures about a
    # sheltered mean); one number at a time is linear and per hour, so a fifth more or less is the claim.
    whole = spread_c(closed())[0]
    spread = np.sqrt(whole**2 - STRUCTURE_SD_C**2)  # what the equations themselves miss left out
    low = NIGHT_2.start + int(
        inside_temperatures([COVER], closed(), SPELL, soil=SPELL_SOIL).wood_c[0, NIGHT_2].argmin()
    )
    assert spread[low] == pytest.approx(1.11, rel=0.2)


def test_a_bare_tree_has_no_spread_from_its_cover() -> None:
    assert spread_c(closed() * 0).max() == 0


def test_a_plugged_bucket_or_snow_bank_warms_the_night() -> None:
    covers = [COVER, Cover(name="x", water_l=20), Cover(name="x", snow_bank_m=0.4), Cover(name="x", second_film=True)]
    lows = inside_temperatures(covers, closed(4), SPELL, soil=SPELL_SOIL).wood_c[:, NIGHT_2].min(axis=1)
    assert lows[0] < lows[1:].min()


def refusal(*, states: npt.ArrayLike | None = None, weather: TreeAir = SPELL, start: HeatStart | None = None) -> str:
    try:
        inside_temperatures([COVER], closed() if states is None else states, weather, start)
    except ValueError as refused:
        return str(refused)
    return "nothing was refused"


def test_what_cannot_be_marched_is_refused_in_a_sentence() -> None:
    assert refusal() == "neither start nor soil is given, the heat balance needs one of them"
    assert refusal(states=closed(2)) == f"states have shape (2, {HOURS}), they must be covers x hours, (1, {HOURS})"
    assert refusal(states=closed() + 5) == "states hold 7 to 7, each must be 0 bare, 1 vented or 2 closed"
    with pytest.raises(ValueError, match="covers holds 0 covers, it must hold at least 1"):
        inside_temperatures([], np.zeros((0, HOURS)), SPELL, soil=SPELL_SOIL)


def test_gaps_and_absurd_weather_are_refused_with_hour_value_and_bound() -> None:
    gap = SPELL.air_c.copy()
    gap[40] = np.nan
    assert refusal(weather=moved(gap)) == "air_c of hour 40 is nan °C, it must be -60 to 58"
    assert refusal(weather=moved(SPELL.air_c + 273.15)) == "air_c of hour 0 is 274.129 °C, it must be -60 to 58"
    assert refusal(weather=part(SPELL, 0, 1)) == "weather has 1 hour, it must have at least 2"


def test_a_start_of_another_moment_or_of_other_covers_is_refused() -> None:
    finish = inside_temperatures([COVER], closed(), SPELL, soil=SPELL_SOIL).finish
    assert finish.at_utc == SPELL.start_utc + timedelta(hours=HOURS - 1)
    assert refusal(start=finish).startswith(f"start is of {finish.at_utc}, it must be of the first hour")
    twins = replace(finish.of([0, 0]), at_utc=SPELL.start_utc)
    assert refusal(start=twins) == "start is of 2 covers x 1 members, it must be of 1 x 1 or 1"
