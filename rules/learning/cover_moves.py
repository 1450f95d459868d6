"""What a cover makes of the weather, and what it would make of it were one of its unknown numbers different."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, Cover, CoverState
from rules.garden.tree import SiteSoil
from rules.heat.marching.batch import Batch
from rules.heat.properties import UNKNOWNS as OF_COVER
from rules.heat.properties import (
    CoverProperties,
    joined,
    perturbed,
    properties_of,
    stacked,
    structure_sd_c,
    taken,
)
from rules.heat.surroundings import Surroundings, TreeAir, part
from rules.learning.site_offset import OUTSIDE_SD_C

Floats = npt.NDArray[np.float64]

UNKNOWNS: Final = (*OF_COVER, "outside")  # those of the cover, then the air outside


@dataclass(frozen=True, kw_only=True, eq=False)
class CoverMoves:
    """Air and wood inside one cover [°C], shape (hours,), and how each unknown number moves them.

    `air_moves_c`, `wood_moves_c` [°C], shape (unknowns, hours): the change for one prior sd of each of `UNKNOWNS`; of
    the cover's own half the difference of one up and one down, of what the equations miss its sd while the cover is on.
    `outside_sd_c` is the prior sd of the last: a lasting error of the air at the tree [°C]. `air_days_c` [°C], shape
    (days, hours), is the change of the air inside for an error of 1 °C about one mark in 24 of the told air, fading to
    nothing a day before and after; `outside_days_c` that error itself. `outside_c` is the told air [°C] and `dark`
    whether the sun is down, both (hours,).
    """

    start_utc: datetime
    air_c: Floats
    wood_c: Floats
    air_moves_c: Floats
    wood_moves_c: Floats
    outside_sd_c: float
    air_days_c: Floats
    outside_c: Floats
    outside_days_c: Floats
    dark: npt.NDArray[np.bool_]

    @property
    def spread_c(self) -> Floats:
        """One sd of the wood [°C] from cover and outside air, before any reading, shape (hours,)."""
        return np.asarray(np.sqrt((self.wood_moves_c**2).sum(axis=0)))

    def index_of(self, moment: datetime) -> int:
        """Index of the hour mark nearest to `moment` (may lie outside)."""
        return round((moment - self.start_utc).total_seconds() / 3600)

    def warmer_by_day_c(self, moment: datetime, read_c: float) -> float:
        """By how much what was read inside is above the cover as described [°C]; 0 in the dark and beyond the hours."""
        at = self.index_of(moment)
        by_day = 0 <= at < len(self.air_c) and not self.dark[at]
        return read_c - float(self.air_c[at]) if by_day else 0.0


def cover_moves(
    cover: Cover,
    states: npt.ArrayLike,
    weather: TreeAir,
    *,
    soil: SiteSoil,
    outside_sd_c: float = OUTSIDE_SD_C,
) -> CoverMoves:
    """A cover marched through the weather with each unknown number as described, up, and down.

    Parameters
    ----------
    cover
        The cover as the grower described it.
    states
        State index from each hour mark on, shape (hours,): `state_series` of the records.
    weather
        At the tree, one course (hours,), from ten days before the first hour that is asked about.
    soil
        Of the site.
    outside_sd_c
        One sd [°C] of the tree's air about `weather` on every night: of the offset `weather` was made with.

    Raises
    ------
    ValueError
        As `inside_temperatures`.
    """
    whole = part(weather, 0, weather.air_c.shape[-1])
    row = np.asarray(states)[None]
    made = [_variants(cover, state) for state in (CoverState.VENTED, CoverState.CLOSED)]
    wood, air = _marched(cover, row, whole, made, soil)
    own_c = structure_sd_c(cover) * (row != STATE_INDEX[CoverState.BARE])
    changed = _air_changes(len(whole.air_c), outside_sd_c)
    as_told = [taken(one, np.array([0])) for one in made]
    wood_out, air_out = _marched(cover, row, _with_air(whole, whole.air_c + changed), as_told, soil)
    return CoverMoves(
        start_utc=weather.start_utc,
        air_c=air[0],
        wood_c=wood[0],
        air_moves_c=np.vstack([(air[1::2] - air[2::2]) / 2, own_c, air_out[:1] - air[:1]]),
        wood_moves_c=np.vstack([(wood[1::2] - wood[2::2]) / 2, own_c, wood_out[:1] - wood[:1]]),
        outside_sd_c=outside_sd_c,
        air_days_c=air_out[1:] - air[0],
        outside_c=whole.air_c,
        outside_days_c=changed[1:],
        dark=np.asarray(whole.sun_top_w_m2) <= 0,
    )


def _air_changes(hours: int, outside_sd_c: float) -> Floats:
    """A lasting change of the outside air, then one about every 24th mark [°C], shape (1 + days, hours)."""
    days_off = np.arange(hours) / 24 - np.arange(hours // 24 + 1)[:, None]
    return np.vstack([np.full(hours, outside_sd_c), np.clip(1 - np.abs(days_off), 0.0, 1.0)])


def _with_air(weather: Surroundings, air_c: Floats) -> Surroundings:
    def each(values: Floats) -> Floats:
        return np.broadcast_to(values, air_c.shape)

    return replace(
        weather,
        air_c=air_c,
        wind_m_s=each(weather.wind_m_s),
        sky_emissivity=each(weather.sky_emissivity),
        sun_side_w_m2=each(weather.sun_side_w_m2),
        sun_top_w_m2=each(weather.sun_top_w_m2),
    )


def _variants(cover: Cover, state: CoverState) -> CoverProperties:
    """The cover as described, then with each unknown number moved up and down."""
    described = stacked([properties_of(cover, state)])
    return joined([described, perturbed(described)])


def _marched(
    cover: Cover,
    states: npt.NDArray[np.int64],
    weather: TreeAir,
    made: Sequence[CoverProperties],
    soil: SiteSoil,
) -> tuple[Floats, Floats]:
    """Wood and air, each (variants x members, hours)."""
    batch = Batch([cover], states, weather, None, soil)
    kept, _, _ = batch.march(tuple(made), None, None, np.size(made[0].outer_radius_m))
    return kept[0], kept[2]
