"""Whose way covers are tended and when somebody can work, by chat: what was said is written, and told once."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.nudges import Ask, DueNudge, Stage
from bot.replies.meanings.free_hours import free_hours_said
from bot.rounds.nudge_writing import _way_once, no_prices
from bot.settings import read_garden
from bot.wording.formats import Style
from bot.wording.people.tending import price_line, too_warm_inside
from rules.garden.records import DeedKind
from rules.garden.tree import Tending
from rules.outlook.garden_outlook import Outlook
from rules.plan.grower.free_hours import FreeHours
from rules.plan.grower.way_price import WayPrice
from tests.bot.household_phones import Phones, demo_garden
from tests.bot.nudges.test_nudges import act
from tests.bot.talk import JUNIPER
from tests.bot.wording.test_wording_questions import margins, outlook


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


def taught_ask() -> tuple[DueNudge, Outlook]:
    """An ask of today at a tree whose way stands in the garden file."""
    told = act(tree="Porch fig", kind=DeedKind.CLOSED)
    ask = Ask(verb=DeedKind.CLOSED, day=told.night, acts=(replace(told, own_way=True),))
    one = margins("Porch fig")
    seen = outlook(replace(one, tree=one.tree.model_copy(update={"tending": Tending.AS_TAUGHT})))
    due = DueNudge(key="k", stage=Stage.TODAY, day=told.night, expires_utc=told.by_utc, ask=ask, trees=("Porch fig",))
    return due, seen


def price_known(_: Tending, __: Sequence[str]) -> list[str]:
    return ["A price."]


def test_what_a_way_of_the_garden_file_costs_is_told_with_its_first_ask_and_never_again(phones: Phones) -> None:
    due, seen = taught_ask()
    asked: list[Tending] = []

    def prices(tending: Tending, trees: Sequence[str]) -> list[str]:
        asked.append(tending)
        return [price_line(tree, WayPrice(trips=1.2, lost=0.0)) for tree in trees]

    with phones.logbook.begin() as c:
        (told,) = _way_once(c, read_garden(phones.path), due, seen, prices)
        assert "about 1.2 trips a winter more for Porch fig" in told
        assert "I follow it, and won't argue." in told
        assert _way_once(c, read_garden(phones.path), due, seen, prices) == []
    assert asked == [Tending.AS_TAUGHT]  # nor is it reckoned again


def test_a_way_is_not_priced_before_past_winters_are_known_nor_where_it_was_told_when_it_was_chosen(
    phones: Phones,
) -> None:
    due, seen = taught_ask()
    with phones.logbook.begin() as c:
        assert _way_once(c, read_garden(phones.path), due, seen, no_prices) == []
        assert len(_way_once(c, read_garden(phones.path), due, seen, price_known)) == 1
    phones.say("tend all early")
    early = replace(seen, trees=[
        replace(one, tree=one.tree.model_copy(update={"tending": Tending.EARLY})) for one in seen.trees
    ])  # fmt: skip
    with phones.logbook.begin() as c:
        assert _way_once(c, read_garden(phones.path), due, early, price_known) == []
