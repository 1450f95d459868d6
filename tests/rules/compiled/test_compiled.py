"""What is built from C against the same lines in numpy, which published spells and a fine model judge (rules/heat)."""

import shutil
import subprocess
from ctypes import CDLL
from pathlib import Path

import numpy as np
import pytest

from rules.compiled.library import library
from rules.garden.cover import Cover, CoverState, Preset
from rules.garden.tree import SiteSoil
from rules.heat.balance import InsideTemperatures, inside_with_spread
from rules.heat.marching import march
from rules.heat.surroundings import TreeAir, changed
from rules.plan import search
from rules.plan.slots import slots_ahead
from rules.site import soil
from tests.rules.heat.heat_fine_model import Spell
from tests.rules.plan.plan_gardens import NOW, SITE, days_of_air, forecast_of, situation, stakes_of

ROOT = Path(__file__).parents[3]
SAME_C = 1e-9
SOIL = SiteSoil(mean_c=2.0, amplitude_c=9.0, coldest_day=20.0)  # cold enough to freeze


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> CDLL:
    """The C of this tree, built as the program's own build does."""
    if shutil.which("cc") is None:
        pytest.skip("no compiler here: the program runs on numpy alone")
    made = tmp_path_factory.mktemp("compiled") / "compiled.so"
    subprocess.run([ROOT / ".ci" / "compile", made], check=True)
    found = library(made)
    assert found, "built for another machine than this"
    return found


def inside(patch: pytest.MonkeyPatch, with_what: CDLL | None) -> InsideTemperatures:
    """Every kind of cover, dry and with water, put on, opened, taken off, under three members with frost and thaw."""
    chance = np.random.default_rng(3)
    covers = [Cover(name=kind, preset=kind, water_l=float(water_l)) for kind in Preset for water_l in (0, 20)]
    sky: TreeAir = changed(Spell().weather(), lambda row: row * np.array([[1.0], [0.97], [0.94]]))
    hours = sky.air_c.shape[-1]
    states = np.repeat(chance.integers(0, 3, (len(covers), 1 + hours // 13)), 13, axis=1)[:, :hours]
    states[0], states[1] = 0, 2
    for room in (march, soil):
        patch.setattr(room, "LIBRARY", with_what)
    return inside_with_spread(covers, states, [sky] * len(covers), soil=SOIL)


def test_the_built_march_and_soil_tell_what_numpy_tells(built: CDLL, monkeypatch: pytest.MonkeyPatch) -> None:
    own, other = inside(monkeypatch, built), inside(monkeypatch, None)
    for name in ("wood_c", "top_c", "air_c", "spread_c"):
        assert getattr(own, name) == pytest.approx(getattr(other, name), abs=SAME_C)
    assert own.finish.nodes_c == pytest.approx(other.finish.nodes_c, abs=SAME_C)
    assert own.finish.water_j == pytest.approx(other.finish.water_j, rel=SAME_C)


def test_the_built_search_answers_as_numpy_does(built: CDLL, monkeypatch: pytest.MonkeyPatch) -> None:
    """In single precision both: 1e-4 trips, and the same courses."""
    chance = np.random.default_rng(5)
    now, cold = forecast_of(days_of_air([-5, -11, -8, -14, -3], [4, 1, 0, 2, 6])), (CoverState.BARE, CoverState.CLOSED)
    garden = [situation(now, name=f"fig {i}", state=cold[i % 2]) for i in range(3)]
    times = slots_ahead([one.weather for one in garden], SITE, NOW)
    stakes = stakes_of(garden, times).stakes
    for settled in range(2):
        prefix = np.repeat(stakes.state[:, None], settled, axis=1)
        visits = chance.choice([1.0, 0.5, 1 / 3], stakes.shape)
        found = []
        for with_what in (built, None):
            monkeypatch.setattr(search, "LIBRARY", with_what)
            found.append(search.answers(stakes, visits, prefix))
        own, other = found
        able = np.isfinite(other.cost)
        assert (able == np.isfinite(own.cost)).all()
        assert own.cost[able] == pytest.approx(other.cost[able], abs=1e-4)
        assert own.lost[able] == pytest.approx(other.lost[able], abs=1e-5)
        assert (own.course[able] == other.course[able]).all()


def test_where_nothing_was_built_numpy_marches_alone(tmp_path: Path) -> None:
    assert library(tmp_path / "compiled.so") is None


def test_what_was_built_of_other_sources_is_not_called(tmp_path: Path, built: CDLL) -> None:
    for folder in (".ci", "rules/compiled"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    with (tmp_path / "rules" / "compiled" / "soil.c").open("a", encoding="utf-8") as source:
        source.write("/* an older day */\n")
    other = tmp_path / "other.so"
    subprocess.run([tmp_path / ".ci" / "compile", other], check=True)
    assert built.stamp() > 0
    assert library(other) is None
