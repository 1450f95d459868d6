"""How far a rule tuned in hindsight gets: `nice python -m tests.benchmarks.steering_bound "high plains" 11 301`.

A rule of fourteen numbers, wider than any way the plan knows, hears the same wrong forecasts and is tuned on the very
winters that judge it. Four tunings: to the judged draw of forecast errors and truths itself, which no policy could do;
to it with the wood worth THRICE, which tells what saving more would cost; to it with forecasts right for nine days; and
to other draws of the same winters, which is what one might reach who knows the climate by heart. No proof of what the
best policy would do: it may well do better than a rule of a few numbers.
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final
from unittest.mock import patch

import numpy as np
import numpy.typing as npt

from rules.backtest import living
from rules.backtest.living import Decide, Evening, Lived, lived
from rules.backtest.our_plan import told_c
from rules.backtest.plain_rules import never, weather_known
from rules.backtest.winters import FIRST_DAY, FeltNights, Garden, Truth, drawn_truth, felt_nights, garden_of, winters_of
from rules.garden.cover import Cover
from rules.garden.species import SpeciesRow
from rules.garden.tree import Phase, Tree
from rules.plan.prices import ASSUMED
from rules.plan.season.forecast_errors import LEADS
from rules.plan.season.ways import BARE, CLOSED, VENTED
from tests.benchmarks.backtest_table import CLIMATES, record

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

# Of each number of the rule where the search begins, and how wide it looks. Margins above the 50 % point [°C], what
# each day of lead and full leaf add to them, days of the season, share of the way to leaf-out, share held lost.
RULE: Final = {
    "wraps_c": (2.0, 2.5), "wraps_lead_c": (0.3, 0.5), "wraps_leaf_c": (0.0, 1.5), "wraps_by": (90.0, 40.0),
    "wraps_until": (200.0, 30.0), "shuts_c": (2.0, 2.5), "shuts_lead_c": (0.3, 0.5), "shuts_leaf_c": (0.0, 1.5),
    "shuts_by": (80.0, 40.0), "strips_at": (0.75, 0.2), "strips_from": (200.0, 20.0), "strips_c": (0.0, 1.5),
    "strips_lead_c": (0.0, 0.3), "gives_up_at": (0.6, 0.3),
}  # fmt: skip
THRICE: Final = 3.0
OTHERS: Final = (1, 2, 3)  # seeds of other draws
GENERATIONS: Final = 14
TRIED: Final = 60  # of each generation
KEPT: Final = 10
NARROWEST: Final = 0.03


@dataclass(frozen=True, kw_only=True, eq=False)
class World:
    """One tree's winters under one or more truths, one after the other, and what each evening is told of them.

    `told_c` in each state by lead, shape (lanes, nights, leads, states) [°C].
    """

    garden: Garden
    truth: Truth
    told_c: Floats

    @cached_property
    def felt(self) -> tuple[FeltNights, FeltNights]:
        """The nights as they are held to be felt, and as they are."""
        return felt_nights(self.garden), felt_nights(self.truth.garden, self.truth.rows)

    def lived(self, decide: Decide, times: int = 1) -> Lived:
        """One rule a copy of the winters lived through, lanes copies times winters."""
        garden = tiled(self.garden, times)
        truth = replace(
            self.truth, garden=tiled(self.truth.garden, times), rows=[*self.truth.rows] * times,
            tender_sd=np.tile(self.truth.tender_sd, times),
        )  # fmt: skip

        def felt(_: Garden, rows: list[SpeciesRow] | None) -> FeltNights:
            each = vars(self.felt[rows is not None])
            return FeltNights(**{name: np.tile(one, (times, *(1,) * (one.ndim - 1))) for name, one in each.items()})

        with patch.object(living, "felt_nights", felt):
            return next(done for done in lived(garden, truth, decide, ASSUMED) if done)


def tiled(garden: Garden, times: int) -> Garden:
    """The same winters so many times over."""
    winters = garden.winters
    many = replace(
        winters, years=winters.years * times, min_c=np.tile(winters.min_c, (times, 1)),
        max_c=np.tile(winters.max_c, (times, 1)),
    )  # fmt: skip
    return replace(
        garden, winters=many, warmer_c=np.tile(garden.warmer_c, (times, 1)),
        wood_shift_c=np.tile(garden.wood_shift_c, (times, 1)), site_sd_c=np.tile(garden.site_sd_c, times),
        cover_sd_c=np.tile(garden.cover_sd_c, times),
    )  # fmt: skip


def worlds(place: str, shift_c: float, seed: int) -> Iterator[World]:
    """Each tree of a climate, its truth drawn as the replay's table draws it."""
    climate = next(one for one in CLIMATES if (one.place, one.shift_c) == (place, shift_c))
    trees = [(Tree(name=f"{s} {c}".strip(), species=s, cultivar=c), Cover(name="any")) for s, c in climate.kinds]
    site, past = record(place)
    winters = winters_of(past, site, shift_c)
    garden = garden_of(trees, site, winters, winters_of(past, site))
    truth = drawn_truth(garden, np.random.default_rng(seed))
    for i in range(len(trees)):
        alone = one_tree(garden, i)
        lanes = slice(i * len(winters.years), (i + 1) * len(winters.years))
        own = replace(
            truth,
            garden=one_tree(truth.garden, i),
            rows=truth.rows[lanes],
            tender_sd=np.asarray(truth.tender_sd)[lanes],
        )
        yield World(garden=alone, truth=own, told_c=told_by_lead_c(alone, own))


def one_tree(garden: Garden, i: int) -> Garden:
    """One of its trees alone."""
    lanes = slice(i * len(garden.winters.years), (i + 1) * len(garden.winters.years))
    parts = {name: getattr(garden, name)[i : i + 1] for name in ("trees", "covers", "rows", "heat")}
    doubts = ("warmer_c", "wood_shift_c", "site_sd_c", "cover_sd_c")
    return replace(garden, **parts, **{name: getattr(garden, name)[lanes] for name in doubts})


