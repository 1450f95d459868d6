"""The stage flower buds have come to in spring, and what a published table says they then stand.

No table tells by how much warmth one stage follows another; here they follow evenly from swelling to leaf-out (assumed,
no source), so a modelled stage is good to about one stage either way. What the grower sees moves the model.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from rules.garden.records import SightingKind
from rules.wood.buds.critical import BudRow, bud_row, bud_species, stages
from rules.wood.kinetics.hardening import SWELLING, HardeningCourse

TABLE_OF: Final = {"cherry": "sweet cherry", "sour cherry": "tart cherry"}  # species of ours under another name there
BLOOM: Final[Mapping[SightingKind, str]] = {
    SightingKind.FIRST_BLOOM: "first bloom",
    SightingKind.FULL_BLOOM: "full bloom",
    SightingKind.PETALS_FALLEN: "post bloom",
}
JUST_IN: Final = 1e-6  # of the way past a stage's first moment, so that no rounding puts it into the one before
GREEN_DAYS: Final = 30  # how long after leaf-out the last stage stands for young fruit; assumed


@dataclass(frozen=True, kw_only=True)
class BudStage:
    """A stage of the flower buds: what kills how many of them, and whether it was seen or only modelled."""

    row: BudRow
    seen: bool


def way_gone(species: str, sight: SightingKind) -> float | None:
    """Share of the way to leaf-out that is gone when this is seen [0-1]; None for no bloom, or one no table has."""
    table, stage = TABLE_OF.get(species, species), BLOOM.get(sight)
    passed = stages(table) if table in bud_species() else ()
    if stage not in passed:
        return None
    return min(1.0, SWELLING + (1.0 - SWELLING) * passed.index(stage) / (len(passed) - 1) + JUST_IN)


def bud_stage(species: str, course: HardeningCourse, seen: SightingKind | None = None) -> BudStage | None:
    """The stage on the last day of a course; None for a species without a table, before buds move and in summer.

    `seen` is the last believed sighting of bloom: the stage counts as seen until warmth brings on the next.
    """
    table = TABLE_OF.get(species, species)
    developed = float(course.developed[-1, 0])
    if table not in bud_species() or developed < SWELLING:
        return None
    green = course.green[:, 0]
    if green.sum() > GREEN_DAYS:
        return None
    passed = stages(table)
    share = (developed - SWELLING) / (1.0 - SWELLING)
    stage = passed[int(np.floor(share * (len(passed) - 1)))]
    woke = bool(course.woke[-1, 0])
    told_green = bool((green & ~course.green_before[:, 0]).any())
    told = seen is not None and BLOOM.get(seen) == stage
    return BudStage(row=bud_row(table, stage), seen=told or told_green or (woke and stage == passed[0]))
