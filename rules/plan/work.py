"""What changing a cover takes: minutes, and its price at each time somebody can go."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Cover
from rules.garden.tree import Phase, Tree
from rules.plan.prices import PlanPrices
from rules.plan.slots import Slot
from rules.plan.stakes import NEVER
from rules.plan.standing_costs import SPRING

Floats = npt.NDArray[np.float64]

# What is put on this fast also comes off for a warm spell; a straw cage stays on until its tree wakes; assumed.
BLANKET_MINUTES: Final = 30.0
STRIP_SHARE: Final = 0.5  # of the minutes to wrap, to take a cover off; assumed


def minutes_of_change(cover: Cover) -> Floats:
    """Minutes of going from each state to each, shape (3, 3)."""
    wrap, cap = cover.minutes_to_wrap, cover.minutes_to_close
    strip = STRIP_SHARE * wrap
    return np.array([[0.0, wrap, wrap + cap], [strip, 0.0, cap], [strip, cap, 0.0]])


def work_of(
    tree: Tree,
    cover: Cover,
    phase: Phase,
    slots: Sequence[Slot],
    refused: Sequence[tuple[str, datetime]],
    away: Sequence[tuple[date, date]],
    prices: PlanPrices,
) -> Floats:
    """Price of each change at each slot, shape (slots, from, to) [trips].

    Infinite where there is no time, nobody there, the grower refused, or a slow cover would come off in winter.
    """
    minutes = minutes_of_change(cover)
    if cover.minutes_to_wrap > BLANKET_MINUTES and phase not in SPRING:
        minutes[1:, 0] = NEVER
    until = max((moment for name, moment in refused if name == tree.name), default=None)
    work = np.empty((len(slots), *minutes.shape))
    for k, slot in enumerate(slots):
        gone = any(first <= slot.day <= last for first, last in away)
        asked_before = until is not None and slot.by_utc <= until
        room = 0.0 if gone or asked_before else slot.room_minutes
        work[k] = np.where(minutes <= room, prices.of_work(1.0) * minutes, NEVER)
        np.fill_diagonal(work[k], 0.0)
    return work
