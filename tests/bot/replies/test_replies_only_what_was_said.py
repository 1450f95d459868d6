"""What is said of one tree changes one tree; what is certain is kept beside what is no matter of ours."""

from dataclasses import replace
from datetime import datetime
from itertools import product

import pytest

from bot.replies import Ambiguous, Context, Meaning, NotUnderstood, OpenAsk, TreeName, Understood, Verb, parse_reply
from rules.garden.condition import ConditionKind
from rules.garden.cover import CoverState
from tests.bot.replies.test_replies_frames import noted_deeds
from tests.bot.replies.test_replies_phrases import NOW, SCENES, ZONE, table, written

PEOPLE = ("Ada", "Ben")


def named(*trees: tuple[str, str]) -> Context:
    """A garden of trees by these names and species, every top open."""
    grown = tuple(
        TreeName(name=name, number=number, species=species, state=CoverState.VENTED)
        for number, (name, species) in enumerate(trees, start=1)
    )
    return Context(trees=grown, now=NOW, zone=ZONE, people=PEOPLE)


# names that hold a species, a person's beginning, and one another's words
TANGLED = named(
    ("Porch", "fig"), ("Ma's fig", "fig"), ("Wall", "fig"), ("South wall fig", "fig"), ("Bench", "satsuma"),
    ("Kaki", "persimmon"), ("Little kaki", "persimmon"), ("Fig bench", "fig"),
)  # fmt: skip
CALLED = {
    "porch": "Porch", "the porch fig": "Porch", "ma's fig": "Ma's fig", "mas fig": "Ma's fig", "wall": "Wall",
    "the wall fig": "Wall", "south wall": "South wall fig", "the south wall fig": "South wall fig", "bench": "Bench",
    "the bench satsuma": "Bench", "kaki": "Kaki", "little kaki": "Little kaki", "fig bench": "Fig bench",
}  # fmt: skip
FRAMES = ("closed {}", "i closed {} just now", "{} is closed", "wrapped {}", "stripped {}", "took the straw off {}")


@pytest.mark.parametrize(("said", "meant"), CALLED.items())
def test_what_is_said_of_one_tree_changes_that_tree(said: str, meant: str) -> None:
    for frame in FRAMES:
        told = noted_deeds(parse_reply(frame.format(said), TANGLED))
        assert [tree for meaning in told for tree in meaning.trees] == [meant], frame


def test_a_species_alone_is_asked_about_though_one_name_holds_it() -> None:
    for said in ("closed the fig", "wrapped the fig", "stripped the fig"):
        assert isinstance(parse_reply(said, TANGLED), Ambiguous), said


def test_a_persons_name_is_no_slip_of_a_trees() -> None:
    for said in ("ben closed wall", "wall closed by ben", "ben and i closed wall", "Ben's closed wall"):
        told = noted_deeds(parse_reply(said, TANGLED))
        assert all(meaning.trees == ("Wall",) for meaning in told), said
    assert written(parse_reply("ben shut wall", TANGLED)) == "closed Wall"


def test_a_reply_is_read_clause_by_clause() -> None:
    scenes = {scene: replace(context, people=PEOPLE) for scene, context in SCENES.items()}
    rows = [(s, meant, written(parse_reply(s, scenes[at]))) for at, s, meant in table("phrases_clause_by_clause.toml")]
    assert [row for row in rows if row[1] != row[2]] == []


CERTAIN = ("closed porch", "wrapped kaki", "stripped the wall fig", "-6.5 at porch", "porch is shut")
OURS = (
    "so she said", "i think", "i hope", "in my dreams", "if it holds", "unless it snows", "just kidding", "not really",
    "i wish", "wall came undone", "it blew off", "kaki was not", "i mean the gate", "no wait",
    "it was 4", "mice were in it", "the lid cracked", "almost", "says my husband", "yeah right",
    "my dad opened it", "i was going to", "after the film", "scrap that", "as if", "same for wall", "it was yesterday",
)  # fmt: skip
NOT_OURS = (
    "car is on the drive", "my nan is visiting", "we had soup", "the kids are at school",
    "i'm off to the pub", "radio is on", "fingers gone blue", "she was in leeds",
)  # fmt: skip