def told_by_lead_c(garden: Garden, truth: Truth | None) -> Floats:
    """What each state would feel of each night told; without a truth of what comes."""
    winters, nights = garden.winters, garden.winters.nights
    dose_c = np.pad(felt_nights(garden).dose_c, ((0, 0), (0, LEADS), (0, 0)), mode="edge")
    ahead_c = np.stack([dose_c[:, k : k + nights] for k in range(LEADS)], axis=2)
    if truth is None:
        return ahead_c
    days = [slice(FIRST_DAY + 1 + k, FIRST_DAY + 1 + k + nights) for k in range(LEADS)]
    came_c = np.stack([winters.min_c[:, each] for each in days], axis=-1)
    return np.asarray(ahead_c + (told_c(garden, truth)[0] - came_c)[..., None] * garden.damping()[0])


def together(each: list[World]) -> World:
    """Several truths of the same winters as one world."""
    garden, truths = tiled(each[0].garden, len(each)), [one.truth for one in each]
    warmer_c = np.concatenate([one.garden.warmer_c for one in truths])
    truth = replace(
        truths[0], garden=replace(garden, warmer_c=warmer_c), rows=[row for one in truths for row in one.rows],
        tender_sd=np.concatenate([np.asarray(one.tender_sd) for one in truths]),
    )  # fmt: skip
    return World(garden=garden, truth=truth, told_c=np.concatenate([one.told_c for one in each]))


def by_rules(world: World, rules: Floats) -> Decide:
    """Each rule, shape (rules, numbers), in all winters of a world."""
    lanes, lead = len(world.told_c), np.arange(LEADS)
    own = {name: np.repeat(column, lanes) for name, column in zip(RULE, rules.T, strict=True)}
    swollen_c = world.garden.rows[0].wood_hardiness(Phase.WAKING).lt10_c

    def least(night: int, state: int, by_lead_c: Floats) -> Floats:
        told = np.tile(world.told_c[:, night, :, state], (len(rules), 1))
        return np.asarray((told - by_lead_c[:, None] * lead).min(axis=1))

    def decide(seen: Evening) -> Ints:
        day, wood, bare = FIRST_DAY + seen.night, seen.wood, seen.state == BARE
        wraps = (
            least(seen.night, BARE, own["wraps_lead_c"])
            < wood.lt50_c + own["wraps_c"] + own["wraps_leaf_c"] * wood.leaves
        )
        wraps = (wraps | (day >= own["wraps_by"])) & bare & ~seen.stripped & (day < own["wraps_until"])
        wraps &= seen.lost < own["gives_up_at"]
        shuts = (
            least(seen.night, VENTED, own["shuts_lead_c"])
            < wood.lt50_c + own["shuts_c"] + own["shuts_leaf_c"] * wood.leaves
        )
        shuts |= day >= own["shuts_by"]
        strips = ~bare & (wood.developed >= own["strips_at"]) & (day >= own["strips_from"])
        strips &= least(seen.night, BARE, own["strips_lead_c"]) > swollen_c + own["strips_c"]
        on = np.where(shuts, CLOSED, VENTED)
        new = np.where(wraps | (seen.state == VENTED), on, seen.state)
        return np.where(strips, BARE, new)

    return decide


def tuned(world: World, worth: float = 1.0) -> Floats:
    """The rule that costs least in a world, by the cross-entropy method; its wood worth so many times its worth."""
    chance = np.random.default_rng(0)
    begin, wide = (np.array(each) for each in zip(*RULE.values(), strict=True))
    mean, sd, best, least = begin, wide, begin, np.inf
    for _ in range(GENERATIONS):
        rules = np.concatenate([[mean, best], mean + sd * chance.standard_normal((TRIED - 2, len(RULE)))])
        one = world.lived(by_rules(world, rules), TRIED)
        more = (worth - 1.0) * np.tile(world.garden.worth, TRIED) * one.lost
        cost = (one.cost + more).reshape(TRIED, -1).mean(axis=1)
        order = np.argsort(cost)
        if cost[order[0]] < least:
            best, least = rules[order[0]], cost[order[0]]
        mean, sd = rules[order[:KEPT]].mean(axis=0), np.maximum(rules[order[:KEPT]].std(axis=0), NARROWEST * wide)
    return best


def main() -> None:
    place, shift_c, seed = sys.argv[1], float(sys.argv[2]), int(sys.argv[3])
    for judged, *others in zip(*(worlds(place, shift_c, one) for one in (seed, *OTHERS)), strict=True):
        right = replace(judged, told_c=told_by_lead_c(judged.garden, None))
        known, bare = judged.lived(weather_known(judged.garden, ASSUMED)), judged.lived(never)
        name = judged.garden.trees[0].name
        print(f"\n{place} {shift_c:+g} {name}: who knows the weather {known.trips.mean():.2f} trips", flush=True)
        for how, world, tried, worth in (
            ("tuned to the judged draw", judged, judged, 1.0),
            ("the same, wood worth thrice", judged, judged, THRICE),
            ("the same, right for nine days", right, right, 1.0),
            ("tuned to other draws", judged, together(others), 1.0),
        ):
            one = world.lived(by_rules(world, tuned(tried, worth)[None]))
            saved = float((bare.lost - one.lost).mean() / max((bare.lost - known.lost).mean(), 1e-9))
            regret = (one.cost - known.cost).mean()
            print(f"  {how}: saved {saved:.0%} for {one.trips.mean():.2f} trips, dearer by {regret:.2f}", flush=True)


if __name__ == "__main__":
    main()
