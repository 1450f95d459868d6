"""Questions without their mark, politeness, doubt and small talk: what is said beside them is heard, and no more."""

import re
from itertools import cycle

import pytest

from bot.replies import NotUnderstood, Understood, Verb, parse_reply, tells
from tests.bot.replies.test_replies_phrases import SCENES, read, shown, table, written

QUESTIONS = {
    "can it wait until tomorrow": "by_when Porch fig, Wall fig at Thu 08:00",
    "can i go away this weekend": "due",
    "is it too early to wrap": "due",
    "what time do i need to close": "by_when Porch fig, Wall fig",
    "anything else today": "more",
    "which one first": "first",
    "is it windy tomorrow": "due",
    "when did i close porch": "noted Porch fig",
    "who wrapped the kaki": "noted Kaki",
    "have i closed porch": "trees Porch fig",
    "is the kaki going to make it": "tonight Kaki",
    "how sure are you about tonight": "tonight",
    "when is the next frost": "nights",
    "are you sure": "why Porch fig, Wall fig",
    "what did porch feel last night": "last_night Porch fig",
    "how cold was it last night": "last_night",
    "did it freeze": "last_night",
    "what if i leave porch open": "what_if Porch fig",
    "what happens if the cap is open": "what_if",
    "are you there": "hello",
    "did juniper close the porch": "trees Porch fig",
    "did porch die back": "season Porch fig",
}


@pytest.mark.parametrize(("text", "meant"), QUESTIONS.items())
def test_a_question_without_its_mark_is_answered_and_settles_nothing(text: str, meant: str) -> None:
    assert written(parse_reply(text, SCENES["close"])) == meant


@pytest.mark.parametrize(
    "text",
    [
        *(
            "what did i say about porch at 4",
            "will you wake me",
            "how cold was it on monday",
        ),
        *("no that was the wall", "sorry i meant kaki", "i meant the wall", "no wait it was the wall"),
    ],
)
def test_what_asks_or_puts_right_and_is_not_understood_notes_nothing(text: str) -> None:
    reply = parse_reply(text, SCENES["close"])
    told = [] if isinstance(reply, NotUnderstood) else reply.meanings if isinstance(reply, Understood) else [None]
    asks = (Verb.DUE, Verb.TREES, Verb.TONIGHT, Verb.NOTED, Verb.BEYOND)
    assert all(meaning is not None and meaning.verb in asks for meaning in told)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("did it", "closed Porch fig, Wall fig"),
        ("did the porch one", "closed Porch fig"),
        ("can you remind me in an hour", "snooze Porch fig, Wall fig until Wed 17:10"),
        ("how about tomorrow", "snooze Porch fig, Wall fig until Thu 08:00"),
        ("what a cold day, closed both", "closed Porch fig, Wall fig"),
    ],
)
def test_what_only_looks_like_a_question_is_heard(text: str, meant: str) -> None:
    assert written(parse_reply(text, SCENES["close"])) == meant


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("wrapped kaki. what's next", "wrapped Kaki ; due"),
        ("closed both. how cold tonight?", "closed Porch fig, Wall fig ; tonight"),
        ("closed both how cold will it get tonight", "closed Porch fig, Wall fig ; tonight"),
        ("is it cold tonight? closed both anyway", "tonight ; closed Porch fig, Wall fig"),
        ("closed porch, should i close the wall too?", "closed Porch fig ; due Wall fig"),
        ("porch is closed. is the wall open?", "closed Porch fig ; trees Wall fig"),
        ("-6 at the wall. is that too cold?", "reading Wall fig -6.0C ; tonight"),
        ("not sure what to do", "due"),
    ],
)
def test_what_is_told_beside_a_question_is_noted_and_the_question_answered(text: str, meant: str) -> None:
    assert written(parse_reply(text, SCENES["close"])) == meant


def test_a_denial_beside_a_question_still_keeps_a_deed_from_being_noted() -> None:
    reply = parse_reply("not sure i closed porch. how cold tonight?", SCENES["close"])
    assert not isinstance(reply, Understood) or not any(meaning.is_deed for meaning in reply.meanings)


