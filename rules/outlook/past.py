"""The past marched through: what each tree's wood felt, and the heat that covers and ground hold now."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Cover
from rules.garden.records import Deed, state_series
from rules.garden.tree import Tree
from rules.heat.balance import HeatStart, inside_temperatures
from rules.outlook.inputs import OutlookInputs, cover_on, timeline_of, tree_hardiness, tree_weathers
from rules.site.microclimate import SiteOffset
from rules.site.soil import site_soil
from rules.weather.hourly import HourlyWeather
from rules.weather.timeline import Timeline, sliced
from rules.wood.daily_temperatures import wood_days_from
from rules.wood.hardiness import Hardiness, WoodDays

Floats = npt.NDArray[np.float64]

SETTLED_H: Final = 36  # hours before this are told for good: late answers and better past weather come later; assumed


@dataclass(frozen=True, kw_only=True, eq=False)
class Carried:
    """What a round hands to the next, so that a long autumn is not marched through twice.

    Parameters
    ----------
    start_utc, wood_c
        First mark, and the wood of each tree from there to the moment of `heat` [°C], shape (trees, hours).
    heat
        What covers and ground held at that moment.
    deeds, trees, offsets, covers_read
        What it rests on; another deed before that moment, another tree, or another offset of its air or cover, and the
        march begins anew: what a thermometer teaches today holds for the autumn behind as well.
    """

    start_utc: datetime
    wood_c: Floats
    heat: HeatStart
    deeds: tuple[Deed, ...]
    trees: tuple[Tree, ...]
    offsets: Mapping[str, SiteOffset] = field(default_factory=dict)
    covers_read: Mapping[str, Cover] = field(default_factory=dict)

    def fits(self, inputs: OutlookInputs, past: HourlyWeather) -> bool:
        """Whether this may be carried on into the past of `inputs`."""
        before = tuple(deed for deed in inputs.records.deeds if deed.at_utc <= self.heat.at_utc)
        inside = self.start_utc <= past.start_utc < self.heat.at_utc < past.end_utc
        same = tuple(inputs.trees) == self.trees and before == self.deeds
        return inside and same and inputs.offsets == self.offsets and inputs.covers_read == self.covers_read


def hardiness_now(inputs: OutlookInputs, tree: Tree, now: datetime) -> Hardiness:
    """What one tree can take in the night that begins today, from all that is on record."""
    line = timeline_of(inputs, now)
    today = now.astimezone(inputs.site.zone).date()
    wood_days = march_past(replace(inputs, trees=(tree,)), line, None)[0][0] if line else WoodDays.nothing(today)
    return tree_hardiness(inputs, tree, wood_days, today)


def march_past(
    inputs: OutlookInputs, line: Timeline, carried: Carried | None
) -> tuple[list[WoodDays], HeatStart | None, Carried | None]:
    """What each tree's wood felt by day, the heat held now, and what the next round may carry on."""
    if line.past is None or line.past.hours < 2:
        today = line.ahead.start_utc.astimezone(inputs.site.zone).date()
        return [WoodDays.nothing(today) for _ in inputs.trees], None, None
    past = line.past
    kept = carried if carried and carried.fits(inputs, past) else None
    wood_c, start, first = _carried_on(kept, past, len(inputs.trees))
    settled = max(first, past.hours - 1 - SETTLED_H)
    marched = [wood_c]
    if settled > first:
        wood, start = _march(inputs, past, first, settled, start)
        marched.append(wood[:, 1:] if first else wood)
    new = _carry(inputs, past, settled, np.concatenate(marched, axis=1), start)
    wood, start = _march(inputs, past, settled, past.hours - 1, start)
    marched.append(wood[:, 1:] if settled else wood)
    whole = np.concatenate(marched, axis=1)
    return [wood_days_from(past, wood, line.past_known, inputs.site.zone) for wood in whole], start, new


def _carried_on(kept: Carried | None, past: HourlyWeather, trees: int) -> tuple[Floats, HeatStart | None, int]:
    """Wood so far (trees, hours), the heat at its end, and the index of that mark; empty, None and 0 to begin anew."""
    if kept is None:
        return np.empty((trees, 0)), None, 0
    skip = int((past.start_utc - kept.start_utc) / timedelta(hours=1))
    return kept.wood_c[:, skip:], kept.heat, past.index_of(kept.heat.at_utc)


def _carry(
    inputs: OutlookInputs, past: HourlyWeather, at: int, wood_c: Floats, heat: HeatStart | None
) -> Carried | None:
    if heat is None or at == 0:
        return None
    until = past.start_utc + timedelta(hours=at)
    deeds = tuple(deed for deed in inputs.records.deeds if deed.at_utc <= until)
    return Carried(
        start_utc=past.start_utc, wood_c=wood_c, heat=heat, deeds=deeds, trees=tuple(inputs.trees),
        offsets=dict(inputs.offsets), covers_read=dict(inputs.covers_read),
    )  # fmt: skip


def _march(
    inputs: OutlookInputs, past: HourlyWeather, first: int, last: int, start: HeatStart | None
) -> tuple[Floats, HeatStart | None]:
    """Wood of each tree from mark `first` to mark `last`, and the heat held at the end."""
    if last <= first:
        return np.empty((len(inputs.trees), 1)), start
    hours = sliced(past, first, last + 1)
    times = hours.times_utc()
    inside = inside_temperatures(
        [cover_on(inputs, tree) for tree in inputs.trees],
        np.stack([state_series(inputs.records.deeds, tree.name, times) for tree in inputs.trees]),
        tree_weathers(inputs, hours, inputs.trees),
        start,
        soil=site_soil(inputs.site.latitude_deg, inputs.site.elevation_m),
    )
    return inside.wood_c, inside.finish
