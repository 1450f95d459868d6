"""What the wood model says of known winters, how far each rate's doubt moves it, and what leaving one place out does.

nice python -m tests.benchmarks.known_winters_table
"""

from dataclasses import replace
from datetime import date, timedelta
from typing import Final

import numpy as np

from rules.garden.species import Kinetics, SpeciesRow, species_row
from rules.wood.injury import normal_share
from rules.wood.kinetics.rate_doubts import RATE_DOUBTS, drawn, moved
from rules.wood.usual_wood import LEAST_WINTERS
from tests.rules.wood.known_winters import Replayed, day_of, half_way, known_rows, replayed_row
from tests.rules.wood.winter_records import PLACES

KINDS: Final = (
    ("fig", "Hardy Chicago"), ("fig", ""), ("kaki", ""), ("pomegranate", ""), ("olive", ""), ("satsuma", ""),
    ("grape", "Chardonnay"), ("grape", "Concord"), ("jujube", ""), ("peach", ""),
)  # fmt: skip
HEATS: Final = np.arange(180.0, 341.0, 5.0)


def of_day(day: float) -> str:
    """A day of the season as a date; none where it never comes."""
    return "never" if np.isnan(day) else f"{date(2026, 9, 7) + timedelta(days=int(day)):%d %b}"


def line(told: Replayed) -> str:
    """One place in one line."""
    early, middle, late = (np.nanquantile(told.leaf_out, q) for q in (0.1, 0.5, 0.9))
    return (
        f"half lost in {told.half_lost:2d} of {told.at.winters:2d}, {np.median(told.nights_below):3.0f} too cold "
        f"(most {told.nights_below.max()}), LT10 1 Dec {np.median(told.lt10_c[85]):5.1f}, "
        f"15 Jan {np.median(told.lt10_c[130]):5.1f}, 1 Mar {np.median(told.lt10_c[175]):5.1f}, "
        f"leaf-out {of_day(early)}, {of_day(middle)}, {of_day(late)}"
    )


def with_kinetics(row: SpeciesRow, kinetics: Kinetics) -> SpeciesRow:
    """The same row on other rates."""
    return replace(row, kinetics=kinetics)


def table() -> None:
    """Every kind at every place."""
    for species, cultivar in KINDS:
        row = species_row(species, cultivar)
        for place in PLACES:
            told = replayed_row(row, place)
            print(f"{row.label[:24]:24s} {place:14s} {line(told)}")
            if told.at.winters > LEAST_WINTERS:
                print(f"{'':24s} {'half way':14s} {line(half_way(row, told))}")


def sensitivity() -> None:
    """A bare standard fig with one rate moved by its doubt: nights below LT10 and leaf-out, middle winter."""
    row = species_row("fig")
    for place in ("norfolk", "newark", "greensboro", "north italy", "high plains"):
        print(f"\n{place}: as it is {line(replayed_row(row, place))}")
        for doubt in RATE_DOUBTS:
            ways = [replayed_row(with_kinetics(row, moved(row.kinetics, doubt, way)), place) for way in (-1, 1)]
            told = "; ".join(
                f"{np.median(one.nights_below):.0f} nights, half lost {one.half_lost}, "
                f"15 Jan {np.median(one.lt10_c[130]):.1f}, "
                f"1 Mar {np.median(one.lt10_c[175]):.1f}, leaves {of_day(float(np.nanmedian(one.leaf_out)))}"
                for one in ways
            )
            print(f"  {doubt.says:18s} down, up: {told}")


def left_out() -> None:
    """The one fitted number, refitted with one place out each time: how far that place's leaf-out is then off."""
    rows = [row for row in known_rows() if row.get("fitted")]
    fig = species_row("fig")
    days = np.array(
        [
            [
                np.nanmedian(
                    replayed_row(
                        with_kinetics(fig, replace(fig.kinetics, leaf_out_c_days=float(heat))), row["place"]
                    ).leaf_out
                )
                for heat in HEATS
            ]
            for row in rows
        ]
    )
    first, last = (np.array([day_of(row["leaf_out"][end]) for row in rows])[:, None] for end in (0, 1))
    off = np.where(days > last, days - last, np.minimum(days - first, 0.0))
    best = HEATS[np.nanargmin(np.abs(off).max(axis=0))]
    print(f"\nheat to leaf-out, all {len(rows)} places: {best:.0f} °C-days; off by {off[:, best == HEATS].ravel()}")
    for i, row in enumerate(rows):
        others = np.delete(np.arange(len(rows)), i)
        heat = HEATS[np.nanargmin(np.abs(off[others]).max(axis=0))]
        there = off[i, heat == HEATS][0]
        print(f"  without {row['place']:12s}: {heat:.0f}, and {row['place']} is off by {there:+.0f} days")


def calibration(draws: int = 60) -> None:
    """How often a night was too cold for wood whose rates were drawn, beside the chance told of it, by tenths."""
    chance = np.random.default_rng(5)
    told_of, came = [], []
    for species, cultivar in (("fig", ""), ("kaki", ""), ("grape", "Chardonnay")):
        row = species_row(species, cultivar)
        for place in ("norfolk", "high plains", "cold valley"):
            ours = replayed_row(row, place)
            moves = [
                [replayed_row(with_kinetics(row, moved(row.kinetics, doubt, way)), place).lt10_c for way in (1, -1)]
                for doubt in RATE_DOUBTS
            ]
            sd_c = np.sqrt(sum(np.square((up - down) / 2) for up, down in moves) + 1e-4)
            lean_c = sum((up + down) / 2 - ours.lt10_c for up, down in moves)  # as `WoodCourse.expected_lt50_c`
            low = np.nan_to_num(ours.night_c, nan=30.0)
            told = normal_share((ours.lt10_c + lean_c * (1.0 - ours.developed) - low) / sd_c)
            for _ in range(draws // 9 + 1):
                ways = np.clip(chance.standard_normal(len(RATE_DOUBTS)), -2, 2).tolist()
                truth = replayed_row(with_kinetics(row, drawn(row.kinetics, ways)), place)
                asked = (told > 0.02) & (told < 0.98)
                told_of.append(told[asked])
                came.append((low < truth.lt10_c)[asked])
    chances, outcomes = np.concatenate(told_of), np.concatenate(came)
    print("\nchance told that a night is too cold, rates alone in doubt, and how often it was:")
    for low_end in np.arange(0.0, 1.0, 0.1):
        inside = (chances >= low_end) & (chances < low_end + 0.1)
        if inside.any():
            print(f"  {chances[inside].mean():.2f} told, {outcomes[inside].mean():.2f} came, {inside.sum()} nights")


if __name__ == "__main__":
    table()
    sensitivity()
    left_out()
    calibration()
