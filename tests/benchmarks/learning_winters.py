"""What learning buys over three successive winters, in trips and wood: our plan with it, without it, and all known.

    nice python -m tests.benchmarks.learning_winters [--seeds 2]

Our plan in the replay of past winters (High Plains daily series: aquacrop 3.1.0, champion_climate.txt, Apache-2.0/MIT),
twelve gardens of three winters each per tree and seed. Each has a true place, cover and wood drawn from the stated
spreads, kept through its three winters. Lows are told of the air on two nights a week and inside on one while the cover
is on, with the told field and thermometers as wrong as stated; dieback in June, and what it proposes is accepted. The
plan learns each month.
"""

import argparse
from dataclasses import dataclass, field, replace
from datetime import timedelta

import numpy as np
import numpy.typing as npt

from rules.backtest.last_winter import phase_of_night
from rules.backtest.living import Evening, Lived, lived
from rules.backtest.living import dose_c as width_of
from rules.backtest.our_plan import OurPlan
from rules.backtest.winters import FIRST_DAY, Garden, Truth, felt_nights, garden_of, winters_of
from rules.garden.cover import Cover
from rules.garden.tree import Phase, Standing, Tree
from rules.heat.properties import COVER_SD_C
from rules.learning import LearnedHardiness, Outcome, Pair, learn_hardiness, learn_site
from rules.learning.cover_gain import BIAS_SD_C, RANDOM_SD_C
from rules.learning.pairs import FIELD_SD_C, THERMOMETER_SD_C
from rules.learning.robust_line import robust_update
from rules.learning.site_offset import NIGHT_COUNTS
from rules.plan.prices import ASSUMED
from rules.plan.season.forecast_errors import forecast_errors_c
from rules.site.microclimate import PRIORS
from rules.wood.hardiness import tree_row
from rules.wood.injury import Z_TEN_PERCENT
from tests.benchmarks.backtest_table import SITE
from tests.high_plains import high_plains
from tests.rules.learning.learning_twins import FIRST, chained, low

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

WINTERS = 3
BLOCKS = 12
MONTH = 30
AIR_NIGHTS, INSIDE_NIGHT = (2, 5), 4  # of each week
FACTOR = 0.5  # half clear and calm, as the replay has it
CLOSED = 2
TREES = (
    (("fig", ""), 13.0),
    (("fig", "Hardy Chicago"), 11.0),
    (("persimmon", ""), 9.0),
    (("satsuma", ""), 13.0),
)


@dataclass
class Knowledge:
    """What one garden's grower has told, and what it taught."""

    tree: Tree
    site_sd_c: float
    damping: Floats
    pairs: list[Pair] = field(default_factory=list)
    inside: list[tuple[float, float]] = field(default_factory=list)  # damping, reading less what was held [°C]
    outcomes: list[Outcome] = field(default_factory=list)
    air_c: float = 0.0
    air_sd_c: float = 0.0
    cover_c: float = 0.0
    cover_sd_c: float = COVER_SD_C
    wood: dict[Phase, LearnedHardiness] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.air_sd_c = self.site_sd_c

    def learn(self) -> None:
        found = learn_site(self.pairs, PRIORS[Standing.OPEN])
        self.air_c = found.mean_c(FACTOR) if self.pairs else 0.0
        self.air_sd_c = found.offset.sd_c(FACTOR) if self.pairs else self.site_sd_c
        if not self.inside:
            return
        keeps, values = (np.array([row[i] for row in self.inside]) for i in (0, 1))
        columns = np.stack([keeps * self.air_sd_c, np.full(len(keeps), COVER_SD_C), np.full(len(keeps), BIAS_SD_C)], 1)
        noise = np.hypot(RANDOM_SD_C, keeps * FIELD_SD_C) / np.sqrt(NIGHT_COUNTS)
        mean, covariance, _ = robust_update(np.zeros(3), np.eye(3), columns, values - keeps * self.air_c, noise)
        self.air_c += float(mean[0]) * self.air_sd_c
        self.air_sd_c *= float(np.sqrt(covariance[0, 0]))
        self.cover_c = float(mean[1]) * COVER_SD_C
        self.cover_sd_c = max(COVER_SD_C * float(np.sqrt(covariance[1, 1])), COVER_SD_C / 3)

    def warmer_c(self) -> Floats:
        return self.air_c * self.damping + self.cover_c * np.array([0.0, 1.0, 1.0])


