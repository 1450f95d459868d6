"""Every course of cover states tried one by one, in plain scalar arithmetic: what the plan's search must find."""

from collections.abc import Sequence
from itertools import product
from math import erf, sqrt

import numpy as np

from rules.plan.stakes import Stakes
from rules.wood.injury import REPEAT_SHARE, TIP_SHARE
from rules.wood.night_losses import OFF_C

Course = tuple[int, ...]


def course_cost(stakes: Stakes, tree: int, member: int, course: Course) -> float:
    """Cost of one course of one tree under one member, visits left out [trips]."""
    moved, cost, before = np.zeros(stakes.nodes_c.shape[-1]), 0.0, int(stakes.state[tree])
    lost, softer_c = float(stakes.lost[tree]), 0.0
    for slot, state in enumerate(course):
        nodes = stakes.nodes_c[tree, member, slot]
        cost += float(stakes.work[tree, slot, before, state])
        moved = moved + nodes[before] - nodes[state]
        shift = float(moved @ stakes.tissue[tree, slot, state])
        half, width = float(stakes.lt50_c[tree, slot]) + softer_c, float(stakes.width_c[tree, slot, state])
        middle = float(stakes.middle_c[tree, member, slot, state]) + shift
        tip = float(stakes.tip_c[tree, member, slot, state]) + shift * float(stakes.tip_keeps[tree, state])
        after = 0.0
        for by in (-float(stakes.unforeseen_c[tree, slot, state]), float(stakes.unforeseen_c[tree, slot, state])):
            shares = [_normal((half - one - by) / width) * min(max(-0.5 - one - by, 0.0), 1.0) for one in (middle, tip)]
            tonight = (1 - TIP_SHARE) * shares[0] + TIP_SHARE * shares[1]
            more, less = max(lost, tonight), min(lost, tonight)
            after += (more + REPEAT_SHARE * less * (1 - more)) / 2
        cost += float(stakes.worth[tree]) * (after - lost) + float(stakes.standing_cost[tree, member, slot, state])
        softer_c += float(stakes.softens_c[tree, slot, state])
        moved, lost, before = stakes.fades[tree, slot, state] @ moved, after, state
    by_off = [np.interp(lost, np.linspace(0, 1, len(row)), row) for row in stakes.tail[tree, before]]
    return cost + float(np.interp(stakes.tail_off_c[tree] + softer_c, OFF_C, by_off))


def _normal(z: float) -> float:
    return 0.5 * (1 + erf(z / sqrt(2)))


def visit_slots(state: int, course: Course) -> set[int]:
    """Slots at which a course changes the state."""
    before = (state, *course[:-1])
    return {slot for slot, (a, b) in enumerate(zip(before, course, strict=True)) if a != b}


def joint_cost(stakes: Stakes, member: int, courses: Sequence[Course], visit: float) -> float:
    """Cost of one course per tree under one member, each visit paid once [trips]."""
    visited = set().union(*(visit_slots(int(stakes.state[i]), course) for i, course in enumerate(courses)))
    return visit * len(visited) + sum(course_cost(stakes, i, member, course) for i, course in enumerate(courses))


def best_by_first_act(stakes: Stakes, visit: float, states: Sequence[int] = (1, 2)) -> dict[Course, float]:
    """Mean over the members of each one's cheapest joint course, by the joint act at the first slot [trips]."""
    trees, members, slots = stakes.shape
    courses = list(product(states, repeat=slots))
    found: dict[Course, float] = dict.fromkeys(product(states, repeat=trees), 0.0)
    for member in range(members):
        alone = [[course_cost(stakes, tree, member, course) for course in courses] for tree in range(trees)]
        visits = [[visit_slots(int(stakes.state[tree]), course) for course in courses] for tree in range(trees)]
        cheapest: dict[Course, float] = {}
        for pick in product(range(len(courses)), repeat=trees):
            first = tuple(courses[i][0] for i in pick)
            visited = set().union(*(visits[tree][i] for tree, i in enumerate(pick)))
            cost = visit * len(visited) + sum(alone[tree][i] for tree, i in enumerate(pick))
            cheapest[first] = min(cost, cheapest.get(first, np.inf))
        for first in found:
            found[first] += cheapest[first] / members
    return found
