"""How many are done or left and not which: nothing is noted, and which one it is is asked."""

import pytest

from bot.replies import parse_reply
from tests.bot.replies.test_replies_fresh_ears import heard, noted
from tests.bot.replies.test_replies_phrases import written

ASKED = heard({"at": "2026-01-18T16:55", "asked": "closed: Porch fig, Wall fig, Kaki"})


@pytest.mark.parametrize("said", ["all but one", "one to go", "one left", "everything except one."])
def test_who_says_that_one_is_left_is_asked_which(said: str) -> None:
    assert noted(said, ASKED) == ""
    assert (
        written(parse_reply(said, ASKED))
        == "? closed Wall fig, Kaki | closed Porch fig, Kaki | closed Porch fig, Wall fig"
    )


@pytest.mark.parametrize("said", ["one down, two to go", "task 1 of 3 complete"])
def test_who_says_that_one_is_done_is_asked_which(said: str) -> None:
    assert written(parse_reply(said, ASKED)) == "? closed Porch fig | closed Wall fig | closed Kaki"
