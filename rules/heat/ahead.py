"""The hours to come at every tree of a garden, its cover left in each state: reckoned once, for nights and plan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, STATES, Cover, CoverState
from rules.garden.tree import SiteSoil
from rules.heat.balance import SpreadRows
from rules.heat.courses import CoverCourses, cover_courses
from rules.heat.marching.start import HeatStart
from rules.heat.surroundings import TreeAir

Floats = npt.NDArray[np.float64]

BUILT = (CoverState.VENTED, CoverState.CLOSED)


@dataclass(frozen=True, kw_only=True, eq=False)
class StateCourse:
    """What one state of a cover would make of the hours to come.

    `wood_c`, `top_c`, `air_c` [°C], shape (members, hours), all three the air where it is bare; `spread_c` 1 sd of the
    wood from the unknown cover [°C], shape (hours,).
    """

    wood_c: Floats
    top_c: Floats
    air_c: Floats
    spread_c: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class HeatAhead:
    """The heat of a garden from now on.

    Parameters
    ----------
    by_tree
        Every tree in every state its cover can take; bare alone where it has none.
    covered
        The trees that have a cover, in their order, with how differences between states fade; None without any.
    """

    by_tree: Sequence[Mapping[CoverState, StateCourse]]
    covered: CoverCourses | None


def heat_ahead(
    covers: Sequence[Cover | None],
    weathers: Sequence[TreeAir],
    start: HeatStart | None,
    soil: SiteSoil,
    lags_h: int,
    marks: Sequence[int] = (),
) -> HeatAhead:
    """The heat of some trees, marched once.

    Parameters
    ----------
    covers, weathers
        One of each per tree, no cover where the tree has none or is left bare; weather (members, hours).
    start
        What the covers and the ground of all these trees hold at the first mark; None as in `inside_temperatures`.
    lags_h, marks
        As in `cover_courses`; no nodes are kept unless they are asked for.
    """
    rows = [row for row, cover in enumerate(covers) if cover is not None]
    by_tree: list[Mapping[CoverState, StateCourse]] = [{CoverState.BARE: bare_course(one)} for one in weathers]
    if not rows:
        return HeatAhead(by_tree=by_tree, covered=None)
    stand = [cover for cover in covers if cover is not None]
    skies, held = [weathers[row] for row in rows], start.of(rows) if start else None
    doubt = _doubt(stand, skies, held, soil)
    courses = cover_courses(stand, skies, held, soil, lags_h, [doubt.rows], marks)
    spreads = np.zeros((len(stand), len(STATES), skies[0].air_c.shape[-1]))
    spreads[:, [STATE_INDEX[state] for state in BUILT]] = doubt.spread_c().reshape(len(stand), len(BUILT), -1)
    for at, row in enumerate(rows):
        by_tree[row] = {
            state: StateCourse(
                wood_c=courses.wood_c[at, index],
                top_c=courses.top_c[at, index],
                air_c=courses.air_c[at, index],
                spread_c=spreads[at, index],
            )
            for index, state in enumerate(STATES)
        }
    return HeatAhead(by_tree=by_tree, covered=courses)


def bare_course(weather: TreeAir) -> StateCourse:
    """A tree with nothing over it: the air at it, which limits are of, not the stem, which radiates below it."""
    air_c = weather.air_c
    return StateCourse(wood_c=air_c, top_c=air_c, air_c=air_c, spread_c=np.zeros(air_c.shape[-1]))


def _doubt(covers: Sequence[Cover], weathers: Sequence[TreeAir], start: HeatStart | None, soil: SiteSoil) -> SpreadRows:
    """What is unknown of the covers, in each of the built states."""
    hours = weathers[0].air_c.shape[-1]
    return SpreadRows(
        [cover for cover in covers for _ in BUILT],
        np.array([[STATE_INDEX[state]] * hours for _ in covers for state in BUILT]),
        [weather for weather in weathers for _ in BUILT],
        start.of([row for row in range(len(covers)) for _ in BUILT]) if start else None,
        soil,
    )
