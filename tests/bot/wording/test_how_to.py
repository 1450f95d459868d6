"""How covers are put on: each kind by its own steps, nothing of it that contradicts what is asked night by night."""

from zoneinfo import ZoneInfo

import pytest

from bot.wording.covers.explained import how_to, how_to_kind, meaning_of
from bot.wording.formats import Style
from rules.garden.cover import Cover, Preset

STYLE = Style(zone=ZoneInfo("UTC"))


@pytest.mark.parametrize("preset", list(Preset))
def test_no_steps_say_open_or_shut_by_rule_of_thumb_nor_name_a_cap_that_is_not_there(preset: Preset) -> None:
    cover = Cover(name="one", preset=preset)
    steps = how_to(cover, STYLE)
    assert "Leave it open" not in steps
    assert "{" not in steps
    assert ("cap" in steps.split("caps")[0]) <= cover.opens, steps


def test_a_tree_taller_than_its_cage_is_filled_to_the_rim_and_told_what_stays_bare() -> None:
    steps = how_to(Cover(name="gate", preset="straw cage with film", height_m=1.5, tree_height_m=2.8), STYLE)
    assert "up to the rim" in steps
    assert "tips" not in steps
    assert "in two halves round the stems" in steps
    assert "The top 130 cm stays bare" in steps


def test_a_blanket_outside_goes_on_after_the_straw() -> None:
    cover = Cover(name="barn", preset="straw cage", blanket="moving blanket", blanket_place="outside")
    steps = how_to(cover, STYLE)
    assert steps.index("straw") < steps.index("the blanket round the outside")


def test_bending_down_is_two_peoples_work_at_the_root_and_a_roof_is_no_room() -> None:
    assert how_to_kind(Preset.MOUND, STYLE).startswith("Two people: loosen the roots")  # common practice, no source
    assert "roof" in how_to_kind(Preset.POT, STYLE)
    assert "dark and cool" in how_to_kind(Preset.CELLAR, STYLE)


def test_open_and_vented_are_one_word() -> None:
    assert meaning_of("vented", STYLE) == meaning_of("open", STYLE) == meaning_of("opened", STYLE)
