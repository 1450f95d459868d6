"""What a day's air inside a cover does to wood beside what it would do bare: for the prices of a shut cover."""

import numpy as np
import numpy.typing as npt

from rules.garden.species import Kinetics

Floats = npt.NDArray[np.float64]


def softening_c_days(inside_c: npt.ArrayLike, kinetics: Kinetics, *, chill_met: bool) -> Floats:
    """Degree-days of a day's mean air that soften or wake wood of this kind, shape as given [°C-days].

    Before the chill is met over its autumn threshold, where such wood softens then at all; after it over the lower of
    what softens it and what brings its buds on.

    >>> from rules.garden.species import species_row
    >>> fig = species_row("fig").kinetics
    >>> softening_c_days([4.0, 7.0, 12.0], fig, chill_met=True).tolist()
    [0.0, 2.0, 7.0]
    >>> softening_c_days(12.0, species_row("kaki").kinetics, chill_met=False).tolist()
    0.0
    """
    if not chill_met:
        softens = kinetics.kd_endo > 0.0
        return np.maximum(0.0, np.asarray(inside_c) - kinetics.tth_endo_c) * softens
    return np.maximum(0.0, np.asarray(inside_c) - min(kinetics.tth_eco_c, kinetics.develop_base_c))


def hardening_missed(inside_c: npt.ArrayLike, bare_c: npt.ArrayLike, kinetics: Kinetics) -> Floats:
    """Share of a bare tree's coolness of a day that a cover keeps from its wood [0-1], shape that both broadcast to.

    0 where the bare tree is too warm to harden as well: then shutting in costs nothing. The harm itself, wood that is
    less hard on a later night, is in the wood marched along a course; who marches it must not charge this as well.

    >>> from rules.garden.species import species_row
    >>> fig = species_row("fig").kinetics
    >>> hardening_missed([14.0, 8.0, 14.0], [3.0, 3.0, 15.0], fig).tolist()
    [1.0, 0.5, 0.0]
    """
    bare, inside = (np.maximum(0.0, kinetics.tth_endo_c - np.asarray(air)) for air in (bare_c, inside_c))
    return np.asarray(np.clip(1.0 - inside / np.maximum(bare, 1e-9), 0.0, 1.0) * (bare > 0.0))
