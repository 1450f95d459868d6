"""Whole winters replayed: our plan against plain rules and against one who knows the weather, on the same draws."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest.living import Decide, Lived, lived
from rules.backtest.our_plan import OurPlan
from rules.backtest.plain_rules import (
    THRESHOLDS_C,
    TUNED,
    ByWay,
    as_taught,
    by_calendar,
    by_threshold,
    never,
    weather_known,
)
from rules.backtest.winters import Garden, Truth, drawn_truth, garden_of, winters_of
from rules.garden.cover import Cover
from rules.garden.tree import Site, Tree
from rules.plan.prices import ASSUMED, PlanPrices
from rules.weather.daily_minima import DailyMinima

Floats = npt.NDArray[np.float64]

NOTHING_TO_SAVE: Final = 0.02  # share of the wood: less than this a cover cannot be said to save


class Rule(StrEnum):
    """The rules that are compared."""

    PLAN = "our plan"
    TUNED = "wrap, shut, strip by margins, tuned in hindsight"
    TAUGHT = "open top, shut before each frost"
    THRESHOLD = "best fixed threshold, in hindsight"
    CALENDAR = "covered November to April"
    NEVER = "never cover"
    KNOWN = "weather known, same doubts"


class Verdict(StrEnum):
    """What the winters say of covering a tree at all."""

    HELPS = "a cover helps"
    NOT_NEEDED = "no cover is needed"
    CANNOT_SAVE = "no cover pays"


@dataclass(frozen=True, kw_only=True)
class Scored:
    """One rule at one tree, means per winter.

    `cost` [trips] in all; `lost` share of the wood; `trips` visits. `missed` of `killing` nights, in all winters, would
    have killed half the wood under an open cap and hardly any under a shut one, and met it open. `regret` cost over
    that of one who knows the weather, `regret_se` its standard error over the winters [trips]. `savable` share of the
    wood that one saves whom the weather is known to; None where that is next to nothing.
    """

    rule: Rule
    tree: str
    cost: float
    lost: float
    trips: float
    killing: int
    missed: int
    regret: float
    regret_se: float
    savable: float | None


@dataclass(frozen=True, kw_only=True)
class Replay:
    """What a replay found: a row per rule and tree, what it says of each tree, and how good its daily heat is.

    `heat_rms_c` is the largest distance of any cover's daily heat from the full balance [°C].
    """

    years: tuple[int, ...]
    shift_c: float
    seed: int
    rows: tuple[Scored, ...]
    verdicts: dict[str, Verdict]
    heat_rms_c: float


@dataclass(frozen=True, kw_only=True)
class Progress:
    """How far a replay is: nights played of all; `found` at the very end."""

    done: int
    total: int
    found: Replay | None = None


def replay(
    trees: Sequence[tuple[Tree, Cover]],
    site: Site,
    past: DailyMinima,
    *,
    seed: int,
    shift_c: float = 0.0,
    prices: PlanPrices = ASSUMED,
) -> Iterator[Progress]:
    """Past winters replayed with forecasts as wrong as published ones, each tree a garden of its own.

    Parameters
    ----------
    trees
        Trees with their covers; all begin bare in September, and covers come off when a rule says so.
    site, past
        Where, and its daily extremes; maxima are needed.
    seed
        Of the draws: forecast errors, true site offset, cover, hardiness and rates of each tree and winter. The same
        seed gives the same table.
    shift_c
        Added to every day, for a milder place than the record's; the wood follows.
    prices
        Prices, the same for all rules.

    Yields
    ------
    Progress
        After each night, and at the end with what was found.

    Raises
    ------
    ValueError
        A record without maxima or without a whole winter.
    """
    winters = winters_of(past, site, shift_c)
    garden = garden_of(trees, site, winters, winters_of(past, site))
    truth = drawn_truth(garden, np.random.default_rng(seed))
    deciders = _deciders(garden, truth, prices)
    total, done = len(deciders) * winters.nights, 0
    outcomes: dict[Rule, list[Lived]] = {}
    for rule, decide in deciders:
        for outcome in lived(garden, truth, decide(), prices):
            done += outcome is None
            yield Progress(done=done, total=total)
            if outcome is not None:
                outcomes.setdefault(rule, []).append(outcome)
    rows = _rows(garden, outcomes)
    verdicts = {tree.name: _verdict(tree.name, rows) for tree in garden.trees}
    rms_c = max(float(one.rms_c.max()) for one in garden.heat)
    found = Replay(years=winters.years, shift_c=shift_c, seed=seed, rows=rows, verdicts=verdicts, heat_rms_c=rms_c)
    yield Progress(done=total, total=total, found=found)


def _deciders(garden: Garden, truth: Truth, prices: PlanPrices) -> list[tuple[Rule, Callable[[], Decide]]]:
    """Every rule to play; those chosen in hindsight come with all their candidates."""

    def threshold(c: float) -> Callable[[], Decide]:
        return lambda: by_threshold(garden, truth, c)

    return [
        (Rule.PLAN, lambda: OurPlan(garden, truth, prices)),
        *((Rule.TUNED, ByWay(garden, truth, way).decide) for way in TUNED),
        (Rule.TAUGHT, lambda: as_taught(garden, truth)),
        *((Rule.THRESHOLD, threshold(c)) for c in THRESHOLDS_C),
        (Rule.CALENDAR, by_calendar),
        (Rule.NEVER, lambda: never),
        (Rule.KNOWN, lambda: weather_known(garden, prices)),
    ]


def _rows(garden: Garden, outcomes: dict[Rule, list[Lived]]) -> tuple[Scored, ...]:
    count, rows = len(garden.winters.years), []
    for i, tree in enumerate(garden.trees):
        lanes = slice(i * count, (i + 1) * count)
        best = {rule: min(each, key=lambda one: float(one.cost[lanes].mean())) for rule, each in outcomes.items()}
        rows += [_scored(rule, tree, best, lanes) for rule in Rule]
    return tuple(rows)


def _scored(rule: Rule, tree: Tree, best: dict[Rule, Lived], lanes: slice) -> Scored:
    one, known, bare = best[rule], best[Rule.KNOWN], best[Rule.NEVER]
    over = one.cost[lanes] - known.cost[lanes]
    saved, savable = (float((bare.lost[lanes] - who.lost[lanes]).mean()) for who in (one, known))
    return Scored(
        rule=rule,
        tree=tree.name,
        cost=float(one.cost[lanes].mean()),
        lost=float(one.lost[lanes].mean()),
        trips=float(one.trips[lanes].mean()),
        killing=int(one.killing[lanes].sum()),
        missed=int(one.missed[lanes].sum()),
        regret=float(over.mean()),
        regret_se=float(over.std() / np.sqrt(max(1, len(over) - 1))),
        savable=saved / savable if savable > NOTHING_TO_SAVE else None,
    )


def _verdict(tree: str, rows: Sequence[Scored]) -> Verdict:
    bare, ours = (next(row for row in rows if row.tree == tree and row.rule is rule)
                  for rule in (Rule.NEVER, Rule.PLAN))  # fmt: skip
    if bare.lost - ours.lost > NOTHING_TO_SAVE:
        return Verdict.HELPS
    return Verdict.NOT_NEEDED if bare.lost < 1.0 / 4 else Verdict.CANNOT_SAVE
