"""What a cover costs: the minutes of changing it, and while it stands damp, waking, heat and want of light."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Cover
from rules.garden.tree import Phase, Tree
from rules.plan.prices import PlanPrices
from rules.plan.slots import Slot
from rules.plan.stakes import NEVER

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

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


HARDENS_BELOW_C: Final = 10.0  # daily mean below which wood hardens before its chill is met: the model's threshold
WAKES_ABOVE_C: Final = 5.0  # once chill is met (Kaku 1983: hardiness kept best at 5 °C); no venting figure known
SOFTENS_ABOVE_C: Final = 10.0  # before chill is met: the hard limit, assumed without source
HOT_C: Final = 17.0  # air inside at which a sealed cover wants opening; computed for clear film in winter sun
HOTTER_C: Final = 10.0  # degrees above it at which the whole price is paid; assumed
SHUT: Final = np.array([False, False, True])
COVERED: Final = np.array([False, True, True])
AUTUMN: Final = (Phase.RIPENING, Phase.HARDENING)
SPRING: Final = (Phase.WAKING, Phase.GROWING)


@dataclass(frozen=True, kw_only=True, eq=False)
class StandingCost:
    """The parts of what a state costs from each slot to the next [trips], each (members, slots, states)."""

    damp: Floats
    unhardened: Floats
    softened: Floats
    hot: Floats
    shaded: Floats
    early: Floats

    @property
    def total(self) -> Floats:
        """All parts together; an early start is worth something, not a cost."""
        return self.damp + self.unhardened + self.softened + self.hot + self.shaded - self.early


def standing_cost(
    wood_c: Floats, hottest_c: Floats, days: Floats, phase: Phase, prices: PlanPrices, *, chill_met: bool
) -> StandingCost:
    """What leaving the cover in each state costs besides injury.

    A shut cover pays for all the warmth in it, for there it is stale and damp; an open one only for what it is warmer
    than a bare tree. So a colder forecast never pleads for opening. Thresholds are those of hardening and waking; the
    forms are assumed.

    Parameters
    ----------
    wood_c, hottest_c
        Mean temperature of the wood and highest air inside from each slot to the next [°C], shape (members, slots,
        states), states bare, vented, closed.
    days
        Length of each stretch [days], shape (slots,).
    phase, chill_met
        Phase of the tree, and whether its chill is met.
    prices
        What each part costs.
    """
    span = days[:, None]
    awake = chill_met or phase in SPRING
    warm = np.maximum(0.0, wood_c - (WAKES_ABOVE_C if awake else SOFTENS_ABOVE_C)) * span
    hardening = prices.hardening_per_day if phase in AUTUMN else 0.0
    softening = 0.0 if phase in (*AUTUMN, Phase.GROWING) else prices.softening_per_c_day
    shaded = prices.shaded_per_day if phase is Phase.GROWING else 0.0
    early = prices.early_start_per_c_day if phase in SPRING else 0.0
    return StandingCost(
        damp=prices.damp_per_day * span * np.broadcast_to(SHUT, wood_c.shape),
        unhardened=_charged(hardening * span * np.clip(wood_c / HARDENS_BELOW_C, 0.0, 1.0)),
        softened=_charged(softening * warm),
        hot=_charged(prices.hot_per_day * np.clip((hottest_c - HOT_C) / HOTTER_C, 0.0, 1.0)),
        shaded=shaded * span * np.broadcast_to(COVERED, wood_c.shape),
        early=early * np.maximum(0.0, wood_c - wood_c[..., :1]) * (wood_c > WAKES_ABOVE_C) * span,
    )


def nights_standing_cost(
    wood_c: Floats, hottest_c: Floats, spells: Iterable[tuple[Flags, Phase, bool]], prices: PlanPrices
) -> Floats:
    """What the states cost from one evening to the next over a season, shape (..., nights, states) [trips].

    `spells` says of which nights, shape (nights,), in which phase, and whether the chill is met; temperatures as in
    `standing_cost`.
    """
    total = np.empty(wood_c.shape)
    for chosen, phase, met in spells:
        if chosen.any():
            day = np.ones(chosen.sum())
            one = standing_cost(wood_c[..., chosen, :], hottest_c[..., chosen, :], day, phase, prices, chill_met=met)
            total[..., chosen, :] = one.total
    return total


def _charged(part: Floats) -> Floats:
    """Nothing when bare, what is more than bare when vented, all of it when closed."""
    return np.asarray(np.maximum(0.0, part - part[..., :1] * ~SHUT))
