"""Nine trees of all kinds, begun in the chat: kept as they were told, and lived with through three weeks."""

import re
from pathlib import Path

import pytest

from rules.garden.cover import Blanket, BlanketPlace, Film, Preset
from tests.bot.answers.test_nine_trees import APRIL, FREEZE, WINDY, assert_true_to_its_owner
from tests.bot.begun_by_chat import BegunByChat


@pytest.fixture
def freeze(tmp_path: Path) -> BegunByChat:
    return BegunByChat(tmp_path, *FREEZE)


def test_every_tree_is_kept_as_it_was_told(freeze: BegunByChat) -> None:
    garden = freeze.garden
    presets = {tree.name: garden.covers[tree.cover].preset if tree.cover else None for tree in garden.trees}
    assert presets == {
        "Well": Preset.STRAW_FILM, "Gate": Preset.STRAW_FILM, "Tub": Preset.GARAGE, "Ditch": Preset.MOUND,
        "Barn": Preset.STRAW, "Stray": Preset.BURLAP, "Trial": None, "Crate": Preset.BOX, "Patch": Preset.FILM,
    }  # fmt: skip
    barn, gate, trial = (next(tree for tree in garden.trees if tree.name == name) for name in ("Barn", "Gate", "Trial"))
    cover = garden.cover_of(barn)
    assert cover is not None
    assert (cover.blanket, cover.blanket_place, cover.film) == (Blanket.MOVING, BlanketPlace.OUTSIDE, Film.NONE)
    assert (gate.height_m, gate.cultivar) == (2.2, "")
    assert (trial.left_bare, trial.twin) == (True, "Well")
    assert [tree.worth_trips for tree in garden.trees] == [80, 40, 40, 40, 40, 40, 10, 40, 10]
    unkept = [found for text in freeze.evening for found in re.findall(r"did not keep it: (.*)\.", text)]
    assert unkept == ["by the wall of the barn"]  # no heated house: where it stands is asked
    assert all("heated house" not in text for text in freeze.evening)


def test_a_freeze_week_with_it_asks_each_cover_in_its_own_words(freeze: BegunByChat) -> None:
    asked = "\n".join(freeze.day(0, 9)).lower()
    for words in ("mound ditch", "bring tub in", "put the box on crate"):
        assert words in asked
    assert "Tub brought in" in freeze.say("moved tub to the garage") or "Tub moved to the garage" in freeze.said[-1]
    assert "lid on" in freeze.say("wrapped crate, lid on")
    freeze.say("mounded ditch")
    freeze.say("wrapped well, gate and barn, tops shut")
    stands = freeze.say("trees")
    for words in ("Tub: inside", "Ditch: mounded", "Crate: lid on", "Well: cap shut", "Trial: bare on purpose"):
        assert words in stands
    for day in (1, 2, 3):
        freeze.day(day, 9)
        freeze.day(day, 14)
        told = freeze.say("tonight")
        assert re.search(r"Ditch \(mounded\): feels −?\d+, safe to −\d+ °C", told)
    assert_true_to_its_owner(freeze.said)


def test_a_windy_week_with_it_says_what_can_still_be_done(tmp_path: Path) -> None:
    windy = BegunByChat(tmp_path, *WINDY)
    windy.day(0, 9)
    due = windy.say("due")
    assert "Too windy for work at covers: gusts of 54 km/h" in due
    assert "But bring Tub in." in due
    assert_true_to_its_owner(windy.said)


def test_an_april_week_with_it_speaks_of_no_cap_where_there_is_none(tmp_path: Path) -> None:
    april = BegunByChat(tmp_path, *APRIL)
    april.day(0, 9)
    april.say("wrapped tub, ditch, stray, crate, patch, well, gate and barn")
    april.say("closed well, gate, barn, crate and patch")
    for day in (1, 2, 3):
        april.day(day, 9)
        april.day(day, 15)
    april.say("due")
    assert_true_to_its_owner(april.said)
