"""Covers as growers build them: presets, sizes, and the refusals."""

import math

import pytest
from pydantic import ValidationError

from rules.garden.cover import Cover, Preset
from rules.garden.materials import Blanket, Cap, Fill, Film, Ground, materials


@pytest.mark.parametrize("preset", Preset)
def test_every_preset_is_a_whole_cover(preset: Preset) -> None:
    cover = Cover(name="porch", preset=preset)
    assert cover.outer_diameter_m >= cover.inner_diameter_m > 0


def test_what_the_grower_says_replaces_the_preset() -> None:
    cover = Cover(name="porch", preset=Preset.STRAW_FILM, fill=Fill.LEAVES, outer_diameter_m=1.2)
    assert (cover.fill, cover.film) == (Fill.LEAVES, Film.WHITE)
    assert cover.fill_thickness_m == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("kind", "table", "without_row"),
    [
        (Fill, "fill", "none"),
        (Blanket, "blanket", "none"),
        (Film, "film", "none"),
        (Cap, "cap", ""),
        (Ground, "ground", ""),
    ],
)
def test_every_choice_has_a_row_with_a_source(kind: type[Fill], table: str, without_row: str) -> None:
    rows = materials()[table]
    assert {str(choice) for choice in kind} - {without_row} == set(rows)
    assert all(row["source"] for row in rows.values())


def test_a_ring_of_straw_has_the_volume_of_the_ring() -> None:
    # 0.30/0.50 m cages, 1.8 m high: pi (0.25 - 0.09) 1.8 = 0.905 m³, by hand
    assert Cover(name="porch").fill_volume_m3 == pytest.approx(0.905, abs=5e-4)
    assert Cover(name="porch", preset=Preset.FILM).fill_volume_m3 == 0


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"height_m": -1.0}, "height_m of cover 'porch' is -1, it must be 0.1 to 6"),
        ({"water_l": math.nan}, "water_l of cover 'porch' is nan, it must be 0 to 1000"),
        ({"outer_diameter_m": 0.3}, "is 0.3 m, it must be at least the inner 0.6 m"),
        ({"outer_diameter_m": 0.6}, "straw of cover 'porch' is 0 m thick, it must be at least 0.02 m"),
        ({"fill_height_m": 2.0}, "fill_height_m of cover 'porch' is 2 m, it must be at most its height_m 1.8 m"),
        ({"preset": "film alone", "fill_height_m": 1.0}, "fill_height_m of cover 'porch' is given, but it has no fill"),
        (
            {"preset": "film alone", "blanket_place": "outside"},
            "blanket_place of cover 'porch' is given, but it has no blanket",
        ),
        ({"preset": "straw cage", "cap": "gathered"}, "has no blanket and no film to gather"),
        ({"lid_m": 0.3}, "lid_m of cover 'porch' is 0.3, it must be 0 to 0.1"),
        ({"vent_hole_m": 0.9}, "vent_hole_m of cover 'porch' is 0.9 m, it must be at most the inner 0.6 m"),
    ],
)
def test_what_cannot_be_built_is_refused_in_a_sentence(wrong: dict[str, float | str], sentence: str) -> None:
    with pytest.raises(ValidationError) as refusal:
        Cover.model_validate({"name": "porch"} | wrong)
    assert sentence in refusal.value.errors()[0]["msg"]


def test_an_unknown_word_is_refused() -> None:
    with pytest.raises(ValidationError, match="colour"):
        Cover.model_validate({"name": "porch", "colour": "green"})
