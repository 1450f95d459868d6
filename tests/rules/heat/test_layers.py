"""Covers as people build them: every layer as far up as it reaches, and the limits any such cover must keep."""

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from rules.garden.condition import CoverCondition, Layer, Top
from rules.garden.cover import Cover, CoverState, Preset
from rules.heat.balance import inside_temperatures
from rules.heat.courses import cover_courses
from rules.heat.layers.top import seen_share
from rules.heat.marching.marched import open_tip_c
from rules.heat.properties import mouths_of, properties_of
from rules.heat.surroundings import bare_stem_c, instants, part
from rules.heat.terms import heat_terms
from tests.rules.heat.heat_fine_model import FIRST_JUDGED, SPELL_SOIL, Spell

Array = npt.NDArray[np.float64]
SPELL = Spell().weather()
HOURS = SPELL.air_c.size
NIGHT_2 = slice(FIRST_JUDGED + 32, FIRST_JUDGED + 44)
STRAW_FILM = Cover(name="porch", preset=Preset.STRAW_FILM)
OFF = frozenset


def lows_c(covers: list[Cover], state: int = 2, weather: Any = SPELL) -> tuple[list[float], list[float]]:
    """Lowest wood and tip of the coldest night."""
    states = np.full((len(covers), HOURS), state)
    inside = inside_temperatures(covers, states, weather, soil=SPELL_SOIL)
    wood, top = (one[:, NIGHT_2].min(axis=1) for one in (inside.wood_c, inside.top_c))
    return wood.tolist(), top.tolist()


def of(condition: dict[str, Any] | None = None, **built: Any) -> Cover:
    return Cover(name="x", **({"preset": Preset.STRAW_FILM} | built)).standing(CoverCondition(**(condition or {})))


@pytest.mark.parametrize(
    "written_out",
    [
        {"fill_height_m": 1.8},
        {"film_height_m": 1.8},
        {"tree_height_m": 1.8},
        {"condition": {"sunk_to_m": 1.8}},
        {"preset": Preset.STRAW_BLANKET_FILM, "blanket_height_m": 1.8},
    ],
)
def test_a_layer_that_reaches_all_the_way_is_todays_cover(written_out: dict[str, Any]) -> None:
    plain = of(preset=written_out.get("preset", Preset.STRAW_FILM))
    for state in (CoverState.VENTED, CoverState.CLOSED):
        assert properties_of(of(**written_out), state) == properties_of(plain, state) or vars(
            properties_of(of(**written_out), state)
        ) == pytest.approx(vars(properties_of(plain, state)))


def test_straw_that_sinks_to_nothing_leaves_the_film_alone_and_film_that_comes_off_leaves_the_straw() -> None:
    emptied = of({"sunk_to_m": 0.0})
    for other, same in (
        (emptied, of({"off": OFF({Layer.FILL})})),
        (emptied, of(fill="none", inner_diameter_m=0.98)),
        (of({"off": OFF({Layer.FILM})}), of(film="none")),
    ):
        found, told = (vars(properties_of(one, CoverState.CLOSED)) for one in (other, same))
        assert found == pytest.approx(told), (other.condition, same)


def test_the_lower_the_straw_ends_the_colder_the_wood_and_the_tip() -> None:
    wood, top = lows_c([of(fill_height_m=high_m) for high_m in (1.8, 1.5, 1.0, 0.5)])
    assert wood == sorted(wood, reverse=True)
    assert top == sorted(top, reverse=True)
    # a tip in film alone is colder than the wood below it by most of what the straw was worth there
    assert top[1] < top[0] - 1.5


def test_a_tree_taller_than_its_cage_has_a_bare_tip() -> None:
    inside = inside_temperatures([of(tree_height_m=2.4)], np.full((1, HOURS), 2), SPELL, soil=SPELL_SOIL)
    np.testing.assert_allclose(inside.top_c[0], bare_stem_c(SPELL), atol=1e-9)
    assert inside.wood_c[0, NIGHT_2].min() > SPELL.air_c[NIGHT_2].min() + 3


