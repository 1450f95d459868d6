"""Where a march begins: what covers and ground hold."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import numpy.typing as npt

from rules.garden.tree import SiteSoil
from rules.site.soil import at_depths

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class HeatStart:
    """What the covers and the ground hold at one moment, kept from round to round.

    Parameters
    ----------
    at_utc
        The moment; the next weather must begin there.
    nodes_c
        Chain and wood of each cover [°C], shape (covers, members, nodes), deepest soil first, wood last.
    water_j
        Heat of each bucket [J above water at 0 °C], shape (covers, members).
    soil_c
        Column of undisturbed soil beside each cover [°C], shape (covers, members, 30).
    soil
        The soil of the site.
    perturbed_c
        Nodes of the covers with one number moved, shape (covers, variants, nodes); None where no spread was asked.
    """

    at_utc: datetime
    nodes_c: Array
    water_j: Array
    soil_c: Array
    soil: SiteSoil
    perturbed_c: Array | None = None

    def beside_c(self, depths_m: Array) -> Array:
        """Undisturbed soil beside the first cover [°C] at these depths."""
        return at_depths(self.soil_c[0, 0], depths_m)

    @classmethod
    def joined(cls, starts: Sequence["HeatStart"]) -> "HeatStart":
        """The starts of some covers at one moment as one, in their order; what was moved is forgotten."""
        nodes_c, water_j, soil_c = (
            np.concatenate([getattr(one, name) for one in starts]) for name in ("nodes_c", "water_j", "soil_c")
        )
        first = starts[0]
        return cls(at_utc=first.at_utc, nodes_c=nodes_c, water_j=water_j, soil_c=soil_c, soil=first.soil)

    def of(self, covers: Sequence[int]) -> "HeatStart":
        """The same start for some covers, by index; an index may come more than once."""
        rows = np.asarray(covers, dtype=np.int64)
        moved = None if self.perturbed_c is None else self.perturbed_c[rows]
        return replace(
            self, nodes_c=self.nodes_c[rows], water_j=self.water_j[rows], soil_c=self.soil_c[rows], perturbed_c=moved
        )
