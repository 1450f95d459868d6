"""Speed of the march: cover-hours per second for batches of 1 to 10 000 at 240 h, memory, and scipy's BDF beside it.

Run from the root: python -m tests.benchmarks.heat_speed
"""

import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
import numpy.typing as npt
from scipy.integrate import solve_ivp

from rules.garden.cover import Cover
from rules.garden.materials import Fill
from rules.heat.balance import inside_temperatures, inside_with_spread
from rules.heat.marching.forcing import forcing
from rules.heat.marching.march import ROWS_AT_ONCE, march
from rules.heat.network import Grid
from rules.heat.properties import CoverProperties, taken
from rules.heat.surroundings import Surroundings, part
from tests.rules.heat.heat_fine_model import SPELL_SOIL, Spell, random_covers, stay, undisturbed_c
from tests.rules.heat.test_heat_balance_physics import reference_slope

WEATHER = part(Spell().weather(), 0, 241)
GRID = Grid()


def best_s(work: Callable[[], object], repeats: int = 3) -> float:
    spent = []
    for _ in range(repeats):
        begin = time.perf_counter()
        work()
        spent.append(time.perf_counter() - begin)
    return min(spent)


def marched(covers: CoverProperties, count: int) -> None:
    """All that differs differs: every property an array, thousands of rows at a time as the shipped batch does."""
    forced = forcing(WEATHER, undisturbed_c(WEATHER, GRID), 1)
    for rows in np.array_split(np.arange(count), -(-count // ROWS_AT_ONCE)):
        some = covers if count == 1 else taken(covers, rows)
        march(some, some, np.full((len(rows), 241), 2), forced, GRID)


def batches() -> None:
    print("march alone (soil column included): covers, ms, cover-hours/s, ms per cover")
    for count in (1, 10, 100, 1000, 10_000):
        covers = CoverProperties() if count == 1 else random_covers(count, 1)
        spent = best_s(partial(marched, covers, count))
        print(f"{count:8}{spent * 1e3:10.1f}{count * 240 / spent:12.3g}{spent * 1e3 / count:10.3f}")


def front_door() -> None:
    print("inside_temperatures (checks, soil, states that change): covers x members, ms, cover-hours/s, peak MB")
    for count, members in ((1, 1), (6, 31), (100, 1), (100, 31), (322, 31), (10_000, 1)):
        cold = np.random.default_rng(0).normal(0, 1, (members, 1))
        weather = WEATHER if members == 1 else replace(WEATHER, air_c=WEATHER.air_c + cold)
        covers = [made(i) for i in range(min(count, 60))] * -(-count // 60)
        states = np.where(np.arange(241) % 48 < 30, 2, 1) * np.ones((count, 1), dtype=np.int64)
        work = asked(covers[:count], states, weather)
        spent = best_s(work)
        tracemalloc.start()
        work()
        peak = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        print(f"{count:8} x {members:<4}{spent * 1e3:10.1f}{count * members * 240 / spent:12.3g}{peak:8.0f}")


def asked(covers: list[Cover], states: npt.NDArray[np.int64], weather: Surroundings) -> Callable[[], object]:
    return lambda: inside_temperatures(covers, states, weather, soil=SPELL_SOIL)


def made(i: int) -> Cover:
    return Cover(name=str(i), outer_diameter_m=0.8 + 0.005 * i, height_m=1.0 + 0.02 * i, fill=Fill.STRAW)


def with_spread() -> None:
    weather = replace(WEATHER, air_c=WEATHER.air_c + np.random.default_rng(0).normal(0, 1, (31, 1)))
    covers, states = [made(i) for i in range(6)], np.full((6, 241), 2)
    spent = best_s(lambda: inside_with_spread(covers, states, weather, soil=SPELL_SOIL))
    print(f"inside_with_spread, 6 covers x 31 members: {spent * 1e3:.0f} ms")


def against_bdf() -> None:
    """The same chain and weather; the integrator at the tolerance where its error equals ours."""
    print("scipy BDF on the same eight equations, one cover, 240 h: tolerance, ms, worst error after day 1")
    slope, start, marks = reference_slope(CoverProperties(), WEATHER, GRID)
    exact = stay(CoverProperties(), WEATHER, GRID, 32).wood_c[24:, 0]
    ours = stay(CoverProperties(), WEATHER, GRID, 1).wood_c[24:, 0]
    for tolerance in (1e-2, 1e-3, 1e-4, 1e-5):
        begin = time.perf_counter()
        found = solve_ivp(slope, (0, marks[-1]), start, "BDF", marks, rtol=tolerance, atol=tolerance).y[-1]
        spent = time.perf_counter() - begin
        print(f"{tolerance:8.0e}{spent * 1e3:10.0f}{np.abs(found[24:] - exact).max():10.4f}")
    print(f"  ours, 1 h:{best_s(lambda: marched(CoverProperties(), 1)) * 1e3:7.1f}{np.abs(ours - exact).max():10.4f}")


if __name__ == "__main__":
    batches()
    front_door()
    with_spread()
    against_bdf()
