"""The constants of the daily step, one set a lane: thresholds, rates, and the limits wood moves between."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Self

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Lanes = Floats | float  # one value for all lanes, or one for each


@dataclass(frozen=True, kw_only=True, eq=False)
class HardeningRates:
    """The constants of one lane (scalars) or of many (arrays that broadcast with the lanes).

    Letters as published: H0 at the start, Hmin least and Hmax most hardy [°C]; Tth thresholds before ("endo") and after
    ("eco") the chill is met [°C]; ka hardening and kd softening [share of Hmin - Hmax per °C-day]. Besides:
    `autumn_limit_c` and `spring_limit_c` are what warmth can soften to before and after the chill is met (Hmin as
    published; ours stop at H0 in autumn, and in spring at what swollen wood is safe to). Warmth over `develop_base_c`
    brings buds toward leaf-out, which comes after `leaf_out_c_days`; infinite where nothing develops.

    Raises
    ------
    ValueError
        If Hmax <= H0 <= autumn_limit_c <= Hmin does not hold, the spring limit lies outside, or a rate is negative.
    """

    h0_c: Lanes
    hmin_c: Lanes
    hmax_c: Lanes
    autumn_limit_c: Lanes
    spring_limit_c: Lanes
    tth_endo_c: Lanes
    tth_eco_c: Lanes
    ka_endo: Lanes
    ka_eco: Lanes
    kd_endo: Lanes
    kd_eco: Lanes
    theta: Lanes
    develop_base_c: Lanes = 0.0
    leaf_out_c_days: Lanes = np.inf

    def __post_init__(self) -> None:
        hmax, h0, limit, hmin = self.hmax_c, self.h0_c, self.autumn_limit_c, self.hmin_c
        rising = (np.less_equal(hmax, h0), np.less_equal(h0, limit), np.less_equal(limit, hmin), np.less(hmax, hmin))
        if not all(np.all(step) for step in rising):
            raise ValueError(f"hardiness must run Hmax <= H0 <= limit <= Hmin, got {hmax}, {h0}, {limit}, {hmin} °C")
        spring = self.spring_limit_c
        if not np.all(np.less_equal(hmax, spring) & np.less_equal(spring, hmin)):
            raise ValueError(f"the spring limit must lie between Hmax and Hmin, got {spring}, {hmax}, {hmin} °C")
        for name in ("ka_endo", "ka_eco", "kd_endo", "kd_eco", "theta"):
            if np.any(np.less(getattr(self, name), 0.0)):
                raise ValueError(f"{name} must not be negative, got {getattr(self, name)}")

    @classmethod
    def stacked(cls, each: Sequence[Self]) -> Self:
        """The rates of several sets of lanes as one, along one axis."""
        names = [field.name for field in fields(cls)]
        return cls(**{name: np.concatenate([np.atleast_1d(getattr(one, name)) for one in each]) for name in names})
