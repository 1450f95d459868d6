"""The daily step by which wood hardens and softens: many trees and winters at once, one path for all.

Equations of Ferguson et al. 2011 (Annals of Botany 107:389, doi 10.1093/aob/mcq263) and 2014 (Am. J. Enol. Vitic.
65:59), from memory, on one relative scale: both rates are shares of the tree's own range, so that a fig with a third
of a grape's range neither hardens nor softens three times as fast. Added, because the published steps lack them: a
readiness to wake that grows in place of a switch, a way to bud break that cannot be gone back, days nobody knows.
"""

import hashlib
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.wood.kinetics.rates import HardeningRates, Lanes
from rules.wood.kinetics.season_days import SeasonDays, SeenBounds, days_filled

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

HALF_READY: Final = 0.5  # readiness to wake from which on we say that the chill is met
FASTEST: Final = (
    0.09  # share of its range wood can harden in a day; peach buds gain 0.06 in lasting frost (common practice)
)
LOCKED: Final = 1.5  # power of the way gone by which it cannot be gone back; assumed: 1 locks a mild January week
# Share of the way to leaf-out that is gone when buds are seen swelling; assumed. Apple shows green tip at about 0.3 of
# the heat to full bloom (degree-day tables of extension services, from memory).
SWELLING: Final = 0.4


@dataclass(frozen=True, kw_only=True, eq=False)
class HardeningCourse:
    """The course of a season, each array (days, lanes…), at the end of each day.

    `hc_c` is the 50 % injury temperature [°C]; `free_c` the same before that day's sightings; `hardest_c` the hardest
    so far; `base_c` the hardest it can be since buds were seen moving; `readiness` to wake [0-1]; `developed` the share
    of the way from rest to leaf-out that is gone; `woke`, `green` whether buds were seen moving, green tissue shows
    (`green_before` without that day's sightings).
    """

    hc_c: Floats
    free_c: Floats
    hardest_c: Floats
    base_c: Floats
    readiness: Floats
    developed: Floats
    woke: Flags
    green: Flags
    green_before: Flags

    @property
    def eco(self) -> Flags:
        """Whether the chill counts as met."""
        return self.readiness >= HALF_READY


STATE: Final = ("hc_c", "free_c", "hardest_c", "developed", "base_c", "woke", "green", "green_before")
FLAGS: Final = ("woke", "green", "green_before")
# what one day hands to the next, by its name in the course
HANDED_ON: Final = {"hc": "hc_c", "hardest": "hardest_c", "base": "base_c", "developed": "developed", "woke": "woke"}
MOST_KEPT: Final = 32  # courses at hand, at most a sixth of a megabyte each
LARGEST_KEPT: Final = 4096  # days times lanes: one tree with its rates in doubt; many winters are marched once


@dataclass(kw_only=True)
class _Wood:
    """The state that one day hands to the next; lives only inside `hardening_course`."""

    hc: Floats
    hardest: Floats
    base: Floats  # the hardest it can be since buds were seen moving
    developed: Floats
    woke: Flags
    span: Floats  # Hmin - Hmax

    @property
    def green(self) -> Flags:
        return np.asarray(self.developed >= 1.0)


