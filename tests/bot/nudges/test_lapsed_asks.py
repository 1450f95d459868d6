"""Asks the plan drops though the night is as cold as told: each taken back once, softly, for the trees left alone."""

from collections.abc import Sequence
from dataclasses import replace

from bot.nudges import DueNudge, NudgeState, PastNudge, Stage, nudges_due
from tests.bot.nudges.test_nudges import DAY, QUIET, act, at, due, said_of

SIX = [act(f"T{i}", chance=chance) for i, chance in enumerate((0.9, 0.9, 0.8, 0.7, 0.7, 0.4))]
FIVE_SHUT = {(one.tree, DAY): 0.02 for one in SIX[:5]}


def asked(hour: float = 9, said: Sequence[PastNudge] = ()) -> PastNudge:
    (nudge,) = due(SIX, list(said), at(hour))
    return replace(said_of(nudge, at(hour)), chances={one.tree: one.chance for one in SIX})


def heard(
    said: Sequence[PastNudge], chance: float, hour: float = 12, weighed: Sequence[str] = ("T5",)
) -> list[DueNudge]:
    """What is due when nothing is wanted: five of six are shut, the last one has this chance of harm."""
    return nudges_due([], said, [], FIVE_SHUT | {("T5", DAY): chance}, QUIET, at(hour), lambda: weighed)


def test_of_six_trees_of_which_five_were_shut_the_sixth_is_named_without_a_ring() -> None:
    (lapsed,) = heard([asked()], 0.4)
    assert (lapsed.stage, lapsed.trees, lapsed.lapsed, lapsed.silent) == (Stage.STAND_DOWN, ("T5",), True, True)
    assert lapsed.edits is None  # an ask that rang is not changed unseen


def test_a_tree_is_held_to_the_chance_told_of_it_not_to_the_worst_of_its_ask() -> None:
    """Four in ten as told is no good news, though it is less than half of the nine in ten told of another."""
    assert [one.lapsed for one in heard([asked()], 0.3)] == [True]
    assert [one.lapsed for one in heard([asked()], 0.2)] == [False]


def test_nothing_is_said_where_it_is_not_known_that_it_was_weighed() -> None:
    assert heard([asked()], 0.4, weighed=()) == []


def test_an_ask_and_its_last_call_are_taken_back_in_one_message_and_never_twice() -> None:
    first = asked()
    said = [first, asked(15.6, [first])]
    (lapsed,) = heard(said, 0.4, 15.7)
    assert lapsed.settles == tuple(one.key for one in said)
    settled = [replace(one, state=NudgeState.STOOD_DOWN) for one in said]
    assert heard([*settled, said_of(lapsed, at(15.7))], 0.4, 16) == []


def test_a_word_without_a_ring_takes_up_none_of_the_three_of_a_night() -> None:
    (lapsed,) = heard([asked()], 0.4)
    soft = [replace(said_of(lapsed, at(12)), key=str(i)) for i in range(3)]
    assert due([act()], soft, at(15.6)) != []
