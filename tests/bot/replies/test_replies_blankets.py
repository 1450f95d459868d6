"""A blanket for the night: what answers that ask, and what is asked back where nobody asked for one."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from bot.replies.nouns import Ambiguous, Context, OpenAsk, Reply, TreeName, Understood, Verb
from bot.replies.reading import parse_reply
from rules.garden.cover import CoverState

OLD, SHED = "Old fig", "Shed fig"
TREES = (
    TreeName(name=OLD, short_names=("old",), number=1, species="fig", state=CoverState.BARE),
    TreeName(name=SHED, short_names=("shed",), number=2, species="fig", state=CoverState.BARE),
)
BLANKET, WRAP = (
    OpenAsk(key=verb.value, verb=verb, trees=(t,)) for verb, t in ((Verb.BLANKETED, OLD), (Verb.WRAPPED, SHED))
)


def said(text: str, *asks: OpenAsk) -> Reply:
    now = datetime(2026, 10, 8, 23, tzinfo=UTC)
    return parse_reply(text, Context(trees=TREES, now=now, zone=ZoneInfo("America/Denver"), open_asks=asks))


@pytest.mark.parametrize(
    "text", ["sheet on", "blanket on", "blanket over the old fig", "put a sheet over old", "old has a blanket on"]
)
def test_a_sheet_or_blanket_told_where_one_is_asked_for_is_that_answer_whatever_else_is_asked(text: str) -> None:
    for asks in ((BLANKET,), (BLANKET, WRAP)):
        reply = said(text, *asks)
        assert isinstance(reply, Understood), reply
        assert [(one.verb, one.trees, one.ask_key) for one in reply.meanings] == [(Verb.BLANKETED, (OLD,), BLANKET.key)]


@pytest.mark.parametrize("text", ["done", "covered", "covered old"])
def test_done_and_covered_are_what_was_asked_for(text: str) -> None:
    reply = said(text, BLANKET)
    assert isinstance(reply, Understood), reply
    assert [one.verb for one in reply.meanings] == [Verb.BLANKETED]


def test_a_wrap_told_is_a_wrap_even_where_a_blanket_was_asked_for() -> None:
    reply = said("wrapped old", BLANKET)
    assert isinstance(reply, Understood), reply
    assert [one.verb for one in reply.meanings] == [Verb.WRAPPED]


@pytest.mark.parametrize("text", ["blanket over the old fig", "threw a sheet over old"])
def test_unasked_a_blanket_may_be_for_the_night_or_the_cover_of_the_winter_and_is_asked_about(text: str) -> None:
    reply = said(text)
    assert isinstance(reply, Ambiguous), reply
    assert [one.meanings[0].verb for one in reply.choices] == [Verb.BLANKETED, Verb.WRAPPED]


@pytest.mark.parametrize("text", ["covered old", "covered"])
def test_unasked_nobody_is_taken_to_mean_a_blanket(text: str) -> None:
    reply = said(text)
    verbs = (
        [one.verb for one in reply.meanings] if isinstance(reply, Understood)
        else [one.verb for choice in getattr(reply, "choices", ()) for one in choice.meanings]
    )  # fmt: skip
    assert Verb.BLANKETED not in verbs


@pytest.mark.parametrize(
    "text", ["no blanket over old yet", "is the blanket on old?", "should i put a blanket over old"]
)
def test_a_denial_or_a_question_puts_no_blanket_on_record(text: str) -> None:
    reply = said(text, BLANKET)
    assert not isinstance(reply, Understood) or all(one.verb is not Verb.BLANKETED for one in reply.meanings)
