"""The garden file changed by chat: whole or not at all, every remark kept, and read as strictly as ever."""

import shutil
import tomllib
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.settings import GardenError, read_garden
from bot.settings.editing import adding_tree, covering_tree, removing_tree, renaming_tree
from bot.settings.new_garden import FirstWords, begin_garden, time_zone_at
from bot.settings.writing import edited_garden
from rules.garden.cover import Preset
from rules.garden.tree import Site

DEMO = Path(__file__).parents[3] / "demo_config"
TODAY = date(2026, 11, 25)
GATE = {"name": "Gate", "species": "fig", "standing": "wall", "worth_trips": 40}
WORDS = FirstWords(
    name="Larkmoor",
    owner="Rowan",
    site=Site(latitude_deg=39, longitude_deg=-109, elevation_m=1600.4, time_zone="America/Denver"),
    fahrenheit=False,
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    shutil.copytree(DEMO, tmp_path / "garden")
    return tmp_path / "garden" / "larkmoor.toml"


def remarks(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip().startswith("#")]


def test_a_change_of_nothing_leaves_every_byte(path: Path) -> None:
    for text in (path.read_text(), path.read_text().replace("\n", "\r\n"), "\ufeff" + path.read_text()):
        path.write_bytes(text.encode())
        edited_garden(path, lambda _: None, TODAY)
        assert path.read_bytes() == text.encode()


def test_a_tree_added_and_removed_leaves_the_file_as_it_was(path: Path) -> None:
    before = path.read_bytes()
    assert edited_garden(path, adding_tree(GATE), TODAY).tree_called("gate") is not None
    edited_garden(path, removing_tree("Gate"), TODAY)
    assert path.read_bytes() == before


def test_remarks_stay_and_stand_before_what_they_speak_of(path: Path) -> None:
    before = remarks(path.read_text())
    edited_garden(path, adding_tree(GATE), TODAY)
    edited_garden(path, covering_tree("Gate", "Gate", {"preset": "straw cage", "height_cm": 150}), TODAY)
    edited_garden(path, renaming_tree("Bench fig", "Old bench"), TODAY)
    text = path.read_text()
    assert remarks(text) == before
    lines = text.splitlines()
    assert lines[lines.index('[covers."straw cage"]') - 2].startswith("# Also fill, blanket")
    assert read_garden(path, today=TODAY).covers["Gate"].height_m == pytest.approx(1.5)


def test_a_renamed_or_removed_tree_is_no_stranger_to_its_twin(path: Path) -> None:
    assert edited_garden(path, renaming_tree("Pomegranate", "Old pom"), TODAY).trees[5].twin == "Old pom"
    garden = edited_garden(path, removing_tree("Old pom"), TODAY)
    assert [tree.twin for tree in garden.trees if tree.name == "Trial pomegranate"] == [None]


def test_a_size_told_again_replaces_the_one_in_another_unit(path: Path) -> None:
    garden = edited_garden(path, covering_tree("Kaki", "film cage", {"inner_diameter_in": 20}), TODAY)
    assert garden.covers["film cage"].inner_diameter_m == pytest.approx(0.508)
    assert "inner_diameter_cm" not in tomllib.loads(path.read_text())["covers"]["film cage"]


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({**GATE, "name": "Kaki"}, "is already the name of trees[4]"),
        ({**GATE, "species": "figg"}, 'did you mean "fig"?'),
        ({**GATE, "name": "due"}, "is a word of the conversation"),
        ({**GATE, "standing": "roof"}, "standing"),
        ({**GATE, "planted_year": 2050}, "must be at most 2027"),
        ({**GATE, "cover": "tent of gold"}, "must be one of"),
    ],
)
def test_a_change_that_makes_no_garden_is_refused_and_the_file_untouched(
    path: Path, values: dict[str, object], sentence: str
) -> None:
    before = path.read_bytes()
    with pytest.raises(GardenError, match=sentence.replace("[", r"\[").replace("?", r"\?").replace("(", r"\(")):
        edited_garden(path, adding_tree(values), TODAY)
    assert path.read_bytes() == before
    assert [file.name for file in path.parent.iterdir() if file.name.startswith(".")] == []


def test_the_last_tree_is_not_taken_away(tmp_path: Path) -> None:
    begin_garden(tmp_path / "new.toml", WORDS, GATE, None, {})
    with pytest.raises(GardenError, match="at least one"):
        edited_garden(tmp_path / "new.toml", removing_tree("Gate"), TODAY)


def test_a_garden_begun_in_the_chat_is_one_the_reader_takes(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    garden = begin_garden(path, WORDS, GATE, "straw cage", {"preset": Preset.STRAW.value})
    assert garden == read_garden(path)
    assert garden.site.elevation_m == 1600
    assert garden.cover_of(garden.trees[0]) == garden.covers["straw cage"]
    assert path.stat().st_mode & 0o777 == 0o600


@given(st.text(min_size=1, max_size=40))
def test_a_tree_of_any_name_comes_back_by_that_name_or_is_refused(name: str) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "new.toml"
        begin_garden(path, WORDS, GATE, None, {})
        before = path.read_bytes()
        try:
            garden = edited_garden(path, adding_tree({**GATE, "name": name}), TODAY)
        except GardenError:
            assert path.read_bytes() == before
        else:
            assert [tree.name for tree in garden.trees] == ["Gate", name]


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "zone"),
    [
        # inland, well inside each zone by the IANA tz database's zone1970.tab
        (39.0, -109.0, "America/Denver"),
        (52.0, -1.0, "Europe/London"),
        (-33.0, 150.0, "Australia/Sydney"),
        (36.0, 139.0, "Asia/Tokyo"),
        (-23.0, -47.0, "America/Sao_Paulo"),
        (0.0, -150.0, None),
        (90.0, 0.0, None),
    ],
)
def test_a_place_has_the_zone_the_tz_database_gives_it(latitude_deg: float, longitude_deg: float, zone: str) -> None:
    assert time_zone_at(latitude_deg, longitude_deg) == zone
