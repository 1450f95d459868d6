"""The replay's table: `nice python -m tests.benchmarks.backtest_table [seed] [place]`; real climates and shifted ones.

One climate a line of CLIMATES, each tree a garden of its own; the seeds 1 to 9 were tuned on, those from 101 on are
kept for checking.
"""

import sys
import time
from typing import NamedTuple

from bot.commands.replay import table
from rules.backtest.comparison import replay
from rules.garden.cover import Cover
from rules.garden.tree import Site, Tree
from rules.weather.daily_minima import DailyMinima, daily_minima
from tests.rules.wood.winter_records import PLACES

SITE = Site(
    latitude_deg=40.4, longitude_deg=-104.7, elevation_m=1430.0, time_zone="America/Denver"
)  # near the record's
FIGS = (("fig", ""), ("fig", "Hardy Chicago"), ("persimmon", ""), ("satsuma", ""))
HARDY = (("fig", "Hardy Chicago"), ("persimmon", ""), ("peach", ""), ("grape", "Concord"))


class Climate(NamedTuple):
    """One climate: the record's place, a shift [°C], and the kinds of trees that belong there."""

    place: str
    shift_c: float
    kinds: tuple[tuple[str, str], ...]


CLIMATES = (
    Climate("high plains", 0.0, HARDY),
    Climate("high plains", 9.0, FIGS),
    Climate("high plains", 11.0, FIGS),
    Climate("high plains", 13.0, FIGS),
    Climate("cold valley", 0.0, FIGS),
    Climate("norfolk", 0.0, FIGS),
    Climate("northumberland", 0.0, FIGS),
)


def record(place: str) -> tuple[Site, DailyMinima]:
    """Where a record was kept, and its days; the sun's clock is near enough the place's own."""
    latitude, longitude, elevation_m, read = PLACES[place]
    days, low, high, _ = zip(*read(), strict=True)
    site = Site(latitude_deg=latitude, longitude_deg=longitude, elevation_m=elevation_m, time_zone="UTC")
    return site, daily_minima(list(days), list(low), list(high))


def main() -> None:
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 101
    for climate in CLIMATES:
        if len(sys.argv) > 2 and sys.argv[2] not in climate.place:
            continue
        began = time.perf_counter()
        garden = [(Tree(name=f"{s} {c}".strip(), species=s, cultivar=c), Cover(name="any")) for s, c in climate.kinds]
        site, past = record(climate.place)
        for step in replay(garden, site, past, seed=seed, shift_c=climate.shift_c):
            if step.found:
                print(f"\n{climate.place}\n{table(step.found)}", flush=True)
        print(f"{time.perf_counter() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
