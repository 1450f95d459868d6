"""Simple ways of tending a cover through a season, each a few numbers: what one does when forecasts say so."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, CoverState
from rules.plan.cover_costs import BUDS_BREAK
from rules.wood.season import day_of_season

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

BARE, VENTED, CLOSED = (STATE_INDEX[state] for state in (CoverState.BARE, CoverState.VENTED, CoverState.CLOSED))
NEVER: Final = -np.inf
AT_ONCE: Final = np.inf
NO_DAY_C: Final = np.inf  # no day is so warm
LAST_WRAP: Final = day_of_season((3, 1))  # nobody wraps a tree after it: spring frosts have lighter covers; assumed
WRAPS_AT_C: Final = (0.0, 2.0, 4.5)  # margins above the 50 % point that are tried for wrapping
SHUTS_AT_C: Final = (AT_ONCE, 1.0, 3.5)  # and for shutting
# For whoever can come only on some days, more: a forecast of a week errs by twice that of the next day.
SELDOM_WRAPS_AT_C: Final = (*WRAPS_AT_C, 8.0)
SELDOM_SHUTS_AT_C: Final = (*SHUTS_AT_C, 7.0)
STRIPS_AT: Final = (BUDS_BREAK, 1.0)
# "Shut before a night it does not bear": told colder than half a spread (1.4 °C, of wood and forecast together) above
# what it is safe to, at rest some three degrees above the 50 % point: three in ten that it is too cold, and from there
# on a shut cover is offered unasked. Common practice for the rule, no source for the odds.
TAUGHT_MARGIN_C: Final = 4.5
CLEAR_C: Final = 2.0  # further above what shuts a cover nights must stay to open it, or it flutters; assumed
TAUGHT_WARM_C: Final = 10.0  # days as warm as this are let in: common practice, no source
TAUGHT_STRIP: Final = day_of_season((6, 1))
EARLY_FROM: Final = day_of_season((3, 15))  # one opening from here on; assumed
# A shut cover warmer by day in spring than it is reckoned wakes its tree: ignored, 2 °C cost 1.3 trips a winter and
# 4 °C 5.3 (reckoned once on 36 winters made like a cold valley's). A thermometer inside this far above settles it.
WARM_INSIDE_C: Final = 3.0


@dataclass(frozen=True, kw_only=True)
class Way:
    """One way of tending.

    Parameters
    ----------
    wraps_at_c
        A bare tree is wrapped once one of four nights is told to fall under its 50 % point and this [°C].
    opens_first
        Whether it is wrapped with the top left off.
    shuts_at_c
        An open cover is shut once tonight or tomorrow is told to fall under the 50 % point and this [°C].
    opens_from, opens_above_c
        First day of the season, and mean of the day outside [°C], from which a shut cover is opened, if four nights
            are told to stay clear of what shuts it.
    opens_once
        Whether all nights that are told must, not four: opened for days and shut again it was not one opening.
    strips_at, strips_from
        Share of the way to leaf-out, and first day of the season, from which it comes off, if all nights told stay
        above what swollen wood bears.
    """

    wraps_at_c: float = NEVER
    opens_first: bool = False
    shuts_at_c: float = AT_ONCE
    opens_from: int = 0
    opens_above_c: float = NO_DAY_C
    opens_once: bool = False
    strips_at: float = BUDS_BREAK
    strips_from: int = 0


TAUGHT: Final = Way(
    wraps_at_c=TAUGHT_MARGIN_C, opens_first=True, shuts_at_c=TAUGHT_MARGIN_C, opens_above_c=TAUGHT_WARM_C,
    strips_at=0.0, strips_from=TAUGHT_STRIP,
)  # fmt: skip
EARLY: Final = Way(
    wraps_at_c=TAUGHT_MARGIN_C, opens_first=True, shuts_at_c=TAUGHT_MARGIN_C, opens_from=EARLY_FROM,
    opens_above_c=NEVER, opens_once=True,
)  # fmt: skip


def opens_by_thermometer(day: int, warmer_c: float) -> bool:
    """Whether a cover read so much warmer by day than it is reckoned, on a day of the season, is to be opened.

    >>> opens_by_thermometer(EARLY_FROM, 3.5), opens_by_thermometer(EARLY_FROM, 2.5), opens_by_thermometer(90, 3.5)
    (True, False, False)
    """
    return day >= EARLY_FROM and warmer_c > WARM_INSIDE_C


def ways_from(state: int, *, seldom: bool = False) -> tuple[Way, ...]:
    """The ways that are tried from a state on; `seldom` where nobody can come on some days."""
    wraps_at_c, shuts_at_c = (SELDOM_WRAPS_AT_C, SELDOM_SHUTS_AT_C) if seldom else (WRAPS_AT_C, SHUTS_AT_C)
    if state == CLOSED:
        return tuple(Way(strips_at=at) for at in STRIPS_AT)
    if state == VENTED:
        return tuple(Way(shuts_at_c=c, strips_at=at) for c, at in product(shuts_at_c, STRIPS_AT))
    wrapped = (
        Way(wraps_at_c=wraps, opens_first=shuts != AT_ONCE, shuts_at_c=shuts, strips_at=at)
        for wraps, shuts, at in product(wraps_at_c, shuts_at_c, STRIPS_AT)
    )
    return (Way(), *wrapped)


@dataclass(frozen=True, kw_only=True, eq=False)
class WayLanes:
    """The ways of many lanes, arrays (lanes,)."""

    wraps_at_c: Floats
    opens_first: Flags
    shuts_at_c: Floats
    opens_from: Ints
    opens_above_c: Floats
    opens_once: Flags
    strips_at: Floats
    strips_from: Ints

    @classmethod
    def of(cls, each: Sequence[Way] | Iterable[Way]) -> "WayLanes":
        """One lane a way."""
        listed = list(each)
        return cls(**{field.name: np.array([getattr(one, field.name) for one in listed]) for field in fields(Way)})

    def joined(self, others: "WayLanes") -> "WayLanes":
        """These and others behind them."""
        both = {field.name: [getattr(one, field.name) for one in (self, others)] for field in fields(WayLanes)}
        return WayLanes(**{name: np.concatenate(each) for name, each in both.items()})

    def taken(self, at: Ints) -> "WayLanes":
        """The ways of some lanes."""
        return WayLanes(**{field.name: getattr(self, field.name)[at] for field in fields(WayLanes)})


@dataclass(frozen=True, kw_only=True, eq=False)
class Evening:
    """What an evening knows, arrays (lanes,) [°C].

    The least that is told of the nights looked at for each turn: `wraps_c` bare in four nights, `shuts_c` under an open
    cap in two, `opens_c` in four or in all, `strips_c` bare in all. `mild_c` the day's mean outside; `lt50_c`,
    `developed` the wood; `bears_c` what swollen wood is safe to; `stripped` who took the cover off for good;
    `can_wrap`, `can_shut` whether there is time for it today.
    """

    day: int
    state: Ints
    wraps_c: Floats
    shuts_c: Floats
    opens_c: Floats
    strips_c: Floats
    mild_c: Floats
    lt50_c: Floats
    developed: Floats
    bears_c: float
    stripped: Flags
    can_wrap: bool
    can_shut: bool


def tended(ways: WayLanes, told: Evening) -> Ints:
    """The states from this evening on, shape (lanes,)."""
    state, covered = told.state, told.state > BARE
    shuts = told.shuts_c < told.lt50_c + ways.shuts_at_c
    wraps = ~covered & ~told.stripped & (told.wraps_c < told.lt50_c + ways.wraps_at_c)
    wraps &= told.can_wrap & (told.day < LAST_WRAP)
    opens = (state == CLOSED) & (told.day >= ways.opens_from) & (told.mild_c >= ways.opens_above_c)
    opens &= told.opens_c > told.lt50_c + ways.shuts_at_c + CLEAR_C
    strips = covered & (told.developed >= ways.strips_at) & (told.day >= ways.strips_from)
    strips &= (told.strips_c > told.bears_c) & told.can_wrap
    after = np.where(wraps, np.where(ways.opens_first & ~shuts, VENTED, CLOSED), state)
    after = np.where((state == VENTED) & shuts & told.can_shut, CLOSED, after)
    after = np.where(opens & told.can_shut, VENTED, after)
    return np.asarray(np.where(strips, BARE, after))


def way_gone(developed: npt.ArrayLike, evergreen: npt.ArrayLike, day: npt.ArrayLike) -> Floats:
    """Share of the way to leaf-out; an evergreen, which has no buds to wait for, waits for the frosts alone."""
    return np.where(np.asarray(evergreen) & (np.asarray(day) >= LAST_WRAP), 1.0, developed)