def hardening_course(
    mean_c: npt.ArrayLike,
    rates: HardeningRates,
    season: SeasonDays,
    seen: SeenBounds | None = None,
    *,
    day_before: bool = False,
) -> HardeningCourse:
    """The hardiness of wood day by day from the daily mean of the air at it.

    Parameters
    ----------
    mean_c
        Daily means [°C], shape (days, lanes…), day 0 the start of the season. NaN is a day nobody knows: it hardens
        nothing, and softens as the days around it would (the tender side).
    rates
        Constants of the lanes.
    season
        What each day allows.
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
    days = _days(mean, rates, season, seen, day_before=day_before)
    wood, until = _start(rates, mean.shape[1:]), len(mean) - 1
    before = _days_before(days, rates, season.first_day, seen, until)
    kept = _kept.pop(before, None) or _marched(wood, days, rates, season.first_day, seen, range(until))
    if kept["hc_c"].size <= LARGEST_KEPT:
        _kept[before] = kept
    while len(_kept) > MOST_KEPT:
        _kept.pop(next(iter(_kept)), None)
    if until:
        wood = _Wood(**{name: kept[of][-1] for name, of in HANDED_ON.items()}, span=wood.span)
    last = _marched(wood, days, rates, season.first_day, seen, range(until, len(mean)))
    return HardeningCourse(readiness=days.ready, **{name: np.concatenate([kept[name], last[name]]) for name in STATE})


_Course = dict[str, npt.NDArray[Any]]
_kept: dict[bytes, _Course] = {}  # courses up to yesterday: within a day only the last one turns out otherwise


def _days_before(days: "_Days", rates: HardeningRates, first_day: int, seen: SeenBounds | None, until: int) -> bytes:
    """What the course up to a day rests on, in few letters."""
    told = hashlib.blake2b(f"{first_day} {until} {days.ready.shape}".encode(), digest_size=16)
    for values in vars(rates).values():
        told.update(np.asarray(values, dtype=np.float64).tobytes())
    for values in (*vars(days).values(), *(vars(seen).values() if seen else ())):
        told.update(b"-" if values is None else np.ascontiguousarray(values[:until]).tobytes())
    return told.digest()


def _marched(
    wood: "_Wood", days: "_Days", rates: HardeningRates, first_day: int, seen: SeenBounds | None, through: range
) -> _Course:
    """The states at the end of some days, each array (days, lanes…)."""
    kept: dict[str, list[npt.NDArray[np.generic]]] = {name: [] for name in STATE}
    for day in through:
        if day >= first_day:
            _step(wood, days, day, rates)
        free, green = wood.hc, wood.green
        if seen is not None:
            _see(wood, seen, rates, day)
        now = (wood.hc, free, wood.hardest, wood.developed, wood.base, wood.woke, wood.green, green)
        for name, value in zip(STATE, now, strict=True):
            kept[name].append(value)
    if not through:
        return {name: np.empty((0, *wood.hc.shape), dtype=bool if name in FLAGS else float) for name in STATE}
    return {name: np.stack(rows) for name, rows in kept.items()}


@dataclass(frozen=True, kw_only=True, eq=False)
class _Days:
    """What each day brings whatever the wood's state, arrays (days, lanes…): shares of the range, and limits [°C]."""

    ready: Floats
    harden: Floats  # of what is soft
    soften: Floats  # of what is hard
    develop: Floats
    limit_c: Floats


def _days(
    mean_c: Floats, rates: HardeningRates, season: SeasonDays, seen: SeenBounds | None, *, day_before: bool
) -> _Days:
    """All days at once; buds seen moving are ready in full from the day after."""
    ready = np.broadcast_to(_of_days(season.readiness, mean_c), mean_c.shape)
    if seen is not None:
        moved = (seen.woke | seen.leafed_out).astype(np.float64)
        ready = np.where(_of_days(np.cumsum(moved) - moved, mean_c) > 0.0, 1.0, ready)
    cool_c, warm_c = np.where(np.isnan(mean_c), np.inf, mean_c), days_filled(mean_c)
    cool = np.maximum(0.0, _between(ready, rates.tth_endo_c, rates.tth_eco_c) - cool_c)
    cool = cool * _between(ready, rates.ka_endo, rates.ka_eco)
    endo = rates.kd_endo * np.maximum(0.0, warm_c - rates.tth_endo_c)
    heat = _between(ready, endo, rates.kd_eco * np.maximum(0.0, warm_c - rates.tth_eco_c))
    cooled = np.cumsum(cool > 0.0, axis=0) > (cool > 0.0)  # a day before was cool enough to harden
    if day_before:
        cool, heat = (np.concatenate([np.zeros_like(one[:1]), one[:-1]]) for one in (cool, heat))
    return _Days(
        ready=ready,
        harden=cool * _of_days(season.hardening_share, mean_c),
        soften=np.where(cooled | (ready > 0.0), heat, 0.0),
        develop=ready * np.maximum(0.0, warm_c - rates.develop_base_c) / rates.leaf_out_c_days,
        limit_c=_between(ready, rates.autumn_limit_c, rates.spring_limit_c),
    )


