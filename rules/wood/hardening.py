"""The daily step by which wood hardens and softens: many trees and winters at once, one path for all.

Equations of Ferguson et al. 2011 (Annals of Botany 107:389, doi 10.1093/aob/mcq263) and 2014 (Am. J. Enol. Vitic.
65:59), from memory. Added here, because the published steps lack them: a ratchet after Howell & Weiser 1970
(JASHS 95, abstract), a day-length share, an end to rehardening with the first green, days nobody knows.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final, Self

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Lanes = Floats | float  # one value for all lanes, or one for each

FULL_RANGE_C: Final = 23.9  # Cabernet Sauvignon, from memory: the range its hardening rates belong to
SUM_BASE_C: Final = 10.0  # base of the sum that ends the chill need
RATCHET_RIPE_DAYS: Final = 60.0  # assumed; Kalberer et al. 2007 (abstract): less rehardening in late winter
GREEN_HEAT_C_DAYS: Final = 100.0  # assumed: a few hot days soften wood but show no green; heat over the eco threshold
BUDBREAK_SHARE: Final = 0.9  # assumed; budbreak in the rows from memory lies at 0.86 (Concord) to 0.96 of the range


@dataclass(frozen=True, kw_only=True, eq=False)
class HardeningRates:
    """The constants of one lane (scalars) or of many (arrays that broadcast with the lanes).

    Letters as published: H0 at the start, Hmin least and Hmax most hardy [°C]; Tth thresholds before ("endo") and after
    ("eco") chill is met [°C]; ka hardening and kd softening [°C per °C-day]; `eco_sum_c_days` ends the chill need.
    `endo_limit_c` is what warmth can soften to before chill is met: Hmin as published; our rows stop at H0, so that
    one cool day never leaves wood tenderer than none.

    Raises
    ------
    ValueError
        If Hmax <= H0 <= endo_limit_c <= Hmin does not hold, or a rate is negative.
    """

    h0_c: Lanes
    hmin_c: Lanes
    hmax_c: Lanes
    endo_limit_c: Lanes
    tth_endo_c: Lanes
    tth_eco_c: Lanes
    ka_endo: Lanes
    ka_eco: Lanes
    kd_endo: Lanes
    kd_eco: Lanes
    theta: Lanes
    eco_sum_c_days: Lanes

    def __post_init__(self) -> None:
        hmax, h0, limit, hmin = self.hmax_c, self.h0_c, self.endo_limit_c, self.hmin_c
        rising = (np.less_equal(hmax, h0), np.less_equal(h0, limit), np.less_equal(limit, hmin), np.less(hmax, hmin))
        if not all(np.all(step) for step in rising):
            raise ValueError(f"hardiness must run Hmax <= H0 <= limit <= Hmin, got {hmax}, {h0}, {limit}, {hmin} °C")
        for name in ("ka_endo", "ka_eco", "kd_endo", "kd_eco", "theta"):
            if np.any(np.less(getattr(self, name), 0.0)):
                raise ValueError(f"{name} must not be negative, got {getattr(self, name)}")

    @classmethod
    def stacked(cls, each: Sequence[Self]) -> Self:
        """The rates of several trees as one set, trees along one axis."""
        return cls(**{field.name: np.array([getattr(one, field.name) for one in each]) for field in fields(cls)})


@dataclass(frozen=True, kw_only=True, eq=False)
class SeasonDays:
    """What a season gives each of its days, besides warmth.

    Parameters
    ----------
    hardening_share
        How far day length lets cool days harden [0-1], shape (days,).
    eco_earliest, eco_latest
        First day chill may count as met, and the day it counts as met at the latest (arrays broadcast with the lanes).
    first_day
        The day the course begins on; days before it stay at H0.
    ratchet
        Whether each warm day takes away for good part of what it softened, and green tissue ends rehardening.
    """

    hardening_share: Floats
    eco_earliest: Lanes = 0.0
    eco_latest: Lanes = np.inf
    first_day: int = 0
    ratchet: bool = True


@dataclass(frozen=True, kw_only=True, eq=False)
class SeenBounds:
    """What sightings impose at the end of a day, each shape (days,); NaN and False impose nothing.

    `raise_to_c` softens to at least that; `lower_to_c` hardens to at least that; `woke` and `leafed_out` last.
    """

    raise_to_c: Floats
    lower_to_c: Floats
    woke: Flags
    leafed_out: Flags


@dataclass(frozen=True, kw_only=True, eq=False)
class HardeningCourse:
    """The course of a season, each array (days, lanes…), at the end of each day.

    `hc_c` is the 50 % injury temperature [°C]; `free_c` the same before that day's sightings; `hardest_c` the hardest
    so far; `base_c` the hardest it can still reach; `eco`, `woke`, `green` whether chill is met, buds were seen moving,
    green tissue shows (`green_before` without that day's sightings).
    """

    hc_c: Floats
    free_c: Floats
    hardest_c: Floats
    base_c: Floats
    eco: Flags
    woke: Flags
    green: Flags
    green_before: Flags


@dataclass(kw_only=True)
class _Wood:
    """The state that one day hands to the next; lives only inside `hardening_course`."""

    hc: Floats
    base: Floats
    hardest: Floats
    chill: Floats  # sum of DDc
    s10: Floats
    heat: Floats  # sum of DDh since chill was met
    eco: Flags
    eco_day: Floats
    woke: Flags
    green: Flags
    cool_before: Floats
    heat_before: Floats


def hardening_course(
    mean_c: npt.ArrayLike,
    rates: HardeningRates,
    season: SeasonDays | None = None,
    seen: SeenBounds | None = None,
    *,
    day_before: bool = False,
) -> HardeningCourse:
    """The hardiness of wood day by day from the daily mean temperature it felt.

    Parameters
    ----------
    mean_c
        Daily means [°C], shape (days, lanes…), day 0 the start of the season. NaN is a day nobody knows: it hardens
        nothing, and softens as the days around it would (the tender side).
    rates
        Constants of the lanes.
    season
        Day length, chill dates, ratchet; None is the published model alone.
    seen
        What the grower saw; None is nothing.
    day_before
        Whether a day acts on the next one (its Hc then belongs to the morning) or on its own end. The papers' choice is
        not remembered; both are kept. Ours is the same day: the end of a day is what the night after meets.

    Returns
    -------
    HardeningCourse
        Values at the end of each day.
    """
    mean = np.asarray(mean_c, dtype=np.float64)
    days = season or SeasonDays(hardening_share=np.ones(len(mean)), ratchet=False)
    cool, warm = np.where(np.isnan(mean), np.inf, mean), _filled(mean)
    wood = _start(rates, mean.shape[1:])
    kept: dict[str, list[npt.NDArray[np.generic]]] = {f.name: [] for f in fields(HardeningCourse)}
    for day in range(len(mean)):
        if day >= days.first_day:
            _step(wood, cool[day], warm[day], rates, days, day, day_before=day_before)
        free, green = wood.hc, wood.green
        if seen is not None:
            _see(wood, seen, rates, day)
        now = (wood.hc, free, wood.hardest, wood.base, wood.eco, wood.woke, wood.green, green)
        for name, value in zip(kept, now, strict=True):
            kept[name].append(value)
    return HardeningCourse(**{name: np.stack(rows) for name, rows in kept.items()})


def _start(rates: HardeningRates, lanes: tuple[int, ...]) -> _Wood:
    def full(value: Lanes) -> Floats:
        return np.broadcast_to(np.asarray(value, dtype=np.float64), lanes)

    no = np.zeros(lanes, dtype=bool)
    zero = full(0.0)
    return _Wood(
        hc=full(rates.h0_c), base=full(rates.hmax_c), hardest=full(rates.h0_c), chill=zero, s10=zero, heat=zero,
        eco=no, eco_day=full(np.nan), woke=no, green=no, cool_before=zero, heat_before=zero,
    )  # fmt: skip


def _step(
    wood: _Wood,
    cool_c: Floats,
    warm_c: Floats,
    rates: HardeningRates,
    season: SeasonDays,
    day: int,
    *,
    day_before: bool,
) -> None:
    """One day on: sums with the period of this morning, then hardiness, then the sums and the period of tomorrow."""
    _open_eco(wood, rates, season, day)
    Tth = np.where(wood.eco, rates.tth_eco_c, rates.tth_endo_c)
    DDc, DDh = np.minimum(0.0, cool_c - Tth), np.maximum(0.0, warm_c - Tth)
    cool, heat = (wood.cool_before, wood.heat_before) if day_before else (DDc, DDh)
    hardened, softened = _changes(wood, cool, heat, rates)
    if season.ratchet:
        hardened = np.where(wood.green, 0.0, hardened * season.hardening_share[day])
        _raise_base(wood, softened, rates, day)
    after = np.maximum(wood.hc + hardened + softened, np.minimum(wood.base, wood.hc))
    wood.hc = np.clip(after, rates.hmax_c, np.where(wood.eco | wood.green, rates.hmin_c, rates.endo_limit_c))
    wood.hardest = np.minimum(wood.hardest, wood.hc)
    wood.chill, wood.s10 = wood.chill + DDc, wood.s10 + np.minimum(0.0, warm_c - SUM_BASE_C)
    wood.cool_before, wood.heat_before = DDc, DDh
    wood.heat = wood.heat + np.where(wood.eco, DDh, 0.0)
    soft = wood.hc >= rates.hmax_c + BUDBREAK_SHARE * (rates.hmin_c - rates.hmax_c)
    wood.green = wood.green | (wood.eco & soft & (wood.heat >= GREEN_HEAT_C_DAYS))


def _changes(wood: _Wood, DDc: Floats, DDh: Floats, rates: HardeningRates) -> tuple[Floats, Floats]:
    """Hardening (<= 0) and softening (>= 0) of a day [°C], each damped toward its own end of the range."""
    hmin, hmax = rates.hmin_c, rates.hmax_c
    ka, kd = np.where(wood.eco, rates.ka_eco, rates.ka_endo), np.where(wood.eco, rates.kd_eco, rates.kd_endo)
    Clog = 1.0 - (hmin - wood.hc) / (hmin - hmax)
    Dlog = 1.0 - ((wood.hc - hmax) / (hmin - hmax)) ** rates.theta
    softened = np.where((wood.chill < 0.0) | wood.eco, DDh * kd * Dlog, 0.0)
    return DDc * ka * Clog, softened


def _open_eco(wood: _Wood, rates: HardeningRates, season: SeasonDays, day: int) -> None:
    """Chill counts as met once its sum is reached, never before the earliest day, by the latest day at the latest."""
    reached = (wood.s10 <= rates.eco_sum_c_days) & np.less_equal(season.eco_earliest, day)
    opens = ~wood.eco & (reached | np.less_equal(season.eco_latest, day))
    wood.eco, wood.eco_day = wood.eco | opens, np.where(opens, np.minimum(day, season.eco_latest), wood.eco_day)


def _raise_base(wood: _Wood, softened: Floats, rates: HardeningRates, day: int) -> None:
    """The ratchet: after a warm day wood regains at most what it was safe to before that day (Howell & Weiser 1970).

    In full force two months after chill was met; before, a share of it (assumed).
    """
    ripe = np.clip((day - wood.eco_day) / RATCHET_RIPE_DAYS, 0.0, 1.0)  # NaN before chill was met, and not used then
    hmax = rates.hmax_c
    lost = np.maximum(wood.base, hmax + ripe * (wood.hc - hmax))
    wood.base = np.where(wood.eco & (softened > 0.0), lost, wood.base)


def _see(wood: _Wood, seen: SeenBounds, rates: HardeningRates, day: int) -> None:
    """What was seen, put into the state: what hardens first, so that the tender side has the last word."""
    not_yet = wood.hardest > seen.lower_to_c[day]  # wood once harder is not hardened by a word; NaN says nothing
    wood.hc = np.where(not_yet, seen.lower_to_c[day], wood.hc)
    wood.hc = np.fmax(wood.hc, seen.raise_to_c[day])
    if seen.woke[day]:
        wood.base, wood.woke = np.fmax(wood.base, seen.raise_to_c[day]), np.ones_like(wood.woke)
    if seen.leafed_out[day]:
        wood.hc, wood.green = np.broadcast_to(rates.hmin_c, wood.hc.shape), np.ones_like(wood.green)


def _filled(mean_c: Floats) -> Floats:
    """Days nobody knows, bridged along the first axis; the ends hold the nearest known day, an empty lane is 0 °C."""
    lanes = mean_c.reshape(len(mean_c), -1).copy()
    marks = np.arange(len(lanes))
    for lane in range(lanes.shape[1]):
        known = ~np.isnan(lanes[:, lane])
        if not known.all():
            lanes[:, lane] = np.interp(marks, marks[known], lanes[known, lane]) if known.any() else 0.0
    return lanes.reshape(mean_c.shape)
