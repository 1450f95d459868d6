"""The replay's table: `python -m tests.benchmarks.backtest_table [seed]`; six trees, 36 winters, four climates."""

import sys
import time

from rules.backtest.comparison import Replay, Rule, replay
from rules.garden.cover import Cover
from rules.garden.tree import Site, Tree
from tests.high_plains import high_plains

SITE = Site(
    latitude_deg=40.4, longitude_deg=-104.7, elevation_m=1430.0, time_zone="America/Denver"
)  # near the record's
SPECIES = (
    ("fig", ""),
    ("fig", "Hardy Chicago"),
    ("persimmon", ""),
    ("satsuma", ""),
    ("peach", ""),
    ("grape", "Concord"),
)
SHIFTS_C = (0.0, 9.0, 11.0, 13.0)


def show(found: Replay) -> None:
    print(f"\nshift {found.shift_c:+g} °C, {len(found.years)} winters, heat rms {found.heat_rms_c:.2f} °C")
    print(
        f"{'tree':26}{'rule':38}{'cost':>7}{'loss':>7}{'lost':>6}{'trips':>7}{'missed':>11}{'false':>7}{'x':>6}{'value':>7}"
    )
    for row in found.rows:
        multiple, value = ("  –" if one is None else f"{one:.2f}" for one in (row.multiple, row.value))
        missed = f"{row.missed}/{row.killing}"
        print(
            f"{row.tree:26}{row.rule:38}{row.cost:7.1f}{row.expected_loss:7.1f}{row.lost:6.2f}{row.trips:7.1f}"
            f"{missed:>11}{row.false_calls:7.1f}{multiple:>6}{value:>7}"
        )


if __name__ == "__main__":
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    garden = [(Tree(name=f"{s} {c}".strip(), species=s, cultivar=c), Cover(name="any")) for s, c in SPECIES]
    for shift_c in SHIFTS_C:
        began = time.perf_counter()
        for step in replay(garden, SITE, high_plains(), seed=seed, shift_c=shift_c):
            if step.found:
                show(step.found)
        plans = [row for row in step.found.rows if row.rule == Rule.PLAN] if step.found else []
        missed, killing = sum(row.missed for row in plans), sum(row.killing for row in plans)
        print(f"{time.perf_counter() - began:.0f} s; our plan missed {missed} of {killing} nights")
