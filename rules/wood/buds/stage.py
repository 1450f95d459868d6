"""The stage flower buds have come to in spring, and what a published table says they then stand.

No table tells by how much warmth one stage follows another; here they follow evenly from swelling to leaf-out (assumed,
no source), so a modelled stage is good to about one stage either way. What the grower sees moves the model.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from rules.wood.buds.critical import BudRow, bud_row, bud_species, stages
from rules.wood.kinetics.hardening import SWELLING, HardeningCourse

TABLE_OF: Final = {"cherry": "sweet cherry", "sour cherry": "tart cherry"}  # species of ours under another name there
GREEN_DAYS: Final = 30  # how long after leaf-out the last stage stands for young fruit; assumed


@dataclass(frozen=True, kw_only=True)
class BudStage:
    """A stage of the flower buds: what kills how many of them, and whether it was seen or only modelled."""

    row: BudRow
    seen: bool


def bud_stage(species: str, course: HardeningCourse) -> BudStage | None:
    """The stage on the last day of a course; None for a species without a table, before buds move and in summer."""
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
    return BudStage(row=bud_row(table, stage), seen=told_green or (woke and stage == passed[0]))
