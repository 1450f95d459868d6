"""A tree whose name has apostrophes, quotes or braces goes through every kind of question and its buttons."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.replies.labels import LONGEST_LABEL
from bot.settings import read_garden
from bot.settings.editing import renaming_tree
from bot.settings.writing import edited_garden
from tests.bot.household_phones import Phones, demo_garden

NOW = datetime(2025, 11, 28, 16, tzinfo=UTC)
MAS, WALL, KAKI = "Ma's fig", 'O\u2019Dell\'s "wall" fig', "Grower's {kaki}'"


@pytest.fixture
def phones(tmp_path: Path) -> Iterator[Phones]:
    path = demo_garden(tmp_path, "Porch fig", "Wall fig", "Kaki")
    for old, new in {"Porch fig": MAS, "Wall fig": WALL, "Kaki": KAKI}.items():
        edited_garden(path, renaming_tree(old, new))
    one = Phones(path, NOW)
    one.tick()
    yield one
    one.close()


TAPPED = (
    ("leaves yellow", "leaves yellow", "Noted: leaves yellow on {}."),
    ("leaves dropped on the fig yesterday", "leaves dropped Thu 12:00", "Noted: leaves dropped on {}."),
    ("buds swelling on the fig", "buds swelling", "Noted: buds swelling on {}."),
    ("can't fig", "can't", "{}: "),
    ("fig -6.5", "\u22126.5 °C", "Noted: \u22126.5 °C at {}"),
    ("wrapped fig", "wrapped", "Noted: {} wrapped"),
)


def as_shown(label: str) -> str:
    """A label as a narrow phone has it."""
    return label if len(label) <= LONGEST_LABEL else label[: LONGEST_LABEL - 1].rstrip(" ,") + "…"


def test_a_tap_on_a_tree_with_an_apostrophe_is_noted_of_that_tree(phones: Phones) -> None:
    for said, button, noted in TAPPED:
        for tree in (MAS, WALL):  # asked anew for each: a tap settles the question
            assert "Which tree?" in phones.say(said), said
            assert noted.format(tree) in phones.tap(as_shown(f"{tree} {button}")), said


def test_a_question_of_ours_about_a_tree_with_an_apostrophe_is_settled_by_its_buttons(phones: Phones) -> None:
    for tree in (MAS, WALL):
        assert f"Take {tree} out of the garden file?" in phones.say(f"remove {tree}")
        assert f"{tree} is out of the garden file." in phones.tap("Remove")
    assert [tree.name for tree in read_garden(phones.path).trees] == [KAKI]


def test_a_choice_of_a_sighting_tapped_when_its_season_is_over_is_noted_and_said_to_change_nothing(
    phones: Phones,
) -> None:
    assert "Which tree?" in phones.say("leaves dropped on the fig yesterday")
    phones.now += timedelta(days=330)
    said = phones.tap(f"{MAS} leaves dropped Thu 12:00")
    assert said.startswith(f"Noted: leaves dropped on {MAS}. That season is over, so it changes nothing now.")
