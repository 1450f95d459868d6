"""What is told of the night just past, against the hours the service itself wrote down."""

import json
import re
from datetime import datetime
from pathlib import Path

import pytest

from bot.wording.nights import UNKNOWN
from tests.bot.phone import ROOT, Phone, larkmoor

GARDEN = larkmoor()
ZONE = GARDEN.site.zone
MORNING = datetime(2025, 11, 29, 9, tzinfo=ZONE)


@pytest.fixture
def phone() -> Phone:
    one = Phone(larkmoor("Porch fig", "Trial pomegranate", "Wall fig"), datetime(2025, 11, 28, 14, tzinfo=ZONE))
    one.tick()
    one.say("closed porch")
    one.now = MORNING
    one.tick()
    return one


def written_low_c(path: Path) -> float:
    """The lowest air between two noons, read from the saved answer line by line."""
    document = json.loads(path.read_text())
    start = datetime.fromisoformat(document["start_utc"])
    noon = datetime(2025, 11, 28, 12, tzinfo=ZONE)
    first = round((noon - start).total_seconds() / 3600)
    last = round((MORNING - start).total_seconds() / 3600)
    return float(min(document["air_c"][first : last + 1]))


def tissue_c(answer: str, tree: str) -> int:
    found = re.search(rf"^{tree} (−?\d+) °C", answer, re.MULTILINE)
    assert found is not None
    return int(found[1].replace("−", "-"))


def test_the_low_in_the_open_is_the_one_the_service_wrote_down(phone: Phone) -> None:
    low_c = written_low_c(ROOT / "demo_config" / "forecasts" / "2025-11-29T1100Z.json")
    assert phone.say("how cold was it last night").startswith(f"Last night: −{abs(low_c):.0f} °C in the open near")


def test_a_shut_cover_was_warmer_inside_than_the_bare_tree_outside(phone: Phone) -> None:
    answer = phone.say("how did porch and trial do last night")
    assert (
        tissue_c(answer, "Porch fig") > tissue_c(answer, "Trial pomegranate") + 2
    )  # straw, blanket and film: handbook, heat


def test_what_was_read_that_night_stands_beside_what_was_reckoned(phone: Phone) -> None:
    phone.say("-9.5 at the wall at 6")
    assert phone.say("what did wall feel last night").endswith("You read −9.5 °C beside it.")


def test_a_night_nobody_told_of_is_not_made_up() -> None:
    phone = Phone(larkmoor("Porch fig"), datetime(2024, 1, 20, 9, tzinfo=ZONE))
    phone.tick()
    assert phone.say("how cold was it last night") == UNKNOWN
