"""Speed of the plan, and the search against brute force: `python -m tests.benchmarks.plan_speed [cases]`.

Seconds are of the processor, as the machine may be shared.
"""

import sys
import time
from dataclasses import replace

import numpy as np

from rules.garden.cover import Cover
from rules.garden.tree import Standing
from rules.plan.decision import choose
from rules.plan.garden_plan import plan
from rules.plan.search import answers
from tests.rules.plan.grower.test_stopgap import in_leaf
from tests.rules.plan.plan_brute_force import best_by_first_act
from tests.rules.plan.plan_gardens import SITE, days_of_air, forecast_of, heat_of, plan_of, situation
from tests.rules.plan.test_plan_search import EXACT, found_cost, random_stakes, states_of

LOWS = (-3.0, -4.0, -5.0, -9.0, -14.0, -8.0, -3.0, 0.0, 2.0, 1.0)
HIGHS = (5.0, 4.0, 2.0, -2.0, -4.0, 2.0, 6.0, 9.0, 11.0, 12.0)


def seconds(trees: int, members: int, days: int, standings: int = 1) -> float:
    lows, highs = ([*row, *row][:days] for row in (LOWS, HIGHS))
    forecast = forecast_of(days_of_air(lows, highs))
    ways = list(Standing)[:standings]
    first = {way: situation(forecast, standing=way, count=members).weather for way in ways}
    garden = []
    for i in range(trees):
        one = situation(
            forecast, name=f"tree {i}", cover=Cover(name=f"cover {i}"), standing=ways[i % standings], count=2
        )
        garden.append(one.__class__(**{**one.__dict__, "weather": first[ways[i % standings]]}))
    took = []
    for _ in range(3):
        began = time.process_time()
        plan_of(garden)
        took.append(time.process_time() - began)
    return min(took)


def with_blankets() -> tuple[float, float]:
    """Bare trees in leaf through a week of light frosts, without blankets and with them weighed, heat left out."""
    garden, times = in_leaf([-1.5, -2.0, 1.0, 2.0, -2.5, 3.0, 1.0, 0.0, -1.0], trees=6)
    courses, found = heat_of(garden, times), []
    for each in ([replace(one, blanket_c=None) for one in garden], garden):
        took = []
        for _ in range(3):
            began = time.process_time()
            plan(each, courses, times, SITE)
            took.append(time.process_time() - began)
        found.append(min(took))
    return found[0], found[1]


def against_brute_force(trees: int, nights: int, seeds: range) -> None:
    same, worst, over = 0, 0.0, 0
    for seed in seeds:
        stakes, room = random_stakes(seed, trees, nights)
        choice, truth = choose(stakes, 1, EXACT, room), best_by_first_act(stakes, EXACT.visit, states_of(stakes))
        first, best = tuple(int(s) for s in choice.settled[:, 0]), min(truth.values())
        gap = max(truth[first], found_cost(stakes, choice)) / best - 1
        same, worst, over = same + (truth[first] == best), max(worst, gap), over + (gap > 0.01)
    print(f"{trees} tree(s), {nights} nights, {len(seeds)} cases: same {same}, worst {worst:.2%}, over 1 %: {over}")


def beam_against_wide(cases: int) -> None:
    gaps = []
    for seed in range(cases):
        stakes, _ = random_stakes(3000 + seed, 1, 8)
        visits, nothing = np.ones(stakes.shape), np.empty((1, 0), dtype=np.int64)
        narrow, wide = (answers(stakes, visits, nothing, *beam).cost.mean(axis=1)[0, 1:] for beam in ((), (60,)))
        gaps.append(narrow.min() / wide.min() - 1)
    print(f"8 days, beam against one of 60: mean {np.mean(gaps):.3%}, worst {np.max(gaps):.2%} of {cases}")


if __name__ == "__main__":
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for trees, members, days, standings in (
        (6, 31, 10, 1), (6, 31, 10, 4), (1, 31, 10, 1), (12, 31, 10, 1), (6, 15, 10, 1), (6, 62, 10, 1), (6, 31, 5, 1),
        (6, 31, 15, 1), (100, 31, 10, 3),
    ):  # fmt: skip
        took = seconds(trees, members, days, standings)
        print(f"{trees:4} trees, {members} members, {days} days, {standings} standing(s): {took:.2f} s")
    without, weighed = with_blankets()
    print(f"   6 bare trees in leaf, 31 members, 10 days, without heat: {without:.2f} s, with blankets {weighed:.2f} s")
    against_brute_force(1, 3, range(1000, 1000 + cases * 3 // 5))
    against_brute_force(2, 2, range(2000, 2000 + cases * 2 // 5))
    beam_against_wide(60)
