"""A blanket over a bare tree for a single night: one more state that the plan weighs beside those of its cover.

It goes on in the evening and comes off at the next visit, so it costs two, shared like all visits. What past winters
make of the time beyond the forecast knows nothing of blankets.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, STATES, CoverState
from rules.heat.courses import CoverCourses
from rules.plan.cover_costs import room_minutes
from rules.plan.garden_stakes import AtStake
from rules.plan.prices import PlanPrices
from rules.plan.situation import TreeSituation, foreseen_share, known
from rules.plan.slots import NO_FILM_GUST_M_S, DayPart, marks_of
from rules.plan.stakes import NEVER, Stakes
from rules.wood.injury import dose_c

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

BARE: Final = STATE_INDEX[CoverState.BARE]
STOPGAP: Final = len(STATES)  # bare with a blanket over it, the state after those of the cover
ON_MINUTES: Final = 5.0  # to throw a blanket over a tree and tie it; assumed
OFF_MINUTES: Final = 2.0  # to take it off and hang it up; assumed
GAIN_SD: Final = 0.5  # of what a blanket gains is not known: how thick, how well tied. Assumed
WARMER: Final = np.array([0, 2, 3, 1])  # rank of each state by how much it keeps off


def of_cover(states: Ints) -> Ints:
    """States of the covers alone: under a blanket the cover is off."""
    return np.where(states == STOPGAP, BARE, states)


def with_stopgaps(
    at: AtStake,
    courses: CoverCourses,
    refused: Sequence[tuple[str, datetime]],
    away: Sequence[tuple[date, date]],
    prices: PlanPrices,
) -> AtStake:
    """What is at stake, with blankets where any tree may have one; else as it is."""
    if all(one.blanket_c is None for one in at.tended):
        return at
    stakes = _beside_bare(at.stakes)
    told = _felt(at, courses)
    gain_c = told[0].mean(axis=1) - at.stakes.middle_c[..., BARE].mean(axis=1)
    middle_c, tip_c = (_with(one, felt) for one, felt in zip((at.stakes.middle_c, at.stakes.tip_c), told, strict=True))
    doubt_c = _with(np.zeros_like(at.stakes.width_c), GAIN_SD * np.abs(gain_c))
    shoots = replace(
        at.shoots,
        width_c=np.hypot(_and_bare(at.shoots.width_c), doubt_c),
        unforeseen_c=_and_bare(at.shoots.unforeseen_c),
    )
    own = at.stakes.standing_cost - at.shoots.frost_cost(at.stakes.middle_c, at.stakes.tip_c)
    stakes = replace(
        stakes, middle_c=middle_c, tip_c=tip_c, width_c=np.hypot(stakes.width_c, doubt_c),
        standing_cost=_and_bare(own) + shoots.frost_cost(middle_c, tip_c),
        work=np.stack([_work(at, i, refused, away, prices) for i in range(len(at.tended))]),
    )  # fmt: skip
    return replace(
        at, stakes=stakes, spread_c=np.hypot(_and_bare(at.spread_c), doubt_c), damping=_and_bare(at.damping),
        shoots=shoots,
    )  # fmt: skip


def _and_bare(values: Floats) -> Floats:
    """Values by state, last axis, with those of the bare state once more for the blanket."""
    return np.concatenate([values, values[..., BARE : BARE + 1]], axis=-1)


def _with(values: Floats, blanket: Floats) -> Floats:
    return np.concatenate([values, blanket[..., None]], axis=-1)


def _beside_bare(stakes: Stakes) -> Stakes:
    """The same stakes with a state more that is as the bare one: a blanket holds no heat of its own."""
    return replace(
        stakes,
        nodes_c=np.concatenate([stakes.nodes_c, stakes.nodes_c[..., BARE : BARE + 1, :]], axis=-2),
        fades=np.concatenate([stakes.fades, stakes.fades[:, :, BARE : BARE + 1]], axis=2),
        tissue=np.concatenate([stakes.tissue, stakes.tissue[:, :, BARE : BARE + 1]], axis=2),
        tail=np.concatenate([stakes.tail, stakes.tail[:, BARE : BARE + 1]], axis=1),
        unforeseen_c=_and_bare(stakes.unforeseen_c),
        softens_c=_and_bare(stakes.softens_c),
        width_c=_and_bare(stakes.width_c),
        tip_keeps=_and_bare(stakes.tip_keeps),
    )


def _felt(at: AtStake, courses: CoverCourses) -> tuple[Floats, Floats]:
    """What hurts from each slot to the next under a blanket, middle and tip, each (trees, members, slots) [°C]."""
    marks = marks_of(at.slots, courses.wood_c.shape[-1])
    foreseen = foreseen_share(at.tended, [slice(a + 1, b + 1) for a, b in pairwise(marks)])
    found = [at.stakes.middle_c[..., BARE].copy(), at.stakes.tip_c[..., BARE].copy()]
    for i, one in enumerate(at.tended):
        if one.blanket_c is None:
            continue
        for part, bare_c in enumerate((courses.wood_c[i, BARE], courses.top_c[i, BARE])):
            under_c = bare_c + one.blanket_c[part]
            doses = np.stack([dose_c(under_c[:, a + 1 : b + 1]) for a, b in pairwise(marks)], -1)
            found[part][i] = known(doses[None, None], foreseen[i : i + 1])[0, ..., 0]
    return found[0], found[1]


def _work(
    at: AtStake,
    i: int,
    refused: Sequence[tuple[str, datetime]],
    away: Sequence[tuple[date, date]],
    prices: PlanPrices,
) -> Floats:
    """Price of each change of one tree at each slot, (slots, from, to) [trips].

    A blanket goes on in the evening, where no gust of its night would take it, and comes off as soon as somebody can.
    From under it the cover goes on as from a bare tree.
    """
    one, slots, cover = at.tended[i], at.slots, at.stakes.work[i]
    work = np.full((len(slots), STOPGAP + 1, STOPGAP + 1), NEVER)
    work[:, :STOPGAP, :STOPGAP] = cover
    if one.blanket_c is None:
        work[:, STOPGAP, STOPGAP] = 0.0
        return work
    room = room_minutes(one.tree, slots, refused, away)
    evening = np.array([slot.part is DayPart.EVENING for slot in slots])
    goes_on = evening & (room >= ON_MINUTES) & _calm_nights(one, at)
    comes_off = ~evening & (room >= OFF_MINUTES)
    work[:, BARE, STOPGAP] = np.where(goes_on, prices.of_work(ON_MINUTES), NEVER)
    work[:, STOPGAP, :STOPGAP] = cover[:, BARE] + prices.of_work(OFF_MINUTES)
    work[:, STOPGAP, STOPGAP] = np.where(comes_off, NEVER, 0.0)
    return work


def _calm_nights(one: TreeSituation, at: AtStake) -> npt.NDArray[np.bool_]:
    """After which slots no gust would tear a blanket off before the next."""
    marks = marks_of(at.slots, one.weather.air_c.shape[-1])
    gust_m_s = np.nan_to_num(np.atleast_2d(one.weather.gust_m_s).max(axis=0))
    spans = pairwise(marks)
    return np.array([bool((gust_m_s[a + 1 : b + 1] < NO_FILM_GUST_M_S).all()) for a, b in spans])