def _of_days(values: Floats, mean_c: Floats) -> Floats:
    """Values (days, ...) with axes added at the end, so that they broadcast with the lanes."""
    return values.reshape(*values.shape, *(1 for _ in range(mean_c.ndim - values.ndim)))


def _start(rates: HardeningRates, lanes: tuple[int, ...]) -> _Wood:
    def full(value: Lanes) -> Floats:
        return np.broadcast_to(np.asarray(value, dtype=np.float64), lanes)

    return _Wood(
        hc=full(rates.h0_c), hardest=full(rates.h0_c), base=full(rates.hmax_c), developed=full(0.0),
        woke=np.zeros(lanes, dtype=bool), span=full(np.subtract(rates.hmin_c, rates.hmax_c)),
    )  # fmt: skip


def _step(wood: _Wood, days: _Days, day: int, rates: HardeningRates) -> None:
    """One day on: coolness hardens, warmth softens and develops, each by yesterday's state."""
    soft = (wood.hc - rates.hmax_c) / wood.span
    hardened = np.where(wood.green, 0.0, np.minimum(days.harden[day] * soft, FASTEST))
    wood.developed = np.minimum(1.0, wood.developed + days.develop[day])
    held = wood.hc - wood.span * hardened
    after = np.maximum(held + wood.span * days.soften[day] * (1.0 - soft**rates.theta), _floor(wood, rates))
    limit = days.limit_c[day]
    wood.hc = np.maximum(rates.hmax_c, np.where(after > limit, np.maximum(held, limit), after))
    wood.hardest = np.minimum(wood.hardest, wood.hc)


def _between(ready: Floats, endo: Lanes, eco: Lanes) -> Floats:
    """A value on the way from deep rest to waking."""
    return np.asarray(endo + ready * np.subtract(eco, endo))


def _floor(wood: _Wood, rates: HardeningRates) -> Floats:
    """The hardest wood can still be [°C]: what its buds have gone toward leaf-out is not regained.

    Kovaleski 2021/22 (abstract): the way from full hardiness to bud break is one; Howell & Weiser 1970 (JASHS 95,
    abstract): a base level rises with every further warm day; Kalberer et al. 2007 (abstract): early nearly all is
    regained, late less, hence the power.
    """
    gone = rates.hmax_c + wood.developed**LOCKED * np.subtract(rates.spring_limit_c, rates.hmax_c)
    return np.maximum(gone, wood.base)


def _see(wood: _Wood, seen: SeenBounds, rates: HardeningRates, day: int) -> None:
    """What was seen, put into the state: what hardens first, so that the tender side has the last word."""
    not_yet = wood.hardest > seen.lower_to_c[day]  # wood once harder is not hardened by a word; NaN says nothing
    wood.hc = np.where(not_yet, seen.lower_to_c[day], wood.hc)
    wood.hc = np.fmax(wood.hc, seen.raise_to_c[day])
    if seen.woke[day]:
        wood.base, wood.woke = np.fmax(wood.base, seen.raise_to_c[day]), np.ones_like(wood.woke)
        wood.developed = np.maximum(wood.developed, SWELLING)
    if seen.gone_to is not None and not np.isnan(seen.gone_to[day]):
        wood.developed = np.full_like(wood.developed, seen.gone_to[day])
    if seen.leafed_out[day]:
        wood.developed = np.ones_like(wood.developed)
    wood.hc = np.maximum(wood.hc, np.where(wood.green, rates.spring_limit_c, wood.hc))
