"""All that drives a march from outside, laid out step by step."""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.heat.marching.step import GAMMA
from rules.heat.surroundings import TreeAir, bare_stem_c, instants

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Forcing:
    """All that drives a batch, last axis the distinct weathers; `row_of` says which one each cover stands in."""

    instants: Array  # (hours - 1, steps, 3, 7, weathers): at γ, at the middle and at the end of each step
    first: Array  # (7, weathers)
    soil_c: Array  # (hours - 1, steps, 2, depths, weathers): mean of stage one, and end of each step
    soil_marks_c: Array  # (hours, depths, weathers)
    bare_c: Array  # (hours, weathers)
    row_of: npt.NDArray[np.int64] | None  # None: all covers stand in the only weather

    def at(self, values: Array) -> Any:
        """Values of one instant as numbers, or as arrays over the covers."""
        return values[..., 0].tolist() if self.row_of is None else values.take(self.row_of, axis=-1, mode="clip")

    def through(self, values: Array, first: int, last: int) -> Array:
        """Values of all steps from hour `first` to `last`, their own axes in front, then steps, then covers."""
        each = values[first:last].reshape(-1, *values.shape[2:])
        return np.moveaxis(each if self.row_of is None else each.take(self.row_of, axis=-1, mode="clip"), 0, -2)

    def standing(self, row_of: npt.NDArray[np.int64]) -> "Forcing":
        """The same weathers for covers that each stand in one of them."""
        if len(row_of) > 1:
            return replace(self, row_of=None if self.first.shape[-1] == 1 else row_of)
        only = slice(int(row_of[0]), int(row_of[0]) + 1)
        sides = {name: getattr(self, name)[..., only] for name in SIDES}
        return Forcing(**sides, row_of=None)


SIDES: Final = [field.name for field in fields(Forcing) if field.name != "row_of"]


def joined(forcings: Iterable[Forcing], weathers: int) -> Forcing:
    """So many weathers in all side by side, in their order; each may go as soon as it has its place."""
    sides: dict[str, Array] = {}
    at = 0
    for one in forcings:
        places = slice(at, at := at + one.first.shape[-1])
        for name in SIDES:
            values = getattr(one, name)
            if name not in sides:
                sides[name] = np.empty((*values.shape[:-1], weathers))
            sides[name][..., places] = values
    return Forcing(**sides, row_of=None)


def forcing(weather: TreeAir, soil_marks_c: Array, steps_per_hour: int) -> Forcing:
    """Weather of shape (weathers, hours) or (hours,) and undisturbed soil (hours, depths, weathers), made ready."""
    begins = np.arange(steps_per_hour)[:, None]
    offsets = (begins + np.array([GAMMA, 0.5, 1.0])).ravel() / steps_per_hour
    points = instants(weather, offsets)
    early, late = soil_marks_c[:-1, None, None], soil_marks_c[1:, None, None]
    share = ((begins + np.array([GAMMA / 2, 1.0])) / steps_per_hour)[..., None, None]
    return Forcing(
        instants=points.reshape(len(points), steps_per_hour, 3, *points.shape[2:]),
        first=instants(weather, np.zeros(1))[0, 0],
        soil_c=early + (late - early) * share,
        soil_marks_c=soil_marks_c,
        bare_c=np.atleast_2d(bare_stem_c(weather)).T,
        row_of=None,
    )
