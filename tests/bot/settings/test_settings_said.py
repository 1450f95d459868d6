"""Settings as people say them, and slips of a garden file that are worth a doubt."""

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.replies import Context, Understood, Verb, parse_reply
from bot.replies.nouns import TreeName
from bot.replies.phrases.setting_phrases import read_settings
from bot.settings import read_garden
from bot.settings.doubtful import doubtful
from bot.settings.editing import setting_values, stocking
from bot.settings.writing import edited_garden
from rules.garden.shed import SupplyKind
from tests.bot.nine_trees import GARDEN

CONTEXT = Context(
    trees=(TreeName(name="Porch fig", short_names=("porch",), number=1), TreeName(name="Kaki", number=2)),
    now=datetime(2026, 12, 1, tzinfo=UTC),
    zone=ZoneInfo("America/Denver"),
)


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("use °F and inches", [("units", "", "fahrenheit", True), ("units", "", "length", "in")]),
        ("read in celsius, cm, m/s", [("units", "", "fahrenheit", False), ("units", "", "length", "cm"),
                                      ("units", "", "wind", "m/s")]),
        ("quiet from 10 pm to 6:30", [("", "", "quiet_from", "22:00"), ("", "", "quiet_until", "06:30")]),
        ("porch is worth 60", [("", "Porch fig", "worth_trips", 60)]),
        ("weather from met-norway, then open-meteo", [("", "", "services", ("met-norway", "open-meteo"))]),
        ("settings", []),
    ],
)  # fmt: skip
def test_a_setting_is_read_from_a_whole_reply(said: str, meant: list[tuple[str, str, str, object]]) -> None:
    found = read_settings(said, CONTEXT)
    assert found is not None
    assert [(one.table, one.tree, one.key, one.value) for one in found] == meant


@pytest.mark.parametrize(
    "said", ["use straw", "quiet night", "porch is worth it", "tend porch", "show me porch", "early frost", "in a week"]
)
def test_what_only_sounds_like_a_setting_changes_none(said: str) -> None:
    assert read_settings(said, CONTEXT) is None


@pytest.mark.parametrize(
    ("said", "verb", "trees"),
    [
        ("what should I do first", Verb.FIRST, ()),
        ("what else can I do for the kaki?", Verb.MORE, ("Kaki",)),
        ("can I open the tops today", Verb.MAY_OPEN, ()),
        ("can I open porch tonight?", Verb.MAY_OPEN, ("Porch fig",)),
        ("how do I wrap a fig", Verb.HOW_TO, ("Porch fig",)),
        ("what does cap mean", Verb.MEAN, ()),
    ],
)
def test_a_question_about_covers_is_heard_as_asked(said: str, verb: Verb, trees: tuple[str, ...]) -> None:
    found = parse_reply(said, CONTEXT)
    assert isinstance(found, Understood)
    assert [(one.verb, one.trees) for one in found.meanings] == [(verb, trees)]


def garden_file(folder: Path, text: str = GARDEN) -> Path:
    (folder / "forecast.json").write_text("{}", encoding="utf-8")
    path = folder / "garden.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_changed_setting_keeps_every_remark_of_the_file(tmp_path: Path) -> None:
    path = garden_file(tmp_path)
    edits = [("", "", "tending", "early"), ("units", "", "fahrenheit", True), ("", "Well", "worth_trips", 60)]
    garden = edited_garden(path, setting_values(edits))
    assert (garden.tending, garden.units.fahrenheit, garden.trees[0].worth_trips) == ("early", True, 60)
    remarks = [line[line.index("#") :] for line in GARDEN.splitlines() if "#" in line]
    assert all(remark in path.read_text(encoding="utf-8") for remark in remarks)


@pytest.mark.parametrize(
    ("written", "instead", "said"),
    [
        ('time_zone = "America/Denver"', 'time_zone = "Etc/GMT+7"', "is it America/Denver?"),
        ("elevation_m = 1620", "elevation_m = 5300", "metres, or feet?"),
        ("tree_height_cm = 220", "height_in = 220", "the right unit?"),
    ],
)
def test_a_zone_without_summer_time_and_heights_in_the_wrong_unit_are_doubted(
    tmp_path: Path, written: str, instead: str, said: str
) -> None:
    garden = read_garden(garden_file(tmp_path, GARDEN.replace(written, instead)))
    assert any(said in str(doubt) for doubt in doubtful(garden))
    assert not any(said in str(doubt) for doubt in doubtful(read_garden(garden_file(tmp_path))))


def test_what_lies_in_the_shed_goes_into_the_file_and_keeps_what_stood_there(tmp_path: Path) -> None:
    path = garden_file(tmp_path, f"{GARDEN}\n[shed]\nhave = {{ straw = 9, stakes = 4 }} # counted in October\n")
    garden = edited_garden(path, stocking("straw", 2))
    assert dict(garden.shed.have) == {SupplyKind.STRAW: 2, SupplyKind.STAKES: 4}
    assert "# counted in October" in path.read_text(encoding="utf-8")
    assert dict(edited_garden(garden_file(tmp_path), stocking("white_film", 1)).shed.have) == {SupplyKind.WHITE_FILM: 1}
