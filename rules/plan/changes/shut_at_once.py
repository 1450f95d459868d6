"""A cover put on before a night that is too cold for it open is shut by the same hands, or left in the shed."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, CoverState
from rules.plan.slots import DayPart, Slot
from rules.plan.stakes import NEVER

Floats = npt.NDArray[np.float64]

BARE, VENTED, CLOSED = (STATE_INDEX[state] for state in (CoverState.BARE, CoverState.VENTED, CoverState.CLOSED))
TELLING_CHANCE: Final = 0.15  # by which an act lessens the chance of a night too cold: it is for this night. No source


def of_whole_nights(chance: Floats, slots: Sequence[Slot]) -> Floats:
    """Chances of the evenings with those of the mornings after them, shape (trees, slots, ...).

    A shut cover is coldest after its night.
    """
    whole = chance.copy()
    for k, (one, after) in enumerate(pairwise(slots)):
        if one.part == DayPart.EVENING and after.part == DayPart.MORNING:
            whole[:, k] = np.maximum(chance[:, k], chance[:, k + 1])
    return whole


def shut_at_once(work: Floats, chance: Floats, slots: Sequence[Slot]) -> Floats:
    """Prices of changes without those that put a cover on and leave its top open for a night that tells against it.

    The winter may well take later what an open top loses tonight, so that ten minutes more hardly paid by the plan;
    but nobody drags straw to a tree at dusk and leaves it open to the very cold it was dragged there for. Where there
    is no time for the top as well, the wrap alone is better than none.

    Parameters
    ----------
    work
        Shape (trees, slots, from, to) [trips].
    chance
        Of too cold a time from each slot to the next with the cover left in each state, shape (trees, slots, states).
    """
    tonight = of_whole_nights(chance, slots)
    for k, (one, after) in enumerate(pairwise(slots)):
        if one.part == DayPart.MORNING and after.day == one.day:
            tonight[:, k] = np.maximum(tonight[:, k], tonight[:, k + 1])
    return without_open_wraps(work, tonight)


def without_open_wraps(work: Floats, tonight: Floats) -> Floats:
    """The same by the chances of the whole night after each slot, shape (trees, slots, states)."""
    tells = tonight[..., VENTED] - tonight[..., CLOSED] >= TELLING_CHANCE
    barred = tells & np.isfinite(work[..., BARE, CLOSED])
    found = work.copy()
    found[..., BARE, VENTED] = np.where(barred, NEVER, work[..., BARE, VENTED])
    return found
