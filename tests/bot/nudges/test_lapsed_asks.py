"""Asks the plan drops though the night is as cold as told: what rang stands, what was written softly is taken back."""

from collections.abc import Sequence
from dataclasses import replace

import pytest

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


def written(hour: float = 9) -> PastNudge:
    """An ask that did not ring: it most likely does no harm."""
    return replace(asked(hour), silent=True)


@pytest.mark.parametrize("chance", [0.4, 0.3, 0.2, 0.11])
def test_of_six_trees_of_which_five_were_shut_the_ask_for_the_sixth_stands(chance: float) -> None:
    """Four in ten was told of it at breakfast: neither the trip saved nor some less cold is news at noon.

    At two in ten, half of what was told, no grower calls the night safe.
    """
    assert heard([asked()], chance) == []


def test_a_clearly_milder_night_takes_an_ask_back_and_its_last_call_with_it_in_one_message() -> None:
    first = asked()
    said = [first, asked(15.6, [first])]
    (over,) = heard(said, 0.09, 15.7)
    assert (over.lapsed, over.silent) == (False, False)
    assert over.settles == tuple(one.key for one in said)
    settled = [replace(one, state=NudgeState.STOOD_DOWN) for one in said]
    assert heard([*settled, said_of(over, at(15.7))], 0.09, 16) == []


def test_what_was_written_without_a_ring_is_taken_back_without_one() -> None:
    (lapsed,) = heard([written()], 0.4)
    assert (lapsed.stage, lapsed.trees, lapsed.lapsed, lapsed.silent) == (Stage.STAND_DOWN, ("T5",), True, True)


def test_a_tree_is_held_to_the_chance_told_of_it_not_to_the_worst_of_its_ask() -> None:
    """Four in ten as told is no good news, though it is less than half of the nine in ten told of another."""
    assert [one.lapsed for one in heard([written()], 0.3)] == [True]
    assert [one.lapsed for one in heard([written()], 0.2)] == [False]


def test_nothing_is_said_where_it_is_not_known_that_it_was_weighed() -> None:
    assert heard([written()], 0.4, weighed=()) == []


def test_a_word_without_a_ring_takes_up_none_of_the_three_of_a_night() -> None:
    (lapsed,) = heard([written()], 0.4)
    soft = [replace(said_of(lapsed, at(12)), key=str(i)) for i in range(3)]
    assert due([act()], soft, at(15.6)) != []
