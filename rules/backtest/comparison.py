"""Whole winters replayed: our plan against simpler rules and against perfect foresight, on the same draws."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest.our_plan import OurPlan
from rules.backtest.plain_rules import (
    Decide,
    Lived,
    always,
    by_calendar,
    by_threshold,
    foresight,
    lived,
    never,
    weather_foresight,
)
from rules.backtest.reduced_heat import ReducedHeat
from rules.backtest.winters import Garden, Truth, drawn_truth, garden_of, heats_of, winters_of
from rules.garden.cover import Cover
from rules.garden.tree import Site, Tree
from rules.plan.prices import ASSUMED, PlanPrices
from rules.weather.daily_minima import DailyMinima

Floats = npt.NDArray[np.float64]

COVER_NIGHTS: Final = (14, 30, 45, 60, 75)  # 15 October, 31 October, 15 November, 30 November, 15 December
STRIP_NIGHTS: Final = (151, 165, 182, 196, 211)  # 1 and 15 March, 1 and 15 April, 30 April
MID_NOVEMBER, MID_APRIL = 45, 196
THRESHOLDS_C: Final = tuple(np.arange(-24.0, 3.0, 1.0).tolist())  # tried for the best one in hindsight


class Rule(StrEnum):
    """The rules that are compared."""

    PLAN = "our plan"
    THRESHOLD = "best fixed threshold, in hindsight"
    MID_NOVEMBER = "cover mid-November, strip mid-April"
    CALENDAR = "best calendar rule, in hindsight"
    NEVER = "never cover"
    ALWAYS = "always closed"
    WEATHER_FORESIGHT = "perfect weather, doubts as stated"
    FORESIGHT = "perfect foresight"


@dataclass(frozen=True, kw_only=True)
class Scored:
    """One rule at one tree, means per winter.

    `cost` [trips] with `expected_loss` [trips] of wood in it; `lost` share of the wood; `trips` visits. `missed` of
    `killing` nights, in all winters, would have killed half the wood under an open cap and hardly any under a shut one,
    and met it open.
    `false_calls` closings that no such night followed. `multiple` cost over that of perfect foresight; `value` 0 for
    the best calendar rule in hindsight, 1 for perfect foresight; both None where those two cost alike.
    """

    rule: Rule
    tree: str
    cost: float
    expected_loss: float
    lost: float
    trips: float
    killing: int
    missed: int
    false_calls: float
    multiple: float | None
    value: float | None


@dataclass(frozen=True, kw_only=True)
class Replay:
    """What a replay found: a row per rule and tree, and how well the reduced heat follows the full one.

    `heat_rms_c` is the largest distance of any cover's reduced heat from the full balance [°C].
    """

    years: tuple[int, ...]
    shift_c: float
    seed: int
    rows: tuple[Scored, ...]
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
    heat: Sequence[ReducedHeat] | None = None,
) -> Iterator[Progress]:
    """Past winters replayed with forecasts as wrong as published ones, each tree a garden of its own.

    Parameters
    ----------
    trees
        Trees with their covers; all begin bare on 1 October and are stripped by 30 April.
    site, past
        Where, and its daily extremes; maxima are needed.
    seed
        Of the draws: forecast errors, true site offset, cover and hardiness of each tree and winter. The same seed
        gives the same table.
    shift_c
        Added to every day, for a milder place than the record's; the wood keeps the record's own season.
    prices
        Prices, the same for all rules.
    heat
        Of each tree's cover, where another replay has fitted it already; None fits it now, a few seconds each.

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
    heat = heats_of(trees, site, winters) if heat is None else heat
    garden = garden_of(trees, site, winters, heat, prices)
    truth = drawn_truth(garden, prices, np.random.default_rng(seed))
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
    rms_c = max(float(one.rms_c.max()) for one in heat)
    found = Replay(years=winters.years, shift_c=shift_c, seed=seed, rows=rows, heat_rms_c=rms_c)
    yield Progress(done=total, total=total, found=found)


def _deciders(garden: Garden, truth: Truth, prices: PlanPrices) -> list[tuple[Rule, Callable[[], Decide]]]:
    """Every rule to play; those chosen in hindsight come with all their candidates."""
    everywhere = np.ones(garden.lanes)

    def threshold(c: float) -> Callable[[], Decide]:
        return lambda: by_threshold(garden, truth, c * everywhere, c * everywhere)

    def calendar(cover: int, strip: int) -> Callable[[], Decide]:
        return lambda: by_calendar(cover, strip)

    dates = [(cover, strip) for cover in COVER_NIGHTS for strip in STRIP_NIGHTS]
    return [
        (Rule.PLAN, lambda: OurPlan(garden, truth, prices)),
        *((Rule.THRESHOLD, threshold(c)) for c in THRESHOLDS_C),
        (Rule.MID_NOVEMBER, calendar(MID_NOVEMBER, MID_APRIL)),
        *((Rule.CALENDAR, calendar(*pair)) for pair in dates),
        (Rule.NEVER, lambda: never),
        (Rule.ALWAYS, lambda: always),
        (Rule.WEATHER_FORESIGHT, lambda: weather_foresight(garden, truth, prices)),
        (Rule.FORESIGHT, lambda: foresight(garden, truth, prices)),
    ]


def _rows(garden: Garden, outcomes: dict[Rule, list[Lived]]) -> tuple[Scored, ...]:
    outcomes = {**outcomes, Rule.CALENDAR: [one for rule in _CALENDARS for one in outcomes[rule]]}
    count, rows = len(garden.winters.years), []
    for i, tree in enumerate(garden.trees):
        lanes = slice(i * count, (i + 1) * count)
        best = {rule: min(each, key=lambda one: float(one.cost[lanes].mean())) for rule, each in outcomes.items()}
        calendar, perfect = (float(best[rule].cost[lanes].mean()) for rule in (Rule.CALENDAR, Rule.FORESIGHT))
        rows += [_scored(rule, tree, best[rule], lanes, calendar, perfect) for rule in Rule]
    return tuple(rows)


_CALENDARS: Final = (Rule.CALENDAR, Rule.MID_NOVEMBER, Rule.NEVER, Rule.ALWAYS)


def _scored(rule: Rule, tree: Tree, outcome: Lived, lanes: slice, calendar: float, perfect: float) -> Scored:
    cost, lost = float(outcome.cost[lanes].mean()), float(outcome.lost[lanes].mean())
    apart = calendar - perfect
    return Scored(
        rule=rule,
        tree=tree.name,
        cost=cost,
        expected_loss=lost * tree.worth_trips,
        lost=lost,
        trips=float(outcome.trips[lanes].mean()),
        killing=int(outcome.killing[lanes].sum()),
        missed=int(outcome.missed[lanes].sum()),
        false_calls=float(outcome.false_calls[lanes].mean()),
        multiple=cost / perfect if perfect > 0 else None,
        value=(calendar - cost) / apart if apart > 0.01 else None,
    )
