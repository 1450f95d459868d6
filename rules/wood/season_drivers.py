"""What drives the wood of one season: air and light by day, chill, what was seen; and the rates of its row."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.records import SightingKind
from rules.garden.species import Kinetics, Organ, SpeciesRow
from rules.garden.tree import Phase, Site
from rules.wood.buds.stage import BLOOM, way_gone
from rules.wood.daily_temperatures import WoodDays
from rules.wood.kinetics.leaves import AutumnDays, hardening_by_stage
from rules.wood.kinetics.rates import HardeningRates
from rules.wood.kinetics.readiness import daily_portions, ready_by_date, ready_by_portions_met, ready_by_sum
from rules.wood.kinetics.season_days import SeasonDays, SeenBounds
from rules.wood.season import JudgedSighting, day_length_h, day_of_season, hardening_share

Floats = npt.NDArray[np.float64]

LAST_AUTUMN_DAY: Final = 350  # from here to the new season a sighting belongs to the autumn to come
FIRST_SPRING_DAY: Final = 170  # late February: leaves frozen green from here on are new ones
USUAL_SWING_C: Final = 5.0  # half the swing of a day of which only the mean is known; assumed
RATES: Final = (
    "tth_endo_c", "tth_eco_c", "ka_endo", "ka_eco", "kd_endo", "kd_eco", "theta", "develop_base_c", "leaf_out_c_days",
)  # fmt: skip
LEAVES_GONE: Final = (SightingKind.LEAVES_DROPPED, SightingKind.LEAVES_FROZEN_GREEN)


def hardening_rates(rows: Sequence[SpeciesRow]) -> HardeningRates:
    """The constants of the daily step for some rows, that begin ripening."""
    return HardeningRates.stacked([rates_of(row, [row.kinetics], Phase.RIPENING) for row in rows])


def rates_of(row: SpeciesRow, lanes: Sequence[Kinetics], first: Phase) -> HardeningRates:
    """The rates of one row, lane by lane: H0, Hmin, Hmax are its 50 % values ripening, growing and resting.

    Buds become green shoots; wood that has woken is safe to what swollen wood is, and never less.
    """
    h0_c, hmin_c, hmax_c = row.lt50_c(first), row.lt50_c(Phase.GROWING), row.lt50_c(Phase.RESTING)
    spring_c = row.lt50_c(Phase.WAKING) if row.watched is Organ.WOOD else hmin_c
    h0_c = min(h0_c, spring_c) if first is Phase.GROWING else h0_c
    limits = {
        "h0_c": h0_c, "hmin_c": hmin_c, "hmax_c": hmax_c, "autumn_limit_c": max(h0_c, row.lt50_c(Phase.RIPENING)),
        "spring_limit_c": spring_c,
    }  # fmt: skip
    rates = {name: np.array([getattr(k, name) for k in lanes]) for name in RATES}
    return HardeningRates(**{name: np.full(len(lanes), value) for name, value in limits.items()}, **rates)


def air_of(
    wood_days: WoodDays, start: date, days: int, sightings: Sequence[JudgedSighting], *, evergreen: bool
) -> AutumnDays:
    """The air and light of each day of a season at one tree, and when its leaves were seen to be off."""
    off = [s.day for s in sightings if s.believed and s.day < FIRST_SPRING_DAY and s.sighting.sight in LEAVES_GONE]
    return AutumnDays(
        mean_c=wood_days.means_from(start, days), night_c=wood_days.minima_from(start, days),
        light=wood_days.light_from(start, days), off_day=min(off) if off else None, evergreen=evergreen,
    )  # fmt: skip


def season_days(lanes: Sequence[Kinetics], site: Site, start: date, air: AutumnDays, max_c: Floats) -> SeasonDays:
    """Readiness and hardening share of each lane along a last axis, from air of shape (days, ...)."""
    days = len(air.mean_c)
    length = hardening_share(day_length_h(start, days, site.latitude_deg))
    length = length.reshape(days, *(1 for _ in air.mean_c.shape))
    needed = any(k.chill_portions for k in lanes)
    low_c, high_c = _extremes(air, max_c)
    portions = daily_portions(low_c, high_c) if needed else air.mean_c
    gains = np.array([k.frost_gain for k in lanes])
    stages = {
        evergreen: hardening_by_stage(replace(air, evergreen=evergreen), frost_gain=gains)
        for evergreen in {k.evergreen for k in lanes}
    }
    share = np.stack([stages[k.evergreen][..., lane] for lane, k in enumerate(lanes)], axis=-1)
    ready = np.stack([np.broadcast_to(_ready(k, air.mean_c, portions), air.mean_c.shape) for k in lanes], axis=-1)
    return SeasonDays(hardening_share=length * share, readiness=ready)


def _ready(k: Kinetics, mean_c: Floats, portions: Floats) -> Floats:
    if k.chill_portions:
        return ready_by_portions_met(portions, k.chill_portions)
    if k.chill_sum_c_days:
        return ready_by_sum(mean_c, k.chill_sum_c_days)
    by_date = ready_by_date(len(mean_c), day_of_season(k.half_ready) + k.half_ready_shift_days)
    return by_date.reshape(len(mean_c), *(1 for _ in mean_c.shape[1:]))


def _extremes(air: AutumnDays, max_c: Floats) -> tuple[Floats, Floats]:
    """Extremes of every day; where only the mean is known, an ordinary day's swing about it."""
    low_c = np.where(np.isnan(air.night_c), air.mean_c - USUAL_SWING_C, air.night_c)
    return low_c, np.where(np.isnan(max_c), air.mean_c + USUAL_SWING_C, max_c)