def test_straw_that_sinks_without_a_film_leaves_the_tip_bare_and_the_top_open() -> None:
    sunk = of({"sunk_to_m": 1.2}, preset=Preset.STRAW)
    assert mouths_of(sunk).tolist() == [1.0, 1.0, 1.0]
    assert properties_of(sunk, CoverState.CLOSED).height_m == 1.2


@pytest.mark.parametrize(
    "worse",
    [{"torn": True}, {"top": Top.GONE}, {"sunk_to_m": 1.4}, {"off": OFF({Layer.FILM})}],
    ids=["torn", "cap gone", "sunk", "film off"],
)
def test_what_the_weather_did_to_a_cover_makes_its_coldest_night_colder(worse: dict[str, Any]) -> None:
    wood, top = lows_c([of(), of(worse)])
    assert wood[1] < wood[0]
    assert top[1] < top[0]


def test_wet_straw_is_colder_than_dry_on_the_first_cold_night_as_on_the_last() -> None:
    """It leads twice as well (from memory); what its water would hold nobody knows, so no warmth is counted on it."""
    spell = Spell(minima_c=[-10, -10] + [-12] * 6, maxima_c=[-3, -3] + [-5] * 6, cloud=0.8)
    weather = spell.weather()
    inside = inside_temperatures(
        [of(), of({"wet": True})], np.full((2, weather.air_c.size), 2), weather, soil=SPELL_SOIL
    )
    first, last = (inside.wood_c[:, FIRST_JUDGED + 24 * n + 8 : FIRST_JUDGED + 24 * n + 20].min(axis=1) for n in (0, 7))
    assert first[1] < first[0] - 0.5
    assert last[1] < last[0] - 0.5


def test_snow_on_and_round_a_cover_is_a_layer_and_the_deeper_the_warmer() -> None:
    tunnel: dict[str, Any] = {
        "preset": Preset.MOUND,
        "height_m": 0.6,
        "cap": "film",
        "plug_m": 0.0,
        "fill": "none",
        "packed": False,
    }
    depths: tuple[dict[str, Any], ...] = (
        {},
        {"snow_on_m": 0.1},
        {"snow_on_m": 0.3},
        {"snow_on_m": 0.3, "snow_round_m": 0.6},
    )
    wood, _ = lows_c([of(snow, **tunnel) for snow in depths])
    assert wood == sorted(wood)
    assert wood[-1] > wood[0] + 5


def test_a_bank_of_snow_to_half_the_height_does_half_of_what_one_to_the_top_does() -> None:
    bare, half, whole = (
        properties_of(of(snow), CoverState.CLOSED) for snow in ({}, {"snow_round_m": 0.9}, {"snow_round_m": 1.8})
    )
    side = [1 / (0.13 * 5 / 3 + 0.5 * np.log(5 / 3) / 0.07 + float(p.gap_m2k_w) + 0.1) for p in (bare, half, whole)]
    deep = 1 / (1 / side[0] + 0.9 / 0.1)
    assert side[1] == pytest.approx((side[0] + deep) / 2)  # two paths side by side
    assert side[2] < side[1]


def test_a_blanket_outside_the_straw_keeps_as_much_as_its_place_lets_it() -> None:
    """The same resistance on a larger cylinder loses more heat: a fifth of the blanket's share, not more."""
    inside, outside = (of(preset=Preset.STRAW_BLANKET_FILM, blanket_place=place) for place in ("inside", "outside"))
    wood, _ = lows_c([inside, outside, of()])
    assert wood[2] < wood[1] < wood[0] + 0.5


def test_a_blanket_round_bare_straw_keeps_the_wind_out_of_it() -> None:
    straw: dict[str, Any] = {"preset": Preset.STRAW, "blanket": "moving blanket"}
    inside, outside = (
        properties_of(of(**straw, blanket_place=place), CoverState.CLOSED) for place in ("inside", "outside")
    )
    assert outside.fill_w_mk < inside.fill_w_mk


