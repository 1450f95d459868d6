"""What each organ can take, from the state of the watched one and the table of its species."""

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.species import Organ, SpeciesRow
from rules.garden.tree import Phase

Floats = npt.NDArray[np.float64]

AUTUMN: Final = (Phase.RESTING, Phase.HARDENING, Phase.RIPENING, Phase.GROWING)  # hardest first
SPRING: Final = (Phase.RESTING, Phase.WAKING, Phase.GROWING)


def organ_lt10_c(row: SpeciesRow, organ: Organ, hc_c: Floats, ready: Floats) -> tuple[Floats, Floats]:
    """10 and 50 % injury temperatures [°C] of an organ, from the state of the watched one.

    The table's phases are the points; the state slides between them. In deep rest it runs over ripening and hardening,
    ready to wake over waking, so that T10 closes up to T50 as the table says it does in spring; between, between.
    """
    found = []
    for name in ("t10_c", "t50_c"):
        autumn, spring = (_between(row, organ, name, hc_c, phases) for phases in (AUTUMN, SPRING))
        found.append(autumn + ready * (spring - autumn))
    return found[0], found[1]


def _between(row: SpeciesRow, organ: Organ, name: str, hc_c: Floats, phases: Sequence[Phase]) -> Floats:
    points = [row.t50_c(phase) for phase in phases]
    table = row.organs[organ]
    values = [getattr(table.get(phase, table[Phase.GROWING]), name) for phase in phases]
    return np.asarray(np.interp(hc_c, points, values), dtype=np.float64)
