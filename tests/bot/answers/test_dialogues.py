"""A yes-or-no question of ours: what answers it, and what leaves it waiting."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from bot.answers.dialogues import Chat, DialogueAnswer, close, confirm, is_yes, tapped, typed, waiting
from bot.logbook import open_logbook

NOW = datetime(2026, 1, 14, 16, tzinfo=UTC)


@pytest.fixture
def chat() -> Iterator[Chat]:
    logbook = open_logbook("sqlite://")
    with logbook.begin() as c:
        yield Chat(c=c, garden="Larkmoor", chat_id=7, update_id=41, at_utc=NOW)
    logbook.close()


def asked(chat: Chat) -> str:
    """Asks whether to remove a tree; the data of the button that says so."""
    return confirm(chat, "remove tree", "Remove", "Leave it", {"tree": "Porch fig"})[0].data


@pytest.mark.parametrize(
    ("said", "sure"),
    [("yes", True), ("Y", True), ("remove", True), ("1", True), ("no", False), ("leave it", False), ("2", False)],
)
def test_a_plain_word_the_words_of_a_button_or_its_number_answer_it(chat: Chat, said: str, sure: bool) -> None:
    asked(chat)
    dialogue = waiting(chat)
    assert dialogue is not None
    assert dialogue.draft == {"tree": "Porch fig"}
    assert is_yes(chat, typed(dialogue, said)) is sure
    assert waiting(chat) is None


def test_anything_else_answers_nothing_and_the_question_waits_on(chat: Chat) -> None:
    asked(chat)
    dialogue = waiting(chat)
    assert dialogue is not None
    assert is_yes(chat, typed(dialogue, "yes, if it rains")) is None
    assert waiting(chat) == dialogue


def test_a_tap_on_an_older_question_of_the_same_chat_answers_nothing(chat: Chat) -> None:
    older = asked(chat)
    newer = asked(replace(chat, update_id=42))
    assert tapped(waiting(chat), older) is None
    assert tapped(waiting(chat), newer) == DialogueAnswer(value="yes")


def test_a_question_waits_in_its_own_chat_for_a_day_and_no_longer(chat: Chat) -> None:
    asked(chat)
    assert waiting(replace(chat, chat_id=8)) is None
    assert waiting(replace(chat, at_utc=NOW + timedelta(hours=24))) is not None
    assert waiting(replace(chat, at_utc=NOW + timedelta(hours=25))) is None
    close(chat)
    assert waiting(chat) is None