def tabled_sd_c(garden: Garden) -> Floats:
    """1 sd of the wood as its table has it at rest, shape (lanes, nights) [°C]."""
    return np.repeat(garden.by_lane([row.sd_resting_c for row in garden.rows])[:, None], garden.winters.nights, axis=1)


def held_of(garden: Garden, known: list[Knowledge]) -> Garden:
    """What all the growers hold by now."""
    nights = [phase_of_night(night) for night in range(garden.winters.nights)]
    shift_c = np.array([[one.wood[p].shift_c if p in one.wood else 0.0 for p in nights] for one in known])
    tabled = tabled_sd_c(garden)
    return replace(
        garden,
        warmer_c=np.array([one.warmer_c() for one in known]),
        wood_shift_c=shift_c,
        site_sd_c=np.array([one.air_sd_c for one in known]),
        cover_sd_c=np.array([one.cover_sd_c for one in known]),
        wood_sd_c=np.stack(
            [
                np.where([p in one.wood for p in nights], _wood_sd_c(one, nights), tabled[i])
                for i, one in enumerate(known)
            ]
        ),
    )


def _wood_sd_c(one: Knowledge, nights: list[Phase]) -> Floats:
    return np.array([one.wood[p].sd_c if p in one.wood else 0.0 for p in nights])


class LearningPlan:
    """Our plan through one winter, held anew each month by what was told."""

    def __init__(self, garden: Garden, truth: Truth, known: list[Knowledge], true_c: Floats, winter: int, seed: int):
        self.garden, self.truth, self.known, self.true_c, self.winter = garden, truth, known, true_c, winter
        self.rng = np.random.default_rng([seed, winter, 23])
        self.field_c = FIELD_SD_C * np.stack([chained(self.rng, garden.winters.nights) for _ in known])
        self.plan = OurPlan(held_of(garden, known), truth, ASSUMED)

    def __call__(self, seen: Evening) -> Ints:
        night = seen.night
        if night and night % MONTH == 0:
            for one in self.known:
                one.learn()
            self.plan = OurPlan(held_of(self.garden, self.known), self.truth, ASSUMED)
        new = self.plan(seen)
        for lane, one in enumerate(self.known):
            self._read(lane, one, night, int(new[lane]))
        return new

    def _read(self, lane: int, one: Knowledge, night: int, state: int) -> None:
        day, told_c = 365 * self.winter + night, self.field_c[lane, night]
        if night % 7 in AIR_NIGHTS:
            off_c = self.true_c[lane, 0] + told_c + self.rng.normal(0, THERMOMETER_SD_C)
            sd_c = float(np.hypot(THERMOMETER_SD_C, FIELD_SD_C))
            evening = FIRST + timedelta(days=day)
            one.pairs.append(
                Pair(reading=low(off_c, day), evening=evening, field_c=0.0, factor=FACTOR, night=1.0, sd_c=sd_c)
            )
        if state and night % 7 == INSIDE_NIGHT:
            keeps = float(one.damping[state])
            off_c = keeps * (self.true_c[lane, 0] + told_c) + self.true_c[lane, 1]
            one.inside.append((keeps, off_c + self.rng.normal(0, RANDOM_SD_C)))


def tell_dieback(garden: Garden, known: list[Knowledge], came: Lived, winter: int) -> None:
    """June: what was lost, judged by the night that by what is known was furthest beyond."""
    held = held_of(garden, [replace(one, wood={}) for one in known])
    winters = garden.winters
    dose_c = felt_nights(held).dose_c
    half_c: Floats = garden.felt(0).bare.hc_c[FIRST_DAY : FIRST_DAY + winters.nights, :, 0].T
    lt10_c = half_c + np.stack([width_of(garden, night) for night in half_c.T], axis=1) * Z_TEN_PERCENT
    tissue_c = np.take_along_axis(dose_c, came.course[..., None], axis=2)[..., 0]
    for lane, one in enumerate(known):
        night = int(np.argmin(tissue_c[lane] - lt10_c[lane]))
        phase = phase_of_night(night)
        one.outcomes.append(
            Outcome(
                tree="Twin", evening=FIRST + timedelta(days=365 * winter + night), phase=phase,
                tissue_c=float(tissue_c[lane, night]), lt10_c=float(lt10_c[lane, night]),
                lt50_c=float(half_c[lane, night]), lost=float(np.clip(round(came.lost[lane], 1), 0, 1)),
            )
        )  # fmt: skip
        one.learn()
        row = tree_row(one.tree, winters.first)
        one.wood = {p: learn_hardiness(one.outcomes, row, p) for p in {told.phase for told in one.outcomes}}


