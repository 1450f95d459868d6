"""An ask that rang stands for its day unless its night is clearly milder; one written softly is taken back in words."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import pytest
import sqlalchemy as sa

from bot.logbook import read_records
from bot.logbook.database.tables import nudges
from bot.nudges import DueNudge, Stage
from bot.rounds.deciding import write_due
from bot.wording.nudges import nudge_text
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from rules.garden.tree import Tending
from rules.jobs import GardenFacts
from rules.outlook.garden_outlook import Outlook, outlook
from rules.outlook.triage import weighed_today
from rules.plan.garden_plan import Plan, SecondBest, SecondThoughts
from rules.wood.margins import TreeMargins
from tests.bot.phone import Phone, inputs, larkmoor

NOON: Final = datetime(2025, 11, 28, 13, 0, tzinfo=ZoneInfo("America/Denver"))  # gusts are over; a cold night comes
LATER: Final = NOON + timedelta(hours=1)


@pytest.fixture
def phone() -> Iterator[Phone]:
    """A fig to shut and a satsuma to box tonight; both are asked for, and the fig is shut."""
    phone = Phone(larkmoor("Porch fig", "Satsuma"), NOON)
    phone.say("wrapped porch yesterday at 12, cap open")
    asked = " ".join(message.text for message in phone.tick())
    assert "Close Porch fig" in asked
    assert "Put the box on Satsuma" in asked
    phone.say("closed porch")
    phone.now = LATER
    yield phone
    phone.close()


def looked(phone: Phone, *, weighed: bool = True) -> Outlook:
    """The look after that, in which the plan asks for nothing: boxing the satsuma is only the next best."""
    seen = outlook(inputs(phone), LATER)
    (box,) = (act for act in seen.acts if act.tree == "Satsuma")
    other = SecondBest(acts=(box,), dearer_trips=0.4)
    thoughts = SecondThoughts(second_best=other if weighed else None)
    return replace(seen, plan=Plan(acts=(), second_thoughts=lambda: thoughts))


def said(phone: Phone, seen: Outlook, now: datetime = LATER) -> list[DueNudge]:
    with phone.logbook.begin() as c:
        due = write_due(c, phone.garden, seen, read_records(c, phone.garden.name), None, now, no_facts)
    return [nudge for nudge in due if nudge.stage is Stage.STAND_DOWN]


def no_facts() -> GardenFacts:
    raise AssertionError("nothing is asked for, so there is nothing to beware of")


def with_satsuma(seen: Outlook, changed: TreeMargins) -> Outlook:
    return replace(seen, trees=tuple(changed if one.tree.name == "Satsuma" else one for one in seen.trees))


def test_who_shut_the_fig_hears_nothing_of_the_satsuma_whose_ask_stands(phone: Phone) -> None:
    seen = looked(phone)
    assert said(phone, seen) == []
    assert said(phone, seen, LATER + timedelta(hours=1)) == []


def test_what_was_asked_for_is_not_offered_a_blanket_instead(phone: Phone) -> None:
    seen = looked(phone)
    with phone.logbook.begin() as c:
        due = write_due(c, phone.garden, seen, read_records(c, phone.garden.name), None, LATER, no_facts)
    assert not [nudge for nudge in due if nudge.stage is Stage.OFFER]


def test_what_was_written_softly_is_taken_back_softly_with_the_reason(phone: Phone) -> None:
    seen = looked(phone)
    (lapsed,) = said_of_a_soft_ask(phone, seen)
    assert lapsed.silent
    assert nudge_text(lapsed, seen, phone.style) == (
        "I no longer ask you to put the box on Satsuma.\n"
        "Satsuma: almost certainly too cold as it stands, 3 in 10 shut; a trip for it alone costs more than it saves; "
        "out there anyway, do it."
    )
    (box, *_) = outlook(inputs(phone), LATER).acts
    busy = replace(seen, plan=Plan(acts=(replace(box, tree="Porch fig", kind=DeedKind.STRIPPED),)))
    assert nudge_text(lapsed, busy, phone.style).endswith("by my plan it saves too little for the work.")


def said_of_a_soft_ask(phone: Phone, seen: Outlook) -> list[DueNudge]:
    """What is said where the ask had not rung."""
    with phone.logbook.begin() as c:
        c.execute(
            sa.update(nudges).values(numbers=sa.func.replace(nudges.c.numbers, '"silent": false', '"silent": true'))
        )
    return said(phone, seen)


@pytest.mark.parametrize("words", ["can't do the satsuma", "satsuma later", "box on satsuma"])
def test_who_said_so_himself_is_not_told(phone: Phone, words: str) -> None:
    seen = looked(phone)
    phone.say(words)
    assert said(phone, seen) == []


def test_where_the_risk_is_gone_it_is_good_news_and_nothing_is_said_of_a_trip(phone: Phone) -> None:
    seen = looked(phone)
    one = seen.tree("Satsuma")
    mild = {state: replace(felt, chance=0.1) for state, felt in one.nights[0].tissue.items()}
    milder = with_satsuma(seen, replace(one, nights=[replace(one.nights[0], tissue=mild), *one.nights[1:]]))
    (over,) = said(phone, milder)
    assert nudge_text(over, milder, phone.style).startswith("Good news: no need to put the box on Satsuma")


def test_an_ask_that_ends_because_no_work_is_possible_any_more_is_not_blamed_on_the_trip(phone: Phone) -> None:
    """The plan weighs nothing for today: dusk is near, or nobody is there."""
    assert said(phone, looked(phone, weighed=False)) == []


def test_only_covers_that_could_still_be_shut_today_were_weighed(phone: Phone) -> None:
    seen = looked(phone)
    one = seen.tree("Satsuma")
    assert weighed_today(seen, LATER) == {"Satsuma"}  # the fig is shut already
    assert weighed_today(looked(phone, weighed=False), LATER) == set()
    assert weighed_today(seen, LATER + timedelta(hours=3)) == set()  # no light left for the 45 minutes
    hindered = [
        replace(one, nights=[replace(one.nights[0], calm=())]),  # gusts till dusk
        replace(one, state=CoverState.CLOSED),
        replace(one, cover=None),
        replace(one, tree=one.tree.model_copy(update={"tending": Tending.EARLY})),  # its own way is not weighed
        replace(one, tree=one.tree.model_copy(update={"left_bare": True})),
    ]
    assert [weighed_today(with_satsuma(seen, other), LATER) for other in hindered] == [set()] * len(hindered)


def test_an_ask_that_paid_in_a_shared_visit_stands_once_the_fig_beside_it_is_shut() -> None:
    """Worth boxing in a visit to the fig (3.25 trips with the visit, 2.25 without), not worth a visit of its own."""
    garden = larkmoor("Porch fig", "Satsuma")
    little = [tree.model_copy(update={"worth_trips": 4.2}) for tree in garden.trees if tree.name == "Satsuma"]
    phone = Phone(garden.model_copy(update={"trees": (garden.trees[0], *little)}), NOON)
    phone.say("wrapped porch yesterday at 12, cap open")
    assert any("Put the box on Satsuma" in message.text for message in phone.tick())
    phone.say("closed porch")
    heard = []
    for _ in range(10):
        phone.now += timedelta(minutes=20)
        heard += [message.text.splitlines()[0] for message in phone.tick() if "Satsuma" in message.text]
        if phone.now < LATER + timedelta(hours=2):
            assert "put the box on Satsuma" in phone.say("due")
    phone.close()
    assert [line.split(":")[0] for line in heard] == ["Last call"]


def test_without_an_ask_nobody_is_sent_for_the_satsuma_alone() -> None:
    garden = larkmoor("Satsuma")
    little = [tree.model_copy(update={"worth_trips": 4.2}) for tree in garden.trees]
    phone = Phone(garden.model_copy(update={"trees": tuple(little)}), NOON)
    assert not any("Put the box" in message.text for message in phone.tick())
    phone.close()


def test_for_a_tree_that_cannot_be_tended_no_time_is_kept_and_nothing_is_planned_tonight() -> None:
    """45 minutes for the box: who cannot box the satsuma may begin the fig that much later. "Later" frees nobody."""

    def asked(*words: str) -> dict[str, datetime]:
        phone = Phone(larkmoor("Porch fig", "Satsuma"), NOON)
        phone.say("wrapped porch yesterday at 12, cap open")
        phone.tick()
        for told in words:
            phone.say(told)
        acts = outlook(inputs(phone), NOON).acts
        phone.close()
        return {act.tree: act.by_utc for act in acts if act.night == NOON.date()}

    both, alone = asked(), asked("can't do the satsuma")
    assert set(both) == {"Porch fig", "Satsuma"}
    assert asked("satsuma later") == both
    assert alone == {"Porch fig": both["Porch fig"] + timedelta(minutes=45)}
