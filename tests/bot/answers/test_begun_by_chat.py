"""Nine trees of all kinds, begun in the chat: kept as they were told, and lived with through a freeze week."""

import re
from pathlib import Path

from rules.garden.cover import Preset
from rules.garden.materials import Blanket, BlanketPlace, Film
from tests.bot.answers.test_nine_trees import FREEZE, assert_true_to_its_owner
from tests.bot.begun_by_chat import BegunByChat


def test_a_garden_begun_by_chat_is_kept_as_it_was_told_and_asked_in_its_own_words(tmp_path: Path) -> None:
    freeze = BegunByChat(tmp_path, *FREEZE)
    assert_every_tree_is_kept(freeze)
    assert_each_cover_has_its_own_words(freeze)


def assert_every_tree_is_kept(freeze: BegunByChat) -> None:
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


def assert_each_cover_has_its_own_words(freeze: BegunByChat) -> None:
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
    for day, hour in ((1, 9), (2, 14), (3, 9)):
        freeze.day(day, hour)
        told = freeze.say("tonight")
        assert re.search(r"Ditch \(mounded\): feels −?\d+, safe to −\d+ °C", told)
    assert_true_to_its_owner(freeze.said)
