"""A tree as the plan meets it, and how much of its nights the forecasts to come will have told."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Cover, CoverState
from rules.garden.species import Organ
from rules.garden.tree import Tending, Tree
from rules.heat.properties import COVER_SD_C, LEAST_SHARE, ReadCover
from rules.plan.beyond_forecast import Tables
from rules.plan.grower.free_hours import ANY_TIME, FreeHours
from rules.site.microclimate import TreeWeather
from rules.weather.members import lead_sigma_c
from rules.wood.hardiness import Hardiness, tree_row
from rules.wood.injury import dose_c, normal_share
from rules.wood.organs import OrganHardiness

Floats = npt.NDArray[np.float64]

LAST_LOOK_H: Final = 18.0  # how long before a night's low its last ask goes out: what is unknown then stays unknown
LAST_LOOK_SD_C: Final = float(lead_sigma_c(LAST_LOOK_H))


@dataclass(frozen=True, kw_only=True, eq=False)
class TreeSituation:
    """One tree as the plan meets it.

    Parameters
    ----------
    tree, cover
        The tree and its cover.
    state
        How the cover stands; bare where nobody has said, which is the colder.
    weather
        Weather at the tree; air of shape (members, hours), the first mark at `now` or less than an hour before.
    hardiness
        What its wood can take.
    sd_c
        One standard deviation of the wood from an unknown cover [°C] by state; states left out take that of
        a cover nobody has read closed and vented, 0 bare.
    lost_share
        Expected share of its wood already lost this winter [0-1].
    last_look_sd_c
        One sd of the last forecast before a night [°C]: as published, or as this garden has seen it.
    free
        When its grower can work.
    mould
        Whether mould was seen under its cover.
    tables
        Seasons' tables made before, by what they were made of; what is made is added.
    asked
        Whether its grower was asked today to put the cover on or shut it, and has not answered.
    blanket_c
        How much warmer a blanket over the bare tree would keep its wood and the top of it [°C], shape (2, hours), see
        `rules/heat/stopgap`; None where none is weighed.
    """

    tree: Tree
    cover: Cover
    state: CoverState
    weather: TreeWeather
    hardiness: Hardiness
    sd_c: Mapping[CoverState, float] | None = None
    lost_share: float = 0.0
    last_look_sd_c: float = LAST_LOOK_SD_C
    free: FreeHours = ANY_TIME
    mould: bool = False
    tables: Tables = field(default_factory=dict)
    asked: bool = False
    blanket_c: Floats | None = None

    def cover_sd_in(self, state: CoverState) -> float:
        """One sd of the wood from what is not known of its cover in a state [°C]."""
        given = (self.sd_c or {}).get(state)
        return (0.0 if state == CoverState.BARE else COVER_SD_C) if given is None else given


def in_leaf(one: TreeSituation) -> bool:
    """Whether what freezes first are a tree's new shoots, which grow again; the wood behind them does not."""
    return one.hardiness.watched is Organ.SHOOTS


def tends_in_own_way(tree: Tree) -> bool:
    """Whether its grower tends it in a way of their own, for which nothing is weighed."""
    return tree.tending not in (None, Tending.FEWEST_TRIPS)


def too_cold(tended: Sequence[TreeSituation], felt_c: Floats, spread_c: Floats) -> Floats:
    """Chance that what is watched gets colder than it can take, the mean over the members.

    `felt_c` of shape (trees, members, slots, ...), `spread_c` one sd besides, (trees, slots, ...) [°C].
    """
    tree = (-1, *(1 for _ in felt_c.shape[2:]))
    lt10_c, sd_c = (
        np.array([getattr(one.hardiness, name) for one in tended]).reshape(tree) for name in ("lt10_c", "sd_c")
    )
    width = np.maximum(np.hypot(spread_c, sd_c), 0.05)
    return np.asarray(normal_share((lt10_c - felt_c.swapaxes(0, 1)) / width).mean(axis=0))


def lasting_organ(one: TreeSituation) -> OrganHardiness:
    """What a tree's worth stands or falls by: what is watched, in leaf the wood behind the shoots."""
    found = one.hardiness
    watched = OrganHardiness(lt10_c=found.lt10_c, lt50_c=found.lt50_c, source=found.label)
    return found.organs.get(tree_row(one.tree, found.day).watched, watched) if in_leaf(one) else watched


def cover_sd_c(cover: Cover) -> float:
    """One sd of the wood from what is unknown of a cover [°C]: less where a thermometer was inside."""
    if not isinstance(cover, ReadCover):
        return COVER_SD_C
    left = float(np.sqrt(np.mean(np.diag(np.array(cover.doubt)))))
    return COVER_SD_C * max(left, LEAST_SHARE)


def foreseen_share(tended: Sequence[TreeSituation], spans: Sequence[slice]) -> Floats:
    """Share of a member's departure from the mean that forecasts will have told by the last look, (trees, slots).

    The error of the last forecast before a night, sigma(LAST_LOOK_H), stays unknown when the last act is chosen; only
    the rest of the variance is recourse. Tonight's members therefore all fall back on the mean, and their spread is
    what the night will come out by.
    """
    last_c2 = np.array([[one.last_look_sd_c**2] for one in tended])
    by_hour = [one.weather.air_c.var(axis=0) for one in tended]
    var = np.stack([[var[span].mean() for span in spans] for var in by_hour])
    return np.asarray(np.sqrt(np.clip(1.0 - last_c2 / np.maximum(var, 1e-9), 0.0, 1.0)))


def air_doses_c(tended: Sequence[TreeSituation], spans: Sequence[slice]) -> Floats:
    """What the air at each tree hurts as, from each slot to the next [°C], shape (trees, slots, members)."""
    air_c = np.stack([one.weather.air_c for one in tended])
    return np.stack([dose_c(air_c[..., span]) for span in spans], axis=1)


def known(tissue: Floats, foreseen: Floats) -> Floats:
    """Members with the unforeseeable taken out: (trees, states, members, slots) to (trees, members, slots, states)."""
    mean = tissue.mean(axis=2, keepdims=True)
    return np.moveaxis(mean + foreseen[:, None, None] * (tissue - mean), 1, 3)


def unforeseen_of(tissue: Floats, foreseen: Floats) -> Floats:
    """One sd of what hurts from the error of the last forecast [°C], shape (trees, slots, states)."""
    return np.asarray(np.sqrt((1.0 - foreseen**2)[..., None] * np.moveaxis(tissue.var(axis=2), 1, 2)))
