"""The daily step taken one day at a time, for wood whose air depends on what was done to its cover the evening before.

The same step as `hardening_course`, leaves and all; lanes may be trees, winters, truths or ways of tending a cover.
"""

from dataclasses import dataclass, fields
from typing import Any, Self

import numpy as np
import numpy.typing as npt

from rules.wood.kinetics.hardening import HardeningCourse, _between, _Days, _start, _step, _Wood
from rules.wood.kinetics.leaves import (
    CHILLS_LEAVES_C,
    DARK_LIGHT,
    DARK_SHARE,
    ENOUGH_LIGHT,
    FULL_FROST_C,
    KEPT_COLD,
    KEPT_DARK,
    KILLS_LEAVES_C,
    LAST_LEAVES_DAY,
)
from rules.wood.kinetics.rates import HardeningRates

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class LaneRates:
    """What lanes share or have each their own: the rates, how much frost speeds hardening, and evergreen leaves."""

    rates: HardeningRates
    frost_gain: Floats | float
    evergreen: Flags | bool = False


@dataclass(kw_only=True, eq=False)
class WoodLanes:
    """The wood of some lanes as one evening finds it; `day_passes` moves it on.

    `leaves` is the share of them still on [0-1], `cooled` whether a day was cool enough to harden yet, shape (lanes…).
    """

    kinetics: LaneRates
    wood: _Wood
    leaves: Floats
    cooled: Flags

    @classmethod
    def begun(cls, kinetics: LaneRates, lanes: tuple[int, ...]) -> Self:
        """Wood on the first day of its season."""
        wood = _start(kinetics.rates, lanes)
        return cls(kinetics=kinetics, wood=wood, leaves=np.ones(lanes), cooled=np.zeros(lanes, dtype=bool))

    @classmethod
    def at_end(cls, kinetics: LaneRates, course: HardeningCourse, leaves: float, lanes: int) -> Self:
        """The wood of the first lane of a course as its last day left it, so many times over."""

        def last(values: Floats) -> Floats:
            return np.repeat(values[-1].ravel()[:1], lanes)

        rates = kinetics.rates
        wood = _Wood(
            hc=last(course.hc_c), hardest=last(course.hardest_c), base=last(course.base_c),
            developed=last(course.developed), woke=last(course.woke.astype(np.float64)) > 0,
            span=np.full(lanes, np.subtract(rates.hmin_c, rates.hmax_c)),
        )  # fmt: skip
        cooled = np.full(lanes, bool(course.hc_c[-1].ravel()[0] < course.hc_c[0].ravel()[0]))
        return cls(kinetics=kinetics, wood=wood, leaves=np.full(lanes, leaves), cooled=cooled)

    @property
    def lt50_c(self) -> Floats:
        """50 % injury temperature [°C]."""
        return self.wood.hc

    @property
    def developed(self) -> Floats:
        """Share of the way from rest to leaf-out that is gone [0-1]."""
        return self.wood.developed

    @property
    def green(self) -> Flags:
        """Whether green shoots show."""
        return self.wood.green

    def spread(self, times: int) -> "WoodLanes":
        """A copy with each lane so many times, side by side."""

        def wide(value: Any) -> Any:
            return np.repeat(value, times, axis=0) if np.ndim(value) else value

        own = self.kinetics
        rates = HardeningRates(**{field.name: wide(getattr(own.rates, field.name)) for field in fields(HardeningRates)})
        kinetics = LaneRates(rates=rates, frost_gain=wide(own.frost_gain), evergreen=wide(own.evergreen))
        wood = _Wood(**{field.name: wide(getattr(self.wood, field.name)) for field in fields(_Wood)})
        return WoodLanes(kinetics=kinetics, wood=wood, leaves=wide(self.leaves), cooled=wide(self.cooled))

    def joined(self, others: "WoodLanes") -> "WoodLanes":
        """These lanes and others behind them, all of the same rates."""

        def both(name: str) -> Any:
            return np.concatenate([getattr(self.wood, name), getattr(others.wood, name)])

        wood = _Wood(**{field.name: both(field.name) for field in fields(_Wood)})
        leaves, cooled = np.concatenate([self.leaves, others.leaves]), np.concatenate([self.cooled, others.cooled])
        return WoodLanes(kinetics=self.kinetics, wood=wood, leaves=leaves, cooled=cooled)

    def taken(self, at: npt.NDArray[np.int64]) -> "WoodLanes":
        """A copy of some lanes, all of the same rates."""
        wood = _Wood(**{field.name: getattr(self.wood, field.name)[at] for field in fields(_Wood)})
        return WoodLanes(kinetics=self.kinetics, wood=wood, leaves=self.leaves[at], cooled=self.cooled[at])

    def day_passes(
        self, day: int, mean_c: Floats, night_c: Floats, light: Floats | float, ready: Floats, length: float
    ) -> None:
        """One day of the season in air of this mean and lowest [°C], so light at the leaves, so ready to wake.

        `length` is the share of hardening the day's length allows; arrays of the shape of the lanes, or broadcast.
        """
        rates = self.kinetics.rates
        self._leaves_fall(day, mean_c, night_c, light)
        cool = np.maximum(0.0, _between(ready, rates.tth_endo_c, rates.tth_eco_c) - mean_c)
        heat = _between(
            ready,
            rates.kd_endo * np.maximum(0.0, mean_c - rates.tth_endo_c),
            rates.kd_eco * np.maximum(0.0, mean_c - rates.tth_eco_c),
        )
        days = _Days(
            ready=ready,
            harden=(cool * _between(ready, rates.ka_endo, rates.ka_eco) * length * self._stage(night_c, light))[None],
            soften=np.where(self.cooled | (ready > 0.0), heat, 0.0)[None],
            develop=(ready * np.maximum(0.0, mean_c - rates.develop_base_c) / rates.leaf_out_c_days)[None],
            limit_c=_between(ready, rates.autumn_limit_c, rates.spring_limit_c)[None],
        )
        self.cooled = self.cooled | (cool > 0.0)
        _step(self.wood, days, 0, rates)

    def _leaves_fall(self, day: int, mean_c: Floats, night_c: Floats, light: Floats | float) -> None:
        kept = np.where(mean_c < CHILLS_LEAVES_C, KEPT_COLD, 1.0) * np.where(
            np.asarray(light) < DARK_LIGHT, KEPT_DARK, 1.0
        )
        kept = np.where((night_c <= KILLS_LEAVES_C) | (day >= LAST_LEAVES_DAY), 0.0, kept)
        self.leaves = self.leaves * np.where(self.kinetics.evergreen, 1.0, kept)

    def _stage(self, night_c: Floats, light: Floats | float) -> Floats:
        """How far coolness hardens, as `hardening_by_stage` has it."""
        frost = np.clip(night_c / FULL_FROST_C, 0.0, 1.0)
        by_days = 1.0 - self.leaves * (1.0 - DARK_SHARE) * (1.0 - np.minimum(1.0, np.asarray(light) / ENOUGH_LIGHT))
        return np.asarray((by_days + (1.0 - by_days) * frost) * (1.0 + self.kinetics.frost_gain * frost))
