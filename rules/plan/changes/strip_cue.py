"""When a slow cover may come off: its buds have broken, and no night is told that swollen wood does not bear."""

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, CoverState
from rules.garden.records import SightingKind
from rules.garden.tree import Phase, Site
from rules.plan.cover_costs import BUDS_BREAK
from rules.plan.season.ways import way_gone
from rules.plan.situation import TreeSituation
from rules.plan.slots import Slot
from rules.plan.wood_ahead import WoodCourses
from rules.wood.hardiness import tree_row
from rules.wood.season import season_place

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

BARE: Final = STATE_INDEX[CoverState.BARE]
COLD_SHARE: Final = 0.5  # of the members below it: a night counts as told too cold to strip before; its doubt is priced


def cold_ahead(one: TreeSituation, bare_c: Floats) -> Flags:
    """At which slots a night that swollen wood does not bear is still ahead, from its bare tissue (members, slots)."""
    bears_c = tree_row(one.tree, one.hardiness.day).wood_hardiness(Phase.WAKING).lt10_c
    told = np.quantile(bare_c, COLD_SHARE, axis=0)
    return np.minimum.accumulate(told[::-1])[::-1] < bears_c


def broken(one: TreeSituation, wood: WoodCourses, slots: Sequence[Slot], site: Site) -> Flags:
    """Whether the buds have broken, or were seen to, at each slot under a cover open and shut, shape (slots, 2).

    None is taken off before for another's sake: closed buds want no light, and each day shows one more night. Those
    that broke first wait for the others, as far as the visit they share is dearer than their shoots in the dark.
    """
    if SightingKind.BUDS_SWELLING in {seen.sighting.sight for seen in one.hardiness.effects if seen.believed}:
        return np.ones((len(slots), 2), dtype=bool)
    days = np.array([[season_place(slot.day, site.latitude_deg).day] for slot in slots])
    evergreen = tree_row(one.tree, one.hardiness.day).kinetics.evergreen
    return np.asarray(way_gone(wood.developed[: len(slots), BARE + 1 :], evergreen, days) >= BUDS_BREAK)
