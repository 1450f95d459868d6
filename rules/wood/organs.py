"""What each organ can take, from the state of the watched one and the table of its species."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.species import Organ, SpeciesRow
from rules.garden.tree import Phase
from rules.wood.buds.stage import BudStage

Floats = npt.NDArray[np.float64]

AUTUMN: Final = (Phase.RESTING, Phase.HARDENING, Phase.RIPENING, Phase.GROWING)  # hardest first
SPRING: Final = (Phase.RESTING, Phase.WAKING, Phase.GROWING)
LEAST_STEP_C: Final = 0.5  # between the 10 and the 50 % point of buds: grape in October, the steepest measured


@dataclass(frozen=True, kw_only=True)
class OrganHardiness:
    """Temperatures [°C] that injure 10 % (`lt10_c`) and 50 % (`lt50_c`) of one organ tonight, and their basis."""

    lt10_c: float
    lt50_c: float
    source: str


def organ_lt10_c(row: SpeciesRow, organ: Organ, hc_c: Floats, ready: Floats) -> tuple[Floats, Floats]:
    """10 and 50 % injury temperatures [°C] of an organ, from the state of the watched one.

    The table's phases are the points; the state slides between them. In deep rest it runs over ripening and hardening,
    ready to wake over waking, so that LT10 closes up to LT50 as the table says it does in spring; between, between.
    """
    found = []
    for name in ("lt10_c", "lt50_c"):
        autumn, spring = (_between(row, organ, name, hc_c, phases) for phases in (AUTUMN, SPRING))
        found.append(autumn + ready * (spring - autumn))
    return found[0], found[1]


def _between(row: SpeciesRow, organ: Organ, name: str, hc_c: Floats, phases: Sequence[Phase]) -> Floats:
    points = [row.lt50_c(phase) for phase in phases]
    table = row.organs[organ]
    values = [getattr(table.get(phase, table[Phase.GROWING]), name) for phase in phases]
    return np.asarray(np.interp(hc_c, points, values), dtype=np.float64)


def decides(row: SpeciesRow, phase: Phase) -> Organ:
    """The organ decisions rest on: what freezes first of what one waits for; in leaf the shoots, else the row's own."""
    return Organ.SHOOTS if phase is Phase.GROWING else row.watched


def organs_standing(row: SpeciesRow, hc_c: Floats, ready: Floats, *, leafy: bool) -> dict[Organ, OrganHardiness]:
    """Every organ that stands, from the state of the watched one; green shoots only on a tree in leaf."""
    found = {}
    for organ in Organ:
        if organ is Organ.SHOOTS and not leafy:
            continue
        lt10_c, lt50_c = organ_lt10_c(row, organ, hc_c, ready)
        basis = row.organs[organ][Phase.GROWING].source
        found[organ] = OrganHardiness(lt10_c=float(lt10_c[0]), lt50_c=float(lt50_c[0]), source=basis)
    return found


def at_stage(buds: OrganHardiness, stage: BudStage) -> OrganHardiness:
    """Buds as the published table has them at a stage that was seen; at a modelled one where that is the warmer."""
    critical = stage.row.critical
    if stage.seen and critical.t50_c is not None:
        return OrganHardiness(lt10_c=critical.t10_c, lt50_c=critical.t50_c, source=stage.row.source)
    lt50_c = buds.lt50_c if critical.t50_c is None else max(buds.lt50_c, critical.t50_c)
    lt10_c = max(buds.lt10_c, critical.t10_c)
    return OrganHardiness(lt10_c=lt10_c, lt50_c=min(lt50_c, lt10_c - LEAST_STEP_C), source=stage.row.source)
