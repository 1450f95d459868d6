"""A blanket thrown over a bare tree for a night: how much warmer it keeps the wood, hour by hour."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, CoverState
from rules.garden.materials import Blanket
from rules.garden.tree import SiteSoil
from rules.heat.balance import against_limits_c, inside_temperatures
from rules.heat.marching.start import HeatStart
from rules.heat.surroundings import changed
from rules.heat.what_if import Stand, thrown_over

Floats = npt.NDArray[np.float64]


def blanket_gains_c(stands: Sequence[Stand], nights: Sequence[Sequence[slice]], soil: SiteSoil) -> Floats:
    """How much warmer wood and its top are under a blanket than bare [°C], shape (trees, 2, hours).

    A moving blanket, which is what people have, as wide and as high as the tree's cover, tied over the top; on in the
    hours of each tree's `nights` and off between them. Of the mean of the members: their spread changes it by little.
    Bare is the air about the tree, as limits count, so that under an open sky a thin skin may gain nothing at all.
    """
    if not stands:
        return np.zeros((0, 2, 0))
    covers = [thrown_over(one.cover, Blanket.MOVING) for one in stands]
    weathers = [changed(one.weather, lambda row: np.asarray(np.atleast_2d(row).mean(axis=0))) for one in stands]
    states = np.full((len(stands), weathers[0].air_c.shape[-1]), STATE_INDEX[CoverState.BARE])
    for row, of_tree in zip(states, nights, strict=True):
        for night in of_tree:
            row[night] = STATE_INDEX[CoverState.CLOSED]
    held = [one.start for one in stands if one.start is not None]
    start = HeatStart.joined(held) if len(held) == len(stands) else None
    inside = inside_temperatures(covers, states, weathers, start, soil=soil)
    wood_c, top_c = against_limits_c((inside.wood_c, inside.top_c, inside.air_c), covers, states, weathers)
    air_c = np.stack([one.air_c for one in weathers])
    return np.stack([wood_c - air_c, top_c - air_c], axis=1)