def test_beside_words_that_may_matter_nothing_is_noted() -> None:
    for certain, stop, beside in product(CERTAIN, (", ", ". "), OURS):
        for said in (f"{certain}{stop}{beside}", f"{beside}{stop}{certain}"):
            reply = parse_reply(said, replace(SCENES["quiet"], people=PEOPLE))
            left_out = reply.unread if isinstance(reply, Understood | Ambiguous) else ""
            noted = noted_deeds(reply) or [one for one in _told(reply) if one.verb is Verb.READING]
            assert not (noted and left_out), f"{said}: {written(reply)}, left out {left_out}"


def test_beside_words_of_no_matter_to_us_what_is_certain_is_kept_and_the_rest_told() -> None:
    pairs = list(product(CERTAIN, NOT_OURS))
    kept = [(c, b, parse_reply(f"{c}. {b}", replace(SCENES["quiet"], people=PEOPLE))) for c, b in pairs]
    whole = [(c, b, reply) for c, b, reply in kept if isinstance(reply, Understood)]
    assert len(whole) >= 0.9 * len(pairs), [(c, b) for c, b, reply in kept if not isinstance(reply, Understood)]
    for certain, beside, reply in whole:
        assert written(reply) == written(parse_reply(certain, SCENES["quiet"])), beside
        assert reply.unread, beside


def _told(reply: Understood | Ambiguous | NotUnderstood) -> tuple[Meaning, ...]:
    return reply.meanings if isinstance(reply, Understood) else ()


@pytest.mark.parametrize("said", ["couldn't reach wall", "haven't done wall", "wall's gaping still, couldn't reach"])
def test_a_denial_of_what_was_noted_offers_to_take_it_back(said: str) -> None:
    last = (Meaning(verb=Verb.CLOSED, trees=("Porch fig", "Wall fig"), at_utc=NOW),)
    reply = parse_reply(said, replace(SCENES["quiet"], last_told=last))
    assert isinstance(reply, Ambiguous)
    assert not reply.certain
    back, stays = reply.choices
    assert [one.verb for one in back.meanings] == [Verb.UNDO, Verb.CLOSED]
    assert back.meanings[1].trees == ("Porch fig",)
    assert stays.meanings[0].verb is Verb.NO


SOME_OF = {
    "shut two of the three": "? closed Porch fig, Wall fig | closed Porch fig, Kaki | closed Wall fig, Kaki",
    "one of them is closed": "? closed Porch fig | closed Wall fig | closed Kaki",
    "did two of them, kaki tomorrow": "closed Porch fig, Wall fig ; snooze Kaki until Thu 08:00",
    "closed 2 of them, kaki's lid is frozen open": "closed Porch fig, Wall fig ; cannot Kaki",
    "the kaki i did not get to, the other two i think are shut": "? not_done Kaki ; closed Porch fig, Wall fig | "
    "not_done Kaki ; not_done Porch fig, Wall fig",
    "i did porch in a hurry the wall i didn't get to": "closed Porch fig ; not_done Wall fig",
}


@pytest.mark.parametrize(("said", "meant"), SOME_OF.items())
def test_of_some_of_those_asked_about_no_others_are_done(said: str, meant: str) -> None:
    ask = OpenAsk(key="n", verb=Verb.CLOSED, trees=("Porch fig", "Wall fig", "Kaki"))
    assert written(parse_reply(said, replace(SCENES["close"], open_asks=(ask,)))) == meant


