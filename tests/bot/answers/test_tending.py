"""Whose way covers are tended and when somebody can work, by chat: what was said is written, and told once."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.replies.meanings.free_hours import free_hours_said
from bot.settings import read_garden
from bot.wording.formats import Style
from bot.wording.people.tending import price_line, too_warm_inside
from rules.garden.tree import Tending
from rules.plan.grower.free_hours import FreeHours
from rules.plan.grower.way_price import WayPrice
from tests.bot.household_phones import Phones, demo_garden
from tests.bot.talk import JUNIPER


@pytest.fixture
def phones(tmp_path: Path) -> Iterator[Phones]:
    one = Phones(demo_garden(tmp_path, "Porch fig", "Wall fig"), datetime(2026, 1, 12, 16, tzinfo=UTC))
    yield one
    one.close()


def test_the_way_of_one_tree_and_of_all_is_written_into_the_file_and_followed_without_argument(phones: Phones) -> None:
    said = phones.say("tend the porch fig as I was taught")
    assert "Porch fig: as I was taught" in said
    assert "won't argue" in said
    ways = {tree.name: tree.tending for tree in read_garden(phones.path).trees_tended}
    assert ways == {"Porch fig": Tending.AS_TAUGHT, "Wall fig": Tending.FEWEST_TRIPS}
    phones.say("tend all early")
    assert {tree.tending for tree in read_garden(phones.path).trees_tended} == {Tending.EARLY}
    assert "fewest trips" in phones.say("fewest trips")


def test_hours_said_in_the_chat_are_written_into_the_file_by_the_owner_alone(phones: Phones) -> None:
    assert "Saturdays" in phones.say("I can only go on saturdays")
    assert read_garden(phones.path).free == FreeHours(saturday="all day")
    phones.say("only sundays", chat_id=JUNIPER)
    assert read_garden(phones.path).free == FreeHours(saturday="all day")
    assert "any day" in phones.say("I can any time")


def test_whether_a_cover_can_stay_shut_is_answered_by_what_is_known(phones: Phones) -> None:
    phones.tick()
    assert "dry, leafless wood is well in the dark" in phones.say("can the porch fig stay shut?")


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("only saturdays", {"saturday": "all day"}),
        ("I can only go on weekends", {"saturday": "all day", "sunday": "all day"}),
        ("weekdays after six", dict.fromkeys(("monday", "tuesday", "wednesday", "thursday", "friday"), "18:00-")),
        ("only sunday mornings", {"sunday": "0:00-12:00"}),
        ("only friday until 16:30", {"friday": "0:00-16:30"}),
    ],
)
def test_free_hours_are_read_as_they_are_said(text: str, hours: dict[str, str]) -> None:
    assert free_hours_said(text) == hours


def test_a_price_is_told_in_trips_and_wood_and_where_nobody_can_tell_not_at_all() -> None:
    dear = price_line("Porch fig", WayPrice(trips=2.8, lost=0.08))
    assert dear == (
        "By past winters that is about 2.8 trips a winter more for Porch fig, and 8% more of its wood lost in a mean "
        "winter."
    )
    assert "hardly a trip more" in price_line("Porch fig", WayPrice(trips=0.0, lost=0.0))
    assert price_line("Porch fig", None) == ""


def test_a_cover_read_far_too_warm_by_day_in_spring_is_to_be_opened() -> None:
    said = too_warm_inside("Porch fig", 4.0, Style(zone=ZoneInfo("UTC")))
    assert said.startswith("By day that is 4.0 °C warmer than I reckon inside")
    assert "Open it" in said
