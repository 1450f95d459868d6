"""A way that was asked for today is not priced anew at the next look: what paid in it at breakfast pays at noon."""

from dataclasses import replace

import numpy as np
import pytest

from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from rules.plan.certainty.staying import stays
from rules.plan.decision import choose, second_best
from rules.plan.prices import PlanPrices
from tests.rules.plan.plan_gardens import days_of_air, forecast_of, plan_of, situation
from tests.rules.plan.test_plan_search import one_night

ONE_TRIP = PlanPrices(visit=1.0)
ROOM = np.array([600.0])


# of ten trips each tenth of chance is one: the work costs 0.5, the way one more
@pytest.mark.parametrize(("chance", "asked_before", "shuts"), [
    (0.3, False, True), (0.1, False, False), (0.1, True, True), (0.02, True, False), (0.02, False, False),
])  # fmt: skip
def test_the_way_once_asked_for_is_free_and_the_work_is_not(chance: float, asked_before: bool, shuts: bool) -> None:
    stakes = one_night(chance, saves=10.0, price=0.5)
    choice = choose(stakes, 1, ONE_TRIP, ROOM, np.array([asked_before]))
    assert bool(choice.settled[0, 0] == 2) is shuts
    other = second_best(stakes, choice, 0, ONE_TRIP)
    assert other is not None
    assert other[1] >= 0.0  # what is advised is the cheapest by the same price
    assert not (stays(stakes, ONE_TRIP, asked=asked_before) and shuts)


def test_a_mild_night_asks_for_nothing_whatever_was_asked_before() -> None:
    mild = situation(forecast_of(days_of_air([4.0] * 4, [12.0] * 4)), state=CoverState.VENTED)
    assert plan_of([replace(mild, asked=True)]).acts == ()


def test_opening_was_not_asked_for_and_pays_its_way() -> None:
    """The ask is to shut; a cover that should rather be opened is weighed as ever."""
    warm = situation(forecast_of(days_of_air([8.0] * 6, [20.0] * 6)), state=CoverState.CLOSED)
    as_ever, asked = plan_of([warm]), plan_of([replace(warm, asked=True)])
    assert [(act.kind, act.by_utc) for act in as_ever.acts] == [(act.kind, act.by_utc) for act in asked.acts]
    assert all(act.kind is not DeedKind.CLOSED for act in asked.acts)
