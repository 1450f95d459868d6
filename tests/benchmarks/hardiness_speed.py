"""How long it takes to follow 20 trees through 37 winters, and what they bore: run by hand.

    nice python -m tests.benchmarks.hardiness_speed tests/data/high_plains_daily_1982_2018.txt.gz

The file: Weather data from aquacrop 3.1.0 (T. Foster and others), champion_climate.txt, Apache-2.0/MIT.
"""

import argparse
import gzip
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.garden.species import SpeciesRow, species_names, species_row
from rules.garden.tree import Phase, Site
from rules.wood.course import winters_lt_c

TREES: Final = 20
WINTER_DAYS: Final = 300
GOAL_S: Final = 1.0
SITE: Final = Site(latitude_deg=40.4, longitude_deg=-101.7, elevation_m=1070, time_zone="UTC")


def read_extremes(path: Path) -> tuple[date, npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """The first day of the series, its daily minima and maxima [°C]."""
    with gzip.open(path, "rt", encoding="ascii") as lines:
        table: npt.NDArray[Any] = np.loadtxt(lines, skiprows=1)
    day, month, year = (int(value) for value in table[0, :3])
    return date(year, month, day), table[:, 3], table[:, 4]


def winters(first: date, mean_c: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Every winter of the series from 7 September, shape (days, winters); days beyond its end are unknown."""
    last = first + timedelta(days=len(mean_c) - 1)
    found = []
    for year in range(first.year, last.year + 1):
        begins = (date(year, 9, 7) - first).days
        days = np.full(WINTER_DAYS, np.nan)
        known = mean_c[begins : begins + WINTER_DAYS]
        days[: len(known)] = known
        found.append(days)
    return np.stack(found, axis=1)


def twenty_rows() -> list[SpeciesRow]:
    """Twenty trees, one of each species of the table in turn."""
    names = sorted(set(species_names().values()))
    return [species_row(names[i % len(names)]) for i in range(TREES)]


def main() -> None:
    """Time the whole set and print it beside the goal, then a fig's winter as quantiles over the years."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("series", type=Path)
    first, *extremes = read_extremes(parser.parse_args().series)
    low_c, high_c = (winters(first, one) for one in extremes)
    mean_c = (low_c + high_c) / 2
    rows = twenty_rows()
    began = time.perf_counter()
    winters_lt_c(rows, SITE, date(2026, 9, 7), mean_c, low_c, high_c)
    took_s = time.perf_counter() - began
    print(f"{mean_c.shape[1]} winters, {len(rows)} trees, {WINTER_DAYS} days: {took_s:.2f} s (goal under {GOAL_S} s)")
    lt10_c, _ = winters_lt_c([species_row("fig")], SITE, date(2026, 9, 7), mean_c, low_c, high_c)
    print(f"established fig at rest, table: {species_row('fig').wood_hardiness(Phase.RESTING).lt10_c} °C")
    for name, day in (("1 Oct", 24), ("1 Nov", 55), ("1 Dec", 85), ("1 Jan", 116), ("1 Mar", 175), ("1 Apr", 206)):
        low, middle, high = np.nanquantile(lt10_c[day, :-1, 0], (0.1, 0.5, 0.9))
        print(f"{name}: safe to {middle:5.1f} °C in a middle winter, {low:5.1f} to {high:5.1f} in eight of ten")


if __name__ == "__main__":
    main()