TAKEN_BACK = "undo ; closed Porch fig at Wed 16:00"
PUT_RIGHT = {
    "sorry i wrote wall, it was meant to be kaki. porch was right": "undo ; closed Porch fig, Kaki at Wed 16:00",
    "oops, kaki not wall. porch is fine": "undo ; closed Porch fig, Kaki at Wed 16:00",
    "4 is wrong, it was more like 3": "undo ; closed Porch fig, Wall fig at Wed 15:00",
    "you wrote that wrong, not four, at three": "undo ; closed Porch fig, Wall fig at Wed 15:00",
    "sorry, the contrary, i opened both": "undo ; vented Porch fig, Wall fig at Wed 16:00",
    "oh sorry, wrong group": "undo",
    "ah no, wall i only looked at, it's still open. porch stands": f"? {TAKEN_BACK} | no",
    "ignore what i told you about the wall, the hinge gave way": TAKEN_BACK,
    "that thing i told you just before, forget it please": "? undo | no",
}


@pytest.mark.parametrize(("said", "meant"), PUT_RIGHT.items())
def test_what_was_told_last_is_put_right_at_length(said: str, meant: str) -> None:
    last = (Meaning(verb=Verb.CLOSED, trees=("Porch fig", "Wall fig"), at_utc=datetime(2026, 11, 25, 16, tzinfo=ZONE)),)
    now = datetime(2026, 11, 25, 17, tzinfo=ZONE)
    assert written(parse_reply(said, replace(SCENES["quiet"], last_told=last, now=now))) == meant


@pytest.mark.parametrize(
    "said", ["sorry, closed kaki and opened wall", "no luck with the bins", "sorry for the delay, kaki wrapped at 3"]
)
def test_a_new_report_puts_nothing_right(said: str) -> None:
    last = (Meaning(verb=Verb.CLOSED, trees=("Porch fig", "Wall fig"), at_utc=NOW),)
    assert "undo" not in written(parse_reply(said, replace(SCENES["quiet"], last_told=last)))


@pytest.mark.parametrize(
    "said", ["asdf qwer", "porch blorp", "blorp the lid of kaki", "is it blorp", "the road is closed"]
)
def test_what_makes_no_sense_gets_two_or_three_choices(said: str) -> None:
    for scene in ("quiet", "close"):
        reply = parse_reply(said, SCENES[scene])
        if isinstance(reply, NotUnderstood):
            assert 2 <= len(reply.choices) <= 3, said


@pytest.mark.parametrize(
    "text", ["is the kaki dead", "has porch lost a third", "are the buds swelling on kaki", "is the film torn at porch"]
)
def test_a_question_by_its_word_order_is_no_report_though_no_question_mark_is_typed(text: str) -> None:
    read = parse_reply(text, SCENES["quiet"])
    told = {one.verb for one in read.meanings} if isinstance(read, Understood) else set()
    assert not told & {Verb.DIEBACK, Verb.SIGHTING, Verb.CONDITION}


def test_a_denial_of_one_tree_takes_back_nothing_of_another() -> None:
    told = (Meaning(verb=Verb.CLOSED, trees=("Wall fig",)),)
    read = parse_reply("i didn't close kaki", replace(SCENES["quiet"], last_told=told))
    assert not (isinstance(read, Understood) and any(one.verb is Verb.UNDO for one in read.meanings))


def test_an_absence_ends_after_it_begins() -> None:
    context = replace(SCENES["quiet"], now=datetime(2026, 1, 18, 10, tzinfo=ZONE))  # a Sunday
    reply = parse_reply("we're off to my sister's friday, back monday", context)
    assert isinstance(reply, Understood)
    assert reply.meanings[0].until_utc == datetime(2026, 1, 26, 8, tzinfo=ZONE)


def test_a_tree_told_behind_an_aside_is_not_lost() -> None:
    reply = parse_reply("shut porch while the kettle boiled and the wall too", SCENES["close"])
    told = {tree for one in _told(reply) if one.is_deed for tree in one.trees}
    assert told == {"Porch fig", "Wall fig"}


