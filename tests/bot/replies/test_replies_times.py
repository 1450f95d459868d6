"""Times as people write them beside trees and deeds: none takes a tree away, none tells a deed nobody did."""

from dataclasses import replace

import pytest

from bot.replies import Ambiguous, Understood, Verb, parse_reply
from bot.replies.words.normalising import normalised
from tests.bot.replies.test_replies_phrases import NOW, SCENES, VENTED, garden, shown, written

TIMES = (
    *(
        "this morning",
        "in the morning",
        "this afternoon",
        "at 4",
        "3 pm",
        "15:30",
        "just now",
        "earlier today",
        "today",
    ),
    *("yesterday", "yesterday morning", "2 hours ago", "5 minutes ago", "half an hour ago", "an hour ago", "at noon"),
    *("around 3", "on monday", "monday morning", "on the 23rd", "last night", "last evening", "at half past three"),
)


@pytest.mark.parametrize(
    "trees", ["wall and kaki", "the wall & the kaki", "both wall and kaki", "2 and 3", "2 3", "wall kaki"]
)
def test_a_time_beside_a_list_of_trees_takes_none_of_them_away(trees: str) -> None:
    both = replace(SCENES["quiet"], trees=garden(VENTED, VENTED, VENTED, VENTED))
    for time in TIMES:
        told = [parse_reply(text, both) for text in (f"closed {trees} {time}", f"{trees} closed {time}")]
        moments = {shown(meaning) for reply in told if isinstance(reply, Understood) for meaning in reply.meanings}
        assert all(isinstance(reply, Understood) for reply in told), time
        assert len(moments) == 1, time
        assert moments.pop().startswith("closed Wall fig, Kaki"), time


@pytest.mark.parametrize(
    ("text", "hour", "heard"),
    [
        ("wrapped kaki this morning", 6, "wrapped Kaki at Wed 06:00"),
        ("closed wall this afternoon", 13, "closed Wall fig at Wed 13:00"),
        ("closed wall this evening", 17, "closed Wall fig at Wed 17:00"),
        ("kaki this evening", 17, "snooze Kaki until Wed 18:00"),
        ("remind me this morning", 6, "snooze until Wed 08:00"),
    ],
)
def test_a_part_of_the_day_told_within_it_is_now_and_promised_is_ahead(text: str, hour: int, heard: str) -> None:
    assert written(parse_reply(text, replace(SCENES["quiet"], now=NOW.replace(hour=hour, minute=0)))) == heard


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("all closed except kaki which i'll do tomorrow", "closed Porch fig, Wall fig ; snooze Kaki until Thu 08:00"),
        ("all closed except kaki, i'll do it tomorrow", "closed Porch fig, Wall fig ; snooze Kaki until Thu 08:00"),
        ("it was -11 at 6 by the wall, cover was open", "reading Wall fig at Wed 06:00 -11.0C"),
        ("it's 12 under the porch cover", "reading Porch fig 12.0C inside"),
        ("-2 in the kaki cage", "reading Kaki -2.0C inside"),
        ("wrapped kaki on monday and porch yday", "wrapped Kaki at Mon 12:00 ; wrapped Porch fig at Tue 12:00"),
        ("not 2day", "cannot Porch fig, Wall fig"),
        ("closed porch, wall and kaki tomorrow", "closed Porch fig ; snooze Wall fig, Kaki until Thu 08:00"),
        ("\u2705 but wall tomorrow", "closed Porch fig ; snooze Wall fig until Thu 08:00"),
        ("all closed, wall tomorrow", "closed Porch fig ; snooze Wall fig until Thu 08:00"),
        ("lowest at porch was minus 8 point 5", "reading Porch fig -8.5C low"),
        ("minus six at the wall at half six this morning", "reading Wall fig at Wed 06:30 -6.0C"),
    ],
)
def test_what_is_left_out_is_what_is_put_off_and_a_cover_spoken_of_is_no_deed(text: str, meant: str) -> None:
    assert written(parse_reply(text, SCENES["close"])) == meant


def test_closed_after_dinner_may_be_done_or_to_do_and_is_asked() -> None:
    reply = parse_reply("closed both after dinner", SCENES["close"])
    assert isinstance(reply, Ambiguous)
    assert [choice.meanings[0].verb for choice in reply.choices] == [Verb.CLOSED, Verb.SNOOZE]


@pytest.mark.parametrize(
    ("scene", "text", "meant"),
    [
        ("wrap", "wrapped and closed all", "wrapped Porch fig, Wall fig, Kaki ; closed Porch fig, Wall fig, Kaki"),
        ("wrap", "porch wrapped and the lid is on", "wrapped Porch fig ; closed Porch fig"),
        ("wrap", "porch wrapped, cap left open", "wrapped Porch fig ; vented Porch fig"),
        ("close", "in ten", "snooze Porch fig, Wall fig until Wed 16:20"),
        ("close", "before dark", "will_do Porch fig, Wall fig"),
        ("close", "after the game", "snooze Porch fig, Wall fig"),
        ("close", "in bed already", "cannot Porch fig, Wall fig"),
        ("close", "closed both before dark", "closed Porch fig, Wall fig"),
    ],
)
def test_two_deeds_in_a_row_and_times_without_a_clock(scene: str, text: str, meant: str) -> None:
    assert written(parse_reply(text, SCENES[scene])) == meant


def test_a_bare_hour_of_the_small_hours_may_be_the_afternoon_before_and_is_asked() -> None:
    reply = parse_reply("closed porch at 3", replace(SCENES["quiet"], now=NOW.replace(hour=8)))
    assert isinstance(reply, Ambiguous)
    assert [shown(c.meanings[0]) for c in reply.choices] == [
        "closed Porch fig at Wed 03:00",
        "closed Porch fig at Tue 15:00",
    ]


@pytest.mark.parametrize(
    "text",
    ["opened kaki for the sun till 3", "in the sun until noon", "moved it out to sun", "kaki sat through dinner"],
)
def test_sun_and_sat_are_days_only_beside_another_day(text: str) -> None:
    assert "day" not in normalised(text)
    assert normalised("away sat to weds") == "away saturday to wed"
    assert normalised("away fri-sun") == "away fri to sunday"
    assert normalised("away thu - sun") == "away thu to sunday"
