"""Where savable wood goes: `nice python -m tests.benchmarks.savable_causes "high plains" 11 301`.

Three courses a winter: our plan's, our plan's had every forecast been right for nine days, and that of one who knows
the weather. None of them sees what is true of site, cover and wood, so each is met by TRUTHS drawn truths of its
winter, and a figure does not hang on one draw. Wood lost against one who knows the weather is laid to what differed in
the night that took it; what a cover still holds from before a change is left out of that.
"""

import sys
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from rules.backtest.living import Decide, Lived, _Side, lived
from rules.backtest.our_plan import OurPlan
from rules.backtest.plain_rules import never, weather_known
from rules.backtest.winters import FIRST_DAY, Garden, Truth, drawn_truth, garden_of, winters_of
from rules.garden.cover import Cover
from rules.garden.tree import Tree
from rules.plan.prices import ASSUMED
from rules.plan.season.forecast_errors import LEADS
from tests.benchmarks.backtest_table import CLIMATES, record

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

TRUTHS = 10
ALL_BUT_SURE_C = 0.2  # of a forecast that is right
CAUSES = ("not yet on", "off again", "top open", "the same cover", "better covered")


def once(garden: Garden, truth: Truth, decide: Decide) -> Lived:
    """One rule lived through all winters of one truth."""
    return next(done for done in lived(garden, truth, decide, ASSUMED) if done)


def again(garden: Garden, truths: Sequence[Truth], course: Ints) -> list[Lived]:
    """The same course under each truth."""
    return [once(garden, truth, lambda seen: course[:, seen.night]) for truth in truths]


def right_for_nine_days(garden: Garden, truth: Truth) -> OurPlan:
    """Our plan with forecasts that come true."""
    plan, low_c = OurPlan(garden, truth, ASSUMED), garden.winters.min_c[:, FIRST_DAY + 1 :]
    plan.best_c = np.lib.stride_tricks.sliding_window_view(low_c, LEADS, axis=1)[:, : garden.winters.nights].copy()
    plan.spread_c = np.full_like(plan.best_c, ALL_BUT_SURE_C)
    return plan


def lost_by_night(truth: Truth, course: Ints) -> Floats:
    """What each night took, shape (lanes, nights)."""
    side, before = _Side(truth.garden, truth), []
    for night, state in enumerate(course.T):
        before.append(side.lost)
        side.night(night, state, np.zeros(len(state)))
    return np.diff(np.stack([*before, side.lost], axis=1), axis=1)


def by_cause(truths: Sequence[Truth], ours: Ints, known: Ints) -> Floats:
    """Wood lost over that of one who knows the weather, by CAUSES, shape (lanes, causes)."""
    began = np.maximum.accumulate(ours > 0, axis=1)
    which = np.select([ours == known, ours > known, ~began, ours == 0], [3, 4, 0, 1], 2)
    more = np.mean([lost_by_night(one, ours) - lost_by_night(one, known) for one in truths], axis=0)
    return np.stack([np.where(which == cause, more, 0.0).sum(axis=1) for cause in range(len(CAUSES))], axis=1)


def told(name: str, ours: Sequence[Lived], known: Sequence[Lived], bare: Sequence[Lived], lanes: slice) -> str:
    """What one course comes to, means over winters and truths."""
    cost, lost, trips, lost_known, lost_bare = (
        np.mean([getattr(one, what)[lanes] for one in who], axis=0)
        for who, what in ((ours, "cost"), (ours, "lost"), (ours, "trips"), (known, "lost"), (bare, "lost"))
    )
    regret = cost - np.mean([one.cost[lanes] for one in known], axis=0)
    wood = float((lost_bare - lost).mean() / max((lost_bare - lost_known).mean(), 1e-9))
    se = regret.std() / np.sqrt(len(regret) - 1)
    return f"{name}: saved {wood:.0%} for {trips.mean():.2f} trips, dearer by {regret.mean():.2f} ± {se:.2f}"


def main() -> None:
    place, shift_c, seeds = sys.argv[1], float(sys.argv[2]), [int(seed) for seed in sys.argv[3:]]
    climate = next(one for one in CLIMATES if (one.place, one.shift_c) == (place, shift_c))
    trees = [(Tree(name=f"{s} {c}".strip(), species=s, cultivar=c), Cover(name="any")) for s, c in climate.kinds]
    site, past = record(place)
    winters = winters_of(past, site, shift_c)
    garden = garden_of(trees, site, winters, winters_of(past, site))
    right: Ints | None = None
    for seed in seeds:
        truths = [drawn_truth(garden, np.random.default_rng([seed, i])) for i in range(TRUTHS)]
        if right is None:
            right = once(garden, truths[0], right_for_nine_days(garden, truths[0])).course
        rules = (OurPlan(garden, truths[0], ASSUMED), weather_known(garden, ASSUMED), never)
        ours, known, bare = (once(garden, truths[0], rule).course for rule in rules)
        each = {id(course): again(garden, truths, course) for course in (ours, right, known, bare)}
        more = by_cause(truths, ours, known)
        for i, (tree, _) in enumerate(trees):
            lanes = slice(i * len(winters.years), (i + 1) * len(winters.years))
            others = (each[id(known)], each[id(bare)], lanes)
            print(f"\n{place} {seed} {tree.name}, knower {np.mean([one.trips[lanes] for one in others[0]]):.2f} trips")
            print(told("  our plan", each[id(ours)], *others))
            print(told("  forecasts right for nine days", each[id(right)], *others))
            parts = zip(CAUSES, more[lanes].mean(axis=0), strict=True)
            print("  wood: " + ", ".join(f"{name} {share:+.3f}" for name, share in parts), flush=True)


if __name__ == "__main__":
    main()
