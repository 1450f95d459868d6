"""One winter asked about a straw cage: bare, open and shut in the nights that matter, felt and lost.

What the wood can take on each date is assumed, the same for all three; the sd of the air at the tree is 1.5 °C.

Run from the root: python -m tests.benchmarks.asked_winter
"""

from typing import Any, Final

import numpy as np

from rules.garden.cover import Cover, CoverState, Preset
from rules.heat.ahead import heat_ahead
from rules.heat.surroundings import changed
from rules.wood.injury import expected_share_lost, with_tip
from tests.rules.heat.heat_fine_model import SPELL_SOIL, Spell

AIR_SD_C: Final = 1.5
# Day of the year, low and high of the days before and of the day asked about, LT10 and LT50 assumed.
ASKED: Final[dict[str, tuple[dict[str, Any], float, float]]] = {
    "25 October, -3": (
        {"first_cold_day": 296, "minima_c": (3, -3, -3), "maxima_c": (12, 9, 9), "mild_c": (4, 14)}, -3.5, -6.0
    ),
    "1 November, -7": (
        {"first_cold_day": 303, "minima_c": (-1, -7, -7), "maxima_c": (8, 4, 5), "mild_c": (1, 11)}, -5.0, -7.5
    ),
    "15 January, -18": (
        {"first_cold_day": 13, "minima_c": (-12, -18, -18), "maxima_c": (-4, -7, -6), "mild_c": (-5, 3)}, -10.0, -13.0
    ),
    "15 February, +15": (
        {"first_cold_day": 44, "minima_c": (2, 3, 3), "maxima_c": (13, 15, 15), "mild_c": (-3, 6)}, -9.0, -12.0
    ),
    "28 April, -7": (
        {"first_cold_day": 116, "minima_c": (1, -7, -7), "maxima_c": (10, 6, 8), "mild_c": (4, 15)}, -3.0, -5.0
    ),
}  # fmt: skip
COVERS: Final = (Preset.STRAW_BLANKET_FILM, Preset.STRAW_FILM, Preset.STRAW)


def main() -> None:
    for preset in COVERS:
        print(f"\n{preset}: wood / tip low °C ± sd, share lost (highest air inside on the warm day)")
        for name, (days, lt10_c, lt50_c) in ASKED.items():
            print(f"  {name:18}" + "".join(told(preset, days, lt10_c, lt50_c)))


def told(preset: Preset, days: dict[str, Any], lt10_c: float, lt50_c: float) -> list[str]:
    weather = changed(Spell(**days).weather(), lambda row: np.atleast_2d(row))
    courses = heat_ahead([Cover(name="x", preset=preset)], [weather], None, SPELL_SOIL, 24).by_tree[0]
    last = weather.air_c.shape[-1] - 1 - 24
    night = slice(last - 10, last + 14)
    lines = []
    for state in (CoverState.BARE, CoverState.VENTED, CoverState.CLOSED):
        one = courses[state]
        wood_c, top_c = (values[0, night].min() for values in (one.wood_c, one.top_c))
        sd_c = float(np.hypot(AIR_SD_C, one.spread_c[night][one.wood_c[0, night].argmin()]))
        lost = [
            expected_share_lost(np.array([value]), np.array(sd_c), lt10_c, lt50_c, 1.0) for value in (wood_c, top_c)
        ]
        warm = float(one.air_c[0, last - 24 :].max())
        share = float(with_tip(lost[0], lost[1]))
        lines.append(f"{state:>9} {wood_c:6.1f} /{top_c:6.1f} ±{sd_c:3.1f} {share:5.0%} ({warm:4.1f})")
    return lines


if __name__ == "__main__":
    main()
