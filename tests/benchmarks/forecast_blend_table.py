"""What several services together are worth against each alone: scores and intervals, by winter; run by hand.

    nice python -m tests.benchmarks.forecast_blend_table [--gardens 10]

Each forecaster learns from the nights before alone. CRPS in °C, lower is better; "80", "90" are how often what came lay
in those intervals, in percent. The airports' one year counts as one winter.
"""

import argparse

import numpy as np

from tests.rules.learning.drawn_services import GARDENS, crps_c, held, told_night_by_night


def main() -> None:
    """Print one table a kind of garden."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--gardens", type=int, default=10)
    gardens = parser.parse_args().gardens
    for kind, drawn in GARDENS.items():
        found: dict[tuple[str, int], list[tuple[float, float, float]]] = {}
        for seed in range(gardens):
            nights = drawn(seed)
            came_c = np.array([one.came_c for one in nights])
            first = [one.evening.year - (one.evening.month < 7) for one in nights]
            winter = (np.array(first) - min(first)) * (kind != "airports")
            for name, (mean_c, sd_c) in told_night_by_night(nights).items():
                for which in sorted(set(winter.tolist())):
                    here = winter == which
                    row = (
                        float(crps_c(mean_c[here], sd_c[here], came_c[here]).mean()),
                        held(mean_c[here], sd_c[here], came_c[here], 0.8),
                        held(mean_c[here], sd_c[here], came_c[here], 0.9),
                    )
                    found.setdefault((name, which), []).append(row)
        print(f"\n{kind}, {gardens} gardens\n{'':24s} winter  CRPS   80   90")
        for (name, which), rows in found.items():
            score, eighty, ninety = np.mean(rows, axis=0)
            print(f"{name:24s} {which + 1:6d}  {score:.2f}  {100 * eighty:3.0f}  {100 * ninety:3.0f}")


if __name__ == "__main__":
    main()
