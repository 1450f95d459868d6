"""What a cover costs: the minutes of changing it, and while it stands rot, heat and want of light."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, Cover, CoverState
from rules.garden.tree import Phase, Tree
from rules.plan.prices import PlanPrices
from rules.plan.slots import Slot
from rules.plan.stakes import NEVER
from rules.wood.daily_temperatures import LIGHT
from rules.wood.injury import normal_share

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
CLOSED: Final = STATE_INDEX[CoverState.CLOSED]
VENTED: Final = STATE_INDEX[CoverState.VENTED]

# What is put on this fast also comes off for a warm spell; a straw cage stays on until its buds break; assumed.
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
    broken: Flags,
    slots: Sequence[Slot],
    refused: Sequence[tuple[str, datetime]],
    away: Sequence[tuple[date, date]],
    prices: PlanPrices,
    cold_ahead: Flags | None = None,
) -> Floats:
    """Price of each change at each slot, shape (slots, from, to) [trips].

    Infinite where there is no time, nobody there, the grower refused, a cover without a top would be opened, or a slow
    one would come off before the buds break or before a night that swollen wood does not bear.

    `broken` says at which slots buds have broken under a cover, open and shut, shape (slots, 2); `cold_ahead` at which
    such a night is still ahead, shape (slots,), None is none.
    """
    minutes = minutes_of_change(cover)
    slow = cover.minutes_to_wrap > BLANKET_MINUTES
    room = room_minutes(tree, slots, refused, away)
    work = np.where(minutes <= room[:, None, None], prices.of_work(1.0) * minutes, NEVER)
    if slow:
        stays = ~broken if cold_ahead is None else ~broken | cold_ahead[:, None]
        work[:, 1:, 0] = np.where(stays, NEVER, work[:, 1:, 0])
    if not cover.opens:
        work[:, :, VENTED] = NEVER
    work[:, range(3), range(3)] = 0.0
    return work


def room_minutes(
    tree: Tree, slots: Sequence[Slot], refused: Sequence[tuple[str, datetime]], away: Sequence[tuple[date, date]]
) -> Floats:
    """Working time for one tree in each slot [min]: none where nobody is there, or its grower refused."""
    until = max((moment for name, moment in refused if name == tree.name), default=None)
    gone = [any(first <= slot.day <= last for first, last in away) for slot in slots]
    asked_before = [until is not None and slot.by_utc <= until for slot in slots]
    return np.asarray(np.array([slot.room_minutes for slot in slots]) * ~(np.array(gone) | np.array(asked_before)))


AUTUMN: Final = (Phase.RIPENING, Phase.HARDENING)
BUDS_BREAK: Final = 0.7  # share of the way to leaf-out at which buds show green; assumed
ROTS_AT_C: Final = 10.0  # inside: the price of rot is paid in full here, none of it in frost; assumed
LEAVES_COOK_C: Final = 46.0  # half of a leaf's works fails (thyme 44-47 °C, J. Exp. Bot. 2024, erae096, abstract)
LEAVES_COOK_SD_C: Final = 2.0
DARK: Final = 1.0 - LIGHT  # share of the daylight that does not reach the leaves, by state


@dataclass(frozen=True, kw_only=True, eq=False)
class StandingCost:
    """The parts of what leaving a cover as it stands costs besides frost [trips], arrays of one shape."""

    rot: Floats
    hot: Floats
    pale: Floats

    @property
    def total(self) -> Floats:
        """All parts together."""
        return self.rot + self.hot + self.pale


def standing_cost(
    state: npt.ArrayLike,
    inside_c: Floats,
    hottest_c: Floats,
    leaves: npt.ArrayLike,
    developed: npt.ArrayLike,
    prices: PlanPrices,
    *,
    mould: bool = False,
) -> StandingCost:
    """What a day under a cover costs besides frost, arrays that broadcast.

    Green leaves packed in rot, under an open top as far as they are in the dark: who wraps before leaf fall has mould,
    however the top stands. Shoots that grow without light are pale and weak. Both common practice, the amounts assumed.
    Dry leafless wood loses nothing in the dark: bare-root trees are stored so for months. Only film cooks.

    Parameters
    ----------
    state
        Indices: bare, vented, closed.
    inside_c, hottest_c
        Mean and highest temperature inside of the day [°C].
    leaves, developed
        Share of the leaves still on, and of the way to leaf-out gone [0-1].
    prices
        What each part costs.
    mould
        Whether the grower saw mould under this cover: then leafless wood pays for being shut in as well.
    """
    at = np.asarray(state)
    rotting = prices.rot_per_day * np.asarray(leaves) * DARK[at] / DARK[CLOSED]
    rotting = rotting + (at == CLOSED) * (prices.mould_per_day if mould else 0.0)
    broken = np.asarray(developed) >= BUDS_BREAK
    tender = (np.asarray(leaves) > 0.0) | broken
    cooked = normal_share((hottest_c - LEAVES_COOK_C) / LEAVES_COOK_SD_C)
    return StandingCost(
        rot=rotting * np.maximum(inside_c, 0.0) / ROTS_AT_C,
        hot=(at > 0) * tender * prices.shoots * cooked,
        pale=prices.pale_per_day * DARK[at] * broken,
    )