@pytest.mark.parametrize(
    ("warmer", "colder"),
    [
        ({"cap": "none", "plug_m": 0.3}, {"cap": "none"}),  # mounded over, no cap
        (
            {"preset": Preset.BOX, "cap": "none", "plug_m": 0.0, "lid_m": 0.02},
            {"preset": Preset.BOX, "cap": "none", "plug_m": 0.0},
        ),
        ({"preset": Preset.BLANKET, "cap": "gathered"}, {"preset": Preset.BLANKET, "cap": "none"}),
    ],
    ids=["mounded", "lid", "gathered"],
)
def test_a_top_that_does_not_fold_is_a_top(warmer: dict[str, Any], colder: dict[str, Any]) -> None:
    wood, top = lows_c([of(**warmer), of(**colder)])
    assert wood[0] > wood[1]
    # a thin wrap drawn flat over the tip looks at more sky than the tip would: it is not asked to be warmer there
    assert top[0] > top[1] or warmer["cap"] == "gathered"


def test_a_stem_at_the_rim_sees_all_the_sky_a_bare_one_sees_and_deep_down_none() -> None:
    """Against the integral over the opening, summed direction by direction."""
    zenith = (np.arange(20_000) + 0.5) * np.pi / 2 / 20_000
    for depth_m in (0.05, 0.3, 1.0):
        seen = np.sin(zenith) ** 2 * (zenith < np.arctan2(0.3, depth_m))
        assert seen_share(depth_m, 0.3) == pytest.approx(seen.sum() / (np.sin(zenith) ** 2).sum(), abs=1e-4)


@pytest.mark.parametrize("mouth", [0.0, 1.0])
def test_the_open_tip_is_a_bare_stem_at_one_end_and_the_inside_at_the_other(mouth: float) -> None:
    point = instants(part(SPELL, 0, 2), np.ones(1))[0, 0, :, 0].tolist()
    expected = bare_stem_c(SPELL)[1] if mouth else 3.0
    assert open_tip_c(point, 3.0, mouth) == pytest.approx(expected)


@pytest.mark.parametrize("preset", [Preset.STRAW_BLANKET_FILM, Preset.STRAW_FILM, Preset.STRAW, Preset.LEAF_FILM])
@pytest.mark.parametrize("wind_m_s", [0.3, 1.0, 4.0])
def test_the_tip_under_an_open_top_is_colder_than_a_bare_one_by_no_more_than_the_wind_it_is_kept_from(
    preset: Preset, wind_m_s: float
) -> None:
    weather = Spell(night_wind_m_s=wind_m_s).weather()
    cover, night = Cover(name="x", preset=preset), (NIGHT_2.start, NIGHT_2.stop)
    terms = heat_terms(cover, np.ones(HOURS, dtype=int), weather, night, -5.0, soil=SPELL_SOIL)
    assert terms.tip_walls_c is not None
    assert terms.tip_still_air_c is not None
    courses = cover_courses([cover], [replace(weather, air_c=weather.air_c[None])], None, SPELL_SOIL, 1)
    beside_bare_c = courses.top_c[0, 1, 0, terms.hour] - weather.air_c[terms.hour]
    assert beside_bare_c == pytest.approx(terms.tip_walls_c - terms.tip_still_air_c, abs=0.05)
    assert beside_bare_c > -0.5


def test_nothing_lies_over_an_open_top_that_wind_could_warm() -> None:
    # its walls look at the sky: on a clear night they lose more than the air brings, on a cloudy one they do not
    clear, cloudy = (lows_c([STRAW_FILM], 1, Spell(cloud=cloud).weather())[0][0] for cloud in (0.0, 1.0))
    assert clear < cloudy < lows_c([STRAW_FILM], 2, Spell(cloud=1.0).weather())[0][0]
