"""What a march gives, and the tip of a stem in an open top."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.heat.surroundings import stem_excess_c

Array = npt.NDArray[np.float64]

BARE: Final = 0
VENTED: Final = 1
CLOSED: Final = 2


@dataclass(frozen=True, kw_only=True, eq=False)
class Marched:
    """Temperatures [°C], shape (hours, rows); `nodes_c` (rows, nodes) and `water_j` (rows,) at the last mark."""

    wood_c: Array
    top_c: Array
    air_c: Array
    nodes_c: Array
    water_j: Array
    history_c: Array  # (marks kept, nodes, rows), wood last


def open_tip_c(point: list[Any], inside_c: Any, mouth: Any) -> Any:
    """The tip of a stem that is partly out in the open [°C]: a bare stem behind a wall.

    Air, wind, sun and sky come to it from outside by the share `mouth`, the rest of its air and of what it sees is the
    air and the walls inside. 1 is the bare stem itself, 0 a stem among walls as warm as their air.
    """
    air, radiative, wind, side_sky, side_sun, *_ = point
    return inside_c + mouth * (air - inside_c) + stem_excess_c(radiative, wind, side_sky, side_sun, mouth)