COURTESIES = (
    *("hi {}", "hey bot, {}", "good morning, {}", "btw {}", "also {}", "{} please", "{} thanks", "{}, thx!"),
    *("{}.", "{}!", "{} \U0001f642", "  {}  "),
)
WORD_FOR_WORD = {Verb.NOTE, Verb.START, Verb.CODE, Verb.THANKS, Verb.HELLO}


def test_politeness_changes_nothing_of_what_is_said() -> None:
    """Each phrase with one of the courtesies, in turn."""
    rows = [row for name in ("phrases.toml", "phrases_jobs.toml", "season_phrases.toml") for row in table(name)]
    changed = []
    for form, (scene, said, _) in zip(cycle(COURTESIES), rows, strict=False):
        plain = read(scene, said)
        bare = said.strip().casefold() in ("ok", "okay", "1,2")  # "ok thanks" is thanks, "1,2." a number
        if isinstance(plain, Understood) and plain.meanings[0].verb not in WORD_FOR_WORD and not bare:
            if re.search(r"(closed|shut|wrapped|open|stripped) please", form.format(said)):
                continue  # may be a wish, and is asked about
            polite = parse_reply(form.format(said), SCENES[scene])
            if not isinstance(polite, Understood) or polite.meanings != plain.meanings:
                changed.append((form.format(said), written(plain), written(polite)))
    assert not changed


def test_no_question_of_the_table_tells_anything_when_its_mark_is_left_out() -> None:
    begins = ("what", "how", "when", "why", "which", "who", "is ", "are ", "do ", "did ", "should", "can ", "will ")
    asked = [(scene, said) for scene, said, _ in table("phrases.toml") if said.casefold().startswith(begins)]
    replies = {said: read(scene, said.rstrip("?")) for scene, said in asked if said.endswith("?")}
    assert len(replies) >= 20
    assert not {said: written(reply) for said, reply in replies.items() if tells(reply)}


HEDGED = (
    *(
        "wish i had wrapped kaki",
        "porch is supposed to be closed",
        "porch looks closed from here",
        "might have closed it",
    ),
    *("meant to close porch", "i think porch is closed", "pretty sure porch is closed", "maybe juniper closed porch"),
    *("juniper said she closed porch", "ask juniper to close porch", "tell juniper porch is closed"),
    *("all done with work, will close soon", "covered ones are ok", "closed it last winter too", "leave it open"),
    *("before i closed it was -3", "since i closed porch its warmer", "porch froze while open", "keep wall shut"),
    *("i thought about closing porch", "should have closed porch last night", "was going to close porch"),
    *("forgot to close porch", "it says closed but it isn't", "the road is closed", "wrapped the pipes", "door closed"),
    *("left the gate open", "opened the greenhouse", "almost closed", "started wrapping kaki", "closed my eyes"),
)


@pytest.mark.parametrize("scene", ["quiet", "close", "wrap"])
def test_a_deed_only_thought_wished_or_heard_of_is_never_recorded(scene: str) -> None:
    replies = [(text, parse_reply(text, SCENES[scene])) for text in HEDGED]
    read = [(text, reply.meanings) for text, reply in replies if isinstance(reply, Understood)]
    assert [text for text, told in read if any(meaning.is_deed for meaning in told)] == []


@pytest.mark.parametrize(
    "text", ["closed porch, i think it's fine", "closed porch as you said", "closed porch before i left"]
)
def test_small_talk_beside_a_deed_does_not_doubt_it(text: str) -> None:
    reply = parse_reply(text, SCENES["close"])
    assert isinstance(reply, Understood)
    assert shown(reply.meanings[0]) == "closed Porch fig"


@pytest.mark.parametrize(
    "aside", ["my fingers are numb", "lost my wallet", "went for walks", "oven is on", "khaki trousers wet"]
)
def test_a_common_word_is_no_misspelt_tree_or_deed(aside: str) -> None:
    reply = parse_reply(f"closed porch, {aside}", SCENES["close"])
    told = reply.meanings if isinstance(reply, Understood) else ()
    assert {tree for meaning in told for tree in meaning.trees if meaning.is_deed} <= {"Porch fig"}
