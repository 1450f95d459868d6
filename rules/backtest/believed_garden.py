"""A garden to replay of which more is known than its prior: warmer or colder places, covers and wood, less doubt."""

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest.winters import Garden

Floats = npt.NDArray[np.float64]

HEAT: Final = 4  # outputs of the heat that a warmer place moves: dose, tip, mean, hottest


@dataclass(frozen=True, kw_only=True, eq=False)
class BelievedGarden(Garden):
    """The same trees and winters; `warmer_c` is by how much warmer each state's wood is held to be, (lanes, states)."""

    warmer_c: Floats

    def tissue(self, features: Floats) -> Floats:
        """As the heat says, moved by what is believed."""
        told = super().tissue(features).copy()
        by = self.warmer_c.reshape(len(self.warmer_c), *[1] * (told.ndim - 3), -1, 1)
        told[..., :HEAT] += by
        return told


def believed(
    garden: Garden,
    *,
    warmer_c: Floats,
    wood_shift_c: Floats,
    site_sd_c: Floats,
    cover_sd_c: Floats,
    sd_c: Floats,
) -> BelievedGarden:
    """A garden as somebody holds it to be.

    Parameters
    ----------
    garden
        As the priors have it.
    warmer_c
        How much warmer each state's wood is held to be, shape (lanes, states) [°C].
    wood_shift_c
        Added to what the wood can take, shape (lanes, nights or 1) [°C]; below 0 it is held to be hardier.
    site_sd_c, cover_sd_c, sd_c
        One sd of the air at the tree, of the wood inside from its cover, (lanes,), and of the LT10, (lanes,
        nights) [°C].
    """
    kept = {field.name: getattr(garden, field.name) for field in fields(Garden)}
    changed = {
        "lt10_c": garden.lt10_c + wood_shift_c,
        "lt50_c": garden.lt50_c + wood_shift_c,
        "site_sd_c": site_sd_c,
        "cover_sd_c": cover_sd_c,
        "sd_c": sd_c,
    }
    return BelievedGarden(**{**kept, **changed}, warmer_c=warmer_c)
