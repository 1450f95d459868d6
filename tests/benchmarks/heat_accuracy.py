"""Error of the shipped chain against a fine one, over covers drawn at random and four spells; steps and grids refined.

Run from the root: python -m tests.benchmarks.heat_accuracy [covers]   (300 covers take about a minute)
"""

import sys
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from rules.heat.network import Grid
from rules.heat.properties import CoverProperties
from tests.rules.heat.heat_fine_model import FIRST_JUDGED, FOUR_SPELLS, Spell, night_minima_c, random_covers, stay

Array = npt.NDArray[np.float64]
FINE = Grid(shells=48, cells=24), 16
SCHEMES = [
    (Grid(shells=1, cells=1), 2),
    (Grid(shells=2, cells=2), 2),
    (Grid(shells=3, cells=2), 2),
    (Grid(), 1),
    (Grid(), 2),
    (Grid(), 4),
    (Grid(shells=4, cells=4), 2),
    (Grid(shells=6, cells=4), 2),
    (Grid(shells=12, cells=8), 2),
    (Grid(shells=24, cells=12), 4),
    (Grid(shells=24, cells=12), 1),
]


def woods(covers: CoverProperties, count: int, grid: Grid, steps: int) -> list[Array]:
    return [stay(covers, spell.weather(), grid, steps, rows=count).wood_c for spell in FOUR_SPELLS]


def errors(coarse: Array, fine: Array, spell: Spell) -> Iterator[float]:
    hours = np.abs(coarse - fine)[7 * 24 :]
    nights = len(spell.minima_c)
    low = night_minima_c(coarse[FIRST_JUDGED:], nights) - night_minima_c(fine[FIRST_JUDGED:], nights)
    yield from (np.sqrt((hours**2).mean()), np.quantile(hours, 0.99), hours.max())
    yield from (np.sqrt((low**2).mean()), np.abs(low).max(), low.mean())


def table(count: int) -> None:
    covers = random_covers(count, 2026)
    fine = woods(covers, count, *FINE)
    print(f"{count} covers x 4 spells against shells 48, cells 24, 225 s; worst spell of the four, °C")
    print(f"{'shells cells steps/h':22}{'hours rms':>10}{'99 %':>8}{'worst':>8}{'min rms':>9}{'worst':>8}{'bias':>8}")
    for grid, steps in SCHEMES:
        rows = [
            list(errors(c, f, s)) for c, f, s in zip(woods(covers, count, grid, steps), fine, FOUR_SPELLS, strict=True)
        ]
        worst = [max(column, key=abs) for column in zip(*rows, strict=True)]
        name = f"{grid.shells:4}{grid.cells:6}{steps:8}"
        print(f"{name:22}" + "".join(f"{v:{w}.3f}" for v, w in zip(worst, (10, 8, 8, 9, 8, 8), strict=True)))


def hours_below(count: int) -> None:
    covers = random_covers(count, 2026)
    print("hours below a threshold, shipped chain less shells 24, cells 12, four steps: mean |difference|, largest")
    pairs = zip(woods(covers, count, Grid(), 1), woods(covers, count, Grid(shells=24, cells=12), 4), strict=True)
    judged = [(c[FIRST_JUDGED:], f[FIRST_JUDGED:]) for c, f in pairs]
    for threshold in (-3, -5, -7):
        gap = np.concatenate([(c < threshold).sum(axis=0) - (f < threshold).sum(axis=0) for c, f in judged])
        print(f"  below {threshold}: {np.abs(gap).mean():.2f} h, {np.abs(gap).max()} h")


if __name__ == "__main__":
    chosen = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    table(chosen)
    hours_below(chosen)