def last(garden: Garden, truth: Truth, decide: object) -> Lived:
    found = [one for one in lived(garden, truth, decide, ASSUMED) if one is not None]  # type: ignore[arg-type] # a Decide
    return found[-1]


def winters_lived(tree: Tree, cover: Cover, shift_c: float, seed: int) -> dict[str, Floats]:
    """Trips, share lost and cost by way, shape (winters, 3), means over the gardens of one tree."""
    whole, record = winters_of(high_plains(), SITE, shift_c), winters_of(high_plains(), SITE)
    rng = np.random.default_rng([seed, 29])
    air, cover_z, wood = rng.standard_normal((3, BLOCKS))
    known: list[Knowledge] = []
    rows: dict[str, list[list[float]]] = {"prior only": [], "learning": [], "all known": []}
    for winter in range(WINTERS):
        pick = np.arange(BLOCKS) * WINTERS + winter
        years = tuple(whole.years[i] for i in pick)
        part = replace(whole, years=years, min_c=whole.min_c[pick], max_c=whole.max_c[pick])
        garden = garden_of([(tree, cover)], SITE, part, record)
        keeps = garden.damping()
        true_c = np.stack([air * garden.site_sd_c, cover_z * COVER_SD_C], axis=1)
        wrong_c = true_c[:, :1] * keeps + true_c[:, 1:] * np.array([0.0, 1.0, 1.0])
        shift = wood[:, None] * tabled_sd_c(garden)
        error_c = forecast_errors_c(BLOCKS, part.nights, np.random.default_rng([seed, winter, 31]))
        true = replace(garden, warmer_c=wrong_c, wood_shift_c=shift)
        truth = Truth(garden=true, rows=list(garden.rows) * BLOCKS, error_c=error_c)
        known = known or [
            Knowledge(tree=tree, site_sd_c=float(garden.site_sd_c[i]), damping=keeps[i]) for i in range(BLOCKS)
        ]
        none, little = np.zeros(BLOCKS), np.full(shift.shape, 1e-3)
        knows = replace(true, site_sd_c=none, cover_sd_c=none, wood_sd_c=little)
        came = {
            "prior only": last(garden, truth, OurPlan(garden, truth, ASSUMED)),
            "learning": last(held_of(garden, known), truth, LearningPlan(garden, truth, known, true_c, winter, seed)),
            "all known": last(knows, truth, OurPlan(knows, truth, ASSUMED)),
        }
        tell_dieback(garden, known, came["learning"], winter)
        for way, one in came.items():
            rows[way].append([float(one.trips.mean()), float(one.lost.mean()), float(one.cost.mean())])
    return {way: np.array(found) for way, found in rows.items()}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=2)
    seeds = parser.parse_args().seeds
    cover = Cover(name="any")
    print(f"Trips, share of wood lost (cost in trips) by winter; {seeds * BLOCKS} gardens of each tree")
    for (species, cultivar), shift_c in TREES:
        tree = Tree(name=f"{species} {cultivar}".strip(), species=species, cultivar=cultivar)
        each = [winters_lived(tree, cover, shift_c, seed) for seed in range(seeds)]
        print(f"{tree.name}, record {shift_c:+.0f} °C", flush=True)
        for way in each[0]:
            found = np.mean([one[way] for one in each], axis=0)
            cells = [f"{trips:.1f}, {lost:.2f} ({cost:.1f})" for trips, lost, cost in found]
            trips, lost, cost = found.sum(axis=0)
            print(f"  {way:11}: {' | '.join(cells)}; all three {trips:.1f}, {lost:.2f} ({cost:.1f})", flush=True)


if __name__ == "__main__":
    main()