# how people leave one tree out of all, and what they say of it besides; common usage, no source
ALL_DONE = {
    "closed": ("all shut {}", "closed everything {}", "everything is closed {}", "shut the lot {}"),
    "vented": ("opened all {}", "all open {}", "opened everything {}"),
    "wrapped": ("wrapped everything {}", "all wrapped {}"),
}
BUT_ONE = (
    "but {}", "except {}", "bar {}", "apart from {}", "but not {}", "save for {}", "minus {}", "just not {}",
    "only {} not", "only {} left",
)  # fmt: skip
AND_WHY = (
    "", ", its lid is frozen on", ", whose lid is under a tarp", " because it is frozen", ". lid wont sit",
    ", that one i leave for ben", " which is too heavy for me", " as i ran out of straw",
)  # fmt: skip


@pytest.mark.parametrize("verb", ALL_DONE)
def test_what_is_left_out_of_all_is_neither_noted_nor_offered_first(verb: str) -> None:
    trees = ("Porch fig", "Wall fig", "Kaki", "Eave pomegranate")
    asked = replace(SCENES["quiet"], open_asks=(OpenAsk(key="asked", verb=Verb(verb), trees=trees),))
    rows = list(product(ALL_DONE[verb], BUT_ONE, AND_WHY))
    others = 0
    for all_done, but, why in rows:
        said = all_done.format(but.format("the eave")) + why
        reply = parse_reply(said, asked)
        ways = reply.ways[:1] if isinstance(reply, Ambiguous) else ()
        told = (*noted_deeds(reply), *(one for way in ways for one in way if one.is_deed and len(one.trees) > 1))
        assert not any("Eave pomegranate" in one.trees for one in told), said
        others += {tree for one in noted_deeds(reply) for tree in one.trees} >= set(trees) - {"Eave pomegranate"}
    assert others >= 0.8 * len(rows)  # of most it is noted at once that the others are done; 9 in 10 when this was made


# what befalls a cover, and how it is told of, sought, feared, remembered, wished away and over; common usage, no source
HARM = {"mice": ("mice", "mouse droppings"), "mould": ("mould", "mold"), "torn": ("a hole in the film",)}
IS_THERE = (
    "there is {} at the kaki", "found {} in the kaki", "saw {} at the kaki this morning", "kaki has {}",
    "ben found {} in the kaki",
)  # fmt: skip
IS_NOT_THERE = (
    "no {} at the kaki", "found no {} in the kaki", "did not find {} at the kaki", "looked for {} at the kaki, nothing",
    "checked the kaki for {}, all clear", "is there {} at the kaki", "could there be {} in the kaki?",
    "what if there is {} in the kaki", "how do i see {} at the kaki", "last year there was {} at the kaki",
    "had {} in the kaki two winters ago", "we never had {} at the kaki", "if i find {} at the kaki i will tell you",
    "hope there is no {} at the kaki", "worried about {} at the kaki", "must look for {} at the kaki tomorrow",
    "should i worry about {} at the kaki", "maybe {} at the kaki", "read that {} is bad for kaki",
    "without {} the kaki would be fine", "not a trace of {} at the kaki", "kaki is free of {}", "{}? not at the kaki",
    "got rid of {} at the kaki",
)  # fmt: skip


@pytest.mark.parametrize("harm", HARM)
def test_what_befell_is_noted_where_it_is_told_and_not_where_it_is_sought_feared_remembered_or_over(harm: str) -> None:
    for what, frame in product(HARM[harm], IS_THERE):
        reply = parse_reply(frame.format(what), replace(SCENES["quiet"], people=PEOPLE))
        assert isinstance(reply, Understood), frame
        assert [(one.condition, one.trees) for one in reply.meanings] == [(ConditionKind(harm), ("Kaki",))], frame
    for what, frame in product(HARM[harm], IS_NOT_THERE):
        said = frame.format(what)
        reply = parse_reply(said, SCENES["quiet"])
        told = reply.meanings if isinstance(reply, Understood) else getattr(reply, "certain", ())
        assert not [one for one in told if one.verb is Verb.CONDITION and not one.is_over], said
