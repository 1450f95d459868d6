"""Whole families of replies: a deed is noted of the trees it is told of and no others, of what is no report none."""

from bot.replies import Ambiguous, Meaning, NotUnderstood, Reply, Understood, Verb, parse_reply
from tests.bot.replies.frames import no_reports, none_of_ours, reports, spread
from tests.bot.replies.test_replies_phrases import SCENES, written

NOTED = {Verb.READING, Verb.SIGHTING, Verb.SNOOZE, Verb.CANNOT, Verb.JOB, Verb.DIEBACK, Verb.PICKED}


def noted_deeds(reply: Reply) -> list[Meaning]:
    told = reply.meanings if isinstance(reply, Understood) else reply.certain if isinstance(reply, Ambiguous) else ()
    return [meaning for meaning in told if meaning.is_deed]


def test_a_plain_report_is_its_deed_at_its_trees_or_at_worst_asked_about() -> None:
    said = spread(reports(), 150)
    asked = 0
    for one in said:
        told = noted_deeds(parse_reply(one.text, SCENES["close"]))
        trees = {tree for meaning in told for tree in meaning.trees}
        asked += not told
        assert not told or ({m.verb.value for m in told} == {one.deed} and trees == set(one.trees)), one.text
    assert asked <= len(said) / 20


def test_what_is_no_plain_report_is_no_deed() -> None:
    for one in spread(no_reports(), 150):
        for scene in ("quiet", "close"):
            assert not noted_deeds(parse_reply(one.text, SCENES[scene])), one.text


def test_what_is_none_of_our_business_is_known_as_such() -> None:
    said = list(none_of_ours())
    taken = []
    for one in said:
        reply = parse_reply(one.text, SCENES["close"])
        assert not noted_deeds(reply), one.text
        told = reply.meanings if isinstance(reply, Understood) else ()
        if not isinstance(reply, NotUnderstood) and (not told or {m.verb for m in told} & NOTED):
            taken.append(f"{one.text}: {written(reply)}")
    assert len(taken) <= len(said) / 10, taken