def seen_bounds(row: SpeciesRow, sightings: Sequence[JudgedSighting], days: int, *, green_on: int | None) -> SeenBounds:
    """What believed sightings impose, on the tender side of what they can mean.

    Yellow leaves and leaves frozen green: no harder than wood whose leaves are just off. Leaves dropped: at least half
    way from ripening to hardening, a sign and not a measurement. Swelling buds: no harder than waking. Bloom: the same,
    and buds at just that stage where a table has it, else in leaf. New leaves or young fruit: green, nothing is
    regained.
    """
    raised, lowered, gone_to = (np.full(days, np.nan) for _ in range(3))
    woke, green = np.zeros(days, dtype=bool), np.zeros(days, dtype=bool)
    just_off = row.lt50_c(Phase.HARDENING)
    for seen in (s for s in sightings if s.believed and s.day < min(days, LAST_AUTUMN_DAY)):
        sight = seen.sighting.sight
        if sight in (SightingKind.LEAVES_YELLOW, SightingKind.LEAVES_FROZEN_GREEN) and seen.day < FIRST_SPRING_DAY:
            raised[seen.day] = np.fmax(raised[seen.day], just_off)
        elif sight is SightingKind.LEAVES_DROPPED:
            lowered[seen.day] = (row.lt50_c(Phase.RIPENING) + just_off) / 2
        elif sight is SightingKind.BUDS_SWELLING:
            raised[seen.day], woke[seen.day] = np.fmax(raised[seen.day], row.lt50_c(Phase.WAKING)), True
        elif (gone := way_gone(row.species, sight)) is not None:
            raised[seen.day], woke[seen.day] = np.fmax(raised[seen.day], row.lt50_c(Phase.WAKING)), True
            gone_to[seen.day] = gone
        elif sight in (SightingKind.LEAFED_OUT, SightingKind.FRUIT_PEA_SIZE, *BLOOM):
            green[seen.day] = True
    if green_on is not None:
        green[green_on] = True
    return SeenBounds(raise_to_c=raised, lower_to_c=lowered, woke=woke, leafed_out=green, gone_to=gone_to)
