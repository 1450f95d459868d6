"""What each state of each cover would make of the hours to come, as the plan's march already told."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, CoverState
from rules.heat.balance import spread_c
from rules.heat.courses import STATES, joined_starts
from rules.heat.surroundings import bare_stem_c
from rules.outlook.nights import Course
from rules.plan.garden_plan import HeatAhead
from rules.plan.garden_stakes import TreeSituation

Floats = npt.NDArray[np.float64]


def state_courses(situations: Sequence[TreeSituation], heat: HeatAhead | None) -> list[dict[CoverState, Course]]:
    """Every tree in every state its cover can take, all members; bare alone where it has none, or is left so."""
    marched = {} if heat is None else {one.tree.name: i for i, one in enumerate(heat.tended)}
    spreads = _spreads(heat) if heat else {}
    found = []
    for one in situations:
        courses = {CoverState.BARE: _bare(one)}
        if heat is not None and one.tree.name in marched:
            row = marched[one.tree.name]
            for index, state in enumerate(STATES):
                courses[state] = Course(
                    wood_c=heat.courses.wood_c[row, index],
                    top_c=heat.courses.top_c[row, index],
                    air_c=heat.courses.air_c[row, index],
                    spread_c=spreads[one.tree.name, state],
                )
        found.append(courses)
    return found


def _bare(one: TreeSituation) -> Course:
    stem_c = bare_stem_c(one.weather)
    return Course(wood_c=stem_c, top_c=stem_c, air_c=one.weather.air_c, spread_c=np.zeros(stem_c.shape[-1]))


def _spreads(heat: HeatAhead) -> dict[tuple[str, CoverState], Floats]:
    """One sd of the wood from the unknown cover [°C], by tree and state, shape (hours,); none of it when bare."""
    hours = heat.courses.wood_c.shape[-1]
    rows = [(one, state) for one in heat.tended for state in (CoverState.VENTED, CoverState.CLOSED)]
    starts = [one.start for one, _ in rows if one.start is not None]
    found = spread_c(
        [one.cover for one, _ in rows if one.cover is not None],
        np.array([[STATE_INDEX[state]] * hours for _, state in rows]),
        [one.weather for one, _ in rows],
        joined_starts(starts) if starts else None,
        soil=heat.tended[0].soil,
    )
    bare = {(one.tree.name, CoverState.BARE): np.zeros(hours) for one in heat.tended}
    return bare | {(one.tree.name, state): found[i] for i, (one, state) in enumerate(rows)}
