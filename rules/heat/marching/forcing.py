"""All that drives a march from outside: told at the hour marks, read at the instants of each step."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.heat.marching.step import GAMMA
from rules.heat.surroundings import TreeAir, bare_stem_c, between, hourly, points, shares_seen

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Forcing:
    """All that drives a batch, last axis the distinct weathers; `row_of` says which one each cover stands in.

    All is linear between the hour marks; laid out for every step of a march it would be the most that a round holds.
    """

    hourly: Array  # (hours, 5, weathers), as `surroundings.hourly` has it
    shares: Array  # (3, weathers), as `surroundings.shares_seen` has it
    soil_c: Array  # (hours, depths, weathers)
    bare_c: Array  # (hours, weathers)
    row_of: npt.NDArray[np.int64] | None = None  # None: all covers stand in the only weather
    steps: int = 1  # an hour

    def at(self, values: Array) -> Any:
        """Values of one instant as numbers, or as arrays over the covers."""
        return values[..., 0].tolist() if self.row_of is None else values.take(self.row_of, axis=-1, mode="clip")

    def point(self, mark: int) -> Any:
        """What the outer surface needs at an hour mark, as `at` gives it."""
        return self.at(points(self.hourly[mark], self.shares))

    def air_and_soil(self, first: int, last: int) -> tuple[Array, Array]:
        """All steps from hour `first` to `last`, their own axes in front, then steps, then covers.

        Points (3, 7, ...) at γ, at the middle and at the end of each step; soil (2, depths, ...), the mean of its
        stage one and its end.
        """
        hours, begins = slice(first, last + 1), np.arange(self.steps)[:, None]
        air = points(between(self.hourly[hours], (begins + np.array([GAMMA, 0.5, 1.0])) / self.steps), self.shares)
        soil_c = between(self.soil_c[hours], (begins + np.array([GAMMA / 2, 1.0])) / self.steps)
        return self._by_step(air), self._by_step(soil_c)

    def _by_step(self, values: Array) -> Array:
        each = values.reshape(-1, *values.shape[2:])
        return np.moveaxis(each if self.row_of is None else each.take(self.row_of, axis=-1, mode="clip"), 0, -2)

    def standing(self, row_of: npt.NDArray[np.int64], steps: int) -> "Forcing":
        """The weathers of covers that each stand in one of these."""
        used, places = np.unique(row_of, return_inverse=True)
        sides = {name: getattr(self, name) for name in SIDES}
        if len(used) < self.bare_c.shape[-1]:
            sides = {name: values[..., used] for name, values in sides.items()}
        return replace(self, **sides, row_of=None if len(used) == 1 else places, steps=steps)


SIDES: Final = [field.name for field in fields(Forcing) if field.name not in ("row_of", "steps")]


def joined(listed: Sequence[Forcing]) -> Forcing:
    """Weathers side by side, in their order."""
    if len(listed) == 1:
        return listed[0]
    sides: dict[str, Any] = {name: np.concatenate([getattr(one, name) for one in listed], axis=-1) for name in SIDES}
    return replace(listed[0], **sides)


def forcing(weather: TreeAir, soil_c: Array, steps: int = 1) -> Forcing:
    """Weather of shape (weathers, hours) or (hours,) and undisturbed soil (hours, depths, weathers), made ready."""
    told = hourly(weather)
    shares = np.broadcast_to(shares_seen(weather), (3, told.shape[-1]))
    return Forcing(hourly=told, shares=shares, soil_c=soil_c, bare_c=np.atleast_2d(bare_stem_c(weather)).T, steps=steps)
