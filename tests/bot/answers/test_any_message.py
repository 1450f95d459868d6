"""Whatever a phone sends is answered or let pass, and nothing of it breaks the reply path."""

import random
from pathlib import Path

import pytest

from bot.replies import Ambiguous, NotUnderstood, Understood, parse_reply
from tests.bot.answers.any_messages import AnyMessages
from tests.bot.answers.message_batch import Batch
from tests.bot.replies.test_replies_phrases import SCENES


def test_of_arbitrary_messages_none_is_a_fault(tmp_path: Path) -> None:
    batch = Batch(tmp_path, seed=8)
    try:
        assert batch.run(60) == []
    finally:
        batch.logbook.close()
    assert batch.sent > 15  # they were read and answered, not let pass


@pytest.mark.parametrize("scene", ["quiet", "two", "open"])
def test_arbitrary_texts_are_read_or_asked_about(scene: str) -> None:
    messages = AnyMessages(random.Random(scene))
    for _ in range(100):
        text = messages.text()
        assert isinstance(parse_reply(text, SCENES[scene]), Understood | Ambiguous | NotUnderstood), text


@pytest.mark.parametrize(
    "text",
    [
        "does remove lids tomorow november tomorrow",
        "porch cover is on' OR 1=1 --",
        "took the caps off' OR 1=1 --removed the cover of the porch",
        "'took the caps off'",
    ],
)
def test_a_turn_of_phrase_does_not_grow_together_with_what_stands_beside_it(text: str) -> None:
    assert isinstance(parse_reply(text, SCENES["close"]), Understood | Ambiguous | NotUnderstood)
