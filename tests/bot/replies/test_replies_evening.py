"""An evening of three growers: slips, second thoughts and questions. What they mean is common practice, no source."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from bot.replies.labels import LONGEST_LABEL
from bot.replies.nouns import Ambiguous, Context, Meaning, NotUnderstood, OpenAsk, Reply, TreeName, Understood, Verb
from bot.replies.reading import parse_reply
from rules.garden.cover import CoverState

OLD, SHED, POT, POM = "Old fig", "Shed fig", "Little fig", "Quince pom"
TREES = (
    TreeName(name=OLD, short_names=("old",), number=1, species="fig", state=CoverState.BARE),
    TreeName(name=SHED, short_names=("shed",), number=2, species="fig", state=CoverState.BARE),
    TreeName(name=POT, short_names=("little",), number=3, species="fig", standing="pot", state=CoverState.BARE),
    TreeName(name=POM, short_names=("pom",), number=4, species="pomegranate", state=CoverState.BARE),
)
ASK = OpenAsk(key="k", verb=Verb.WRAPPED, trees=(POT, OLD, POM))
BOTH = (Meaning(verb=Verb.WRAPPED, trees=(POT,)), Meaning(verb=Verb.WRAPPED, trees=(OLD,)))
READ = (Meaning(verb=Verb.READING, trees=(OLD,), air_c=-4.0),)
NOW = datetime(2026, 11, 30, 3, 45, tzinfo=UTC)


def said(text: str, last: tuple[Meaning, ...] = (), asks: tuple[OpenAsk, ...] = (ASK,)) -> Reply:
    zone = ZoneInfo("America/Denver")
    return parse_reply(text, Context(trees=TREES, now=NOW, zone=zone, open_asks=asks, last_told=last))


def told(text: str, last: tuple[Meaning, ...] = ()) -> list[tuple[Verb, tuple[str, ...]]]:
    reply = said(text, last)
    assert isinstance(reply, Understood), reply
    return [(one.verb, one.trees) for one in reply.meanings]


@pytest.mark.parametrize("text", ["dont remind me", "don't ask me again tonight", "no reminders please"])
def test_who_wants_no_reminder_is_not_put_down_for_one(text: str) -> None:
    assert told(text) == [(Verb.CANNOT, ASK.trees)]


@pytest.mark.parametrize("text", ["got burlap on shed fig", "got the straw on shed", "brought the straw on shed"])
def test_stuff_got_onto_a_tree_is_not_taken_for_shopping(text: str) -> None:
    reply = said(text)
    assert isinstance(reply, Ambiguous), reply
    assert [one.meanings[0].verb for one in reply.choices] == [Verb.WRAPPED, Verb.JOB]
    assert [one.label for one in reply.choices] == ["Shed fig wrapped", "Shed fig supplies done"]


def test_what_was_bought_for_a_tree_is_shopping() -> None:
    assert told("bought burlap for shed") == [(Verb.JOB, (SHED,))]


@pytest.mark.parametrize(
    "text", ["moved little fig into the garage at 6 pm, it was -3 outside", "wrapped little at 6 pm, it was -3"]
)
def test_how_cold_it_was_at_a_deed_is_of_the_hour_of_that_deed(text: str) -> None:
    reply = said(text)
    assert isinstance(reply, Understood), reply
    deed, reading = reply.meanings
    assert reading.verb is Verb.READING
    assert reading.at_utc == deed.at_utc == datetime(2026, 11, 30, 1, tzinfo=UTC)


def test_a_low_told_beside_a_deed_is_not_of_the_hour_of_that_deed() -> None:
    reply = said("wrapped old at 5 pm, low was -4")
    assert isinstance(reply, Understood), reply
    assert reply.meanings[-1].at_utc is None


@pytest.mark.parametrize("text", ["no I didnt, only old", "not both, only old", "no only old"])
def test_of_a_deed_on_several_trees_the_one_named_stands(text: str) -> None:
    assert told(text, BOTH) == [(Verb.UNDO, ()), (Verb.WRAPPED, (OLD,))]


def test_undo_with_a_tree_takes_back_that_tree_alone() -> None:
    assert told("undo old", BOTH) == [(Verb.UNDO, ()), (Verb.WRAPPED, (POT,))]


def test_a_denial_that_names_one_of_two_is_asked_back() -> None:
    reply = said("no i didn't, old", BOTH)
    assert isinstance(reply, Ambiguous), reply


def test_a_reading_told_last_can_be_taken_back_by_its_name() -> None:
    assert told("that reading was wrong", READ) == [(Verb.UNDO, ())]
    assert not isinstance(said("that reading was wrong", BOTH), Understood)


@pytest.mark.parametrize(
    "text", ["wrapped old, blanket and film on", "wrapped old at 5 pm, blanket and film on, top open"]
)
def test_more_told_of_a_cover_is_of_the_tree_just_named(text: str) -> None:
    reply = said(text)
    ways = reply.ways if isinstance(reply, Ambiguous) else (reply.meanings,) if isinstance(reply, Understood) else ()
    assert ways
    assert {tree for way in ways for one in way for tree in one.trees} == {OLD}


def test_why_a_pot_went_out_again_does_not_keep_the_move_from_being_noted() -> None:
    assert told("moved little back outside because the cellar was too warm") == [(Verb.CONDITION, (POT,))]


@pytest.mark.parametrize("text", ["is 20 min enough", "which hat suits old", "does the moon matter?"])
def test_a_question_is_never_answered_with_a_deed_to_tap(text: str) -> None:
    reply = said(text)
    choices = [] if isinstance(reply, Understood) else [one for way in reply.choices for one in way.meanings]
    assert isinstance(reply, NotUnderstood) or told(text) == [(Verb.BEYOND, ())]
    assert not any(one.is_deed or one.verb is Verb.NOT_DONE for one in choices)


def test_choices_of_several_trees_tell_apart_what_they_offer() -> None:
    reply = said("all wrapped by friday")
    assert isinstance(reply, Ambiguous), reply
    labels = [choice.label for choice in reply.choices]
    assert labels == ["Little fig + 2 more wrapped Fri 12:00", "Little fig + 2 more ask again Fri 08:00"]
    assert max(map(len, labels)) <= LONGEST_LABEL


@pytest.mark.parametrize(
    ("text", "verb"),
    [
        ("prove it", Verb.WHY), ("how do you know old is safe to -8", Verb.WHY),
        ("show me the numbers for old", Verb.WHY), ("what happens if I do nothing", Verb.TONIGHT),
        ("how likely is it that I lose the pom", Verb.TONIGHT), ("what about little", Verb.TONIGHT),
        ("how do they stand", Verb.TREES), ("what did you note", Verb.NOTED), ("wich is worst", Verb.FIRST),
        ("waht do i do first", Verb.FIRST), ("which one can wait till tomorrow", Verb.FIRST),
        ("can i leav old shut all winter", Verb.STAY_SHUT), ("wats safe for pom", Verb.HOW_HARD),
        ("broght little in", Verb.CONDITION), ("thnks", Verb.THANKS),
    ],
)  # fmt: skip
def test_an_evening_of_slips_and_questions(text: str, verb: Verb) -> None:
    assert [one for one, _ in told(text)] == [verb]
