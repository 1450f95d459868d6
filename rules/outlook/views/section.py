"""A cut through one cover at its coldest hour: the temperature of every part of it."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from rules.garden.cover import STATE_INDEX, Cover, CoverState
from rules.garden.tree import SiteSoil
from rules.heat.balance import InsideTemperatures, inside_temperatures
from rules.heat.marching.batch import GRID
from rules.heat.marching.step import MELT_J_KG, bucket_c, conductances, drive, elimination
from rules.heat.network import network
from rules.heat.properties import properties_of, structure_shown_c
from rules.heat.surroundings import TreeAir, instants, part
from rules.outlook.garden_outlook import Outlook
from rules.outlook.inputs import OutlookInputs, timeline_of, tree_weathers
from rules.outlook.past import Past, past_of
from rules.outlook.views.week import WEEK_H
from rules.weather.hourly import evening_at
from rules.wood.margins import TreeMargins


@dataclass(frozen=True, kw_only=True)
class CoverSection:
    """One cover, cut open at one hour; temperatures in °C.

    Parameters
    ----------
    tree, cover, state, at_utc
        Which, in what state, when.
    air_c, lowest_air_c
        Air at the tree, at that hour and at its lowest in the week, which wood in the open meets.
    skin_c, cap_c
        Outermost surface of side and top, the sky and wind upon them; None where nothing lies over the top.
    fill_c
        Shells of the ring, from the inner cage outward; without fill they hold next to nothing and mean little.
    lining_c
        The inner face of the ring, behind the blanket.
    inside_c, wood_c, top_c, sd_c
        Stem-zone air, stem at mid-height, its last 15 cm (an estimate that errs cold; where the tree stands out of
        its cover the air, as for any bare wood); 1 sd of the wood from site and
        cover, forecast apart, None where no night is judged.
    soil_c, depths_m
        Soil under the cover from the top down, and where.
    beside_c
        Soil beside the cover at the same depths.
    water_c, ice_share
        The bucket, and how much of it is ice; None without one.
    lt10_c
        What the wood can take.
    """

    tree: str
    cover: Cover
    state: CoverState
    at_utc: datetime
    air_c: float
    lowest_air_c: float
    skin_c: float
    cap_c: float | None
    fill_c: tuple[float, ...]
    lining_c: float
    inside_c: float
    wood_c: float
    top_c: float
    sd_c: float | None
    soil_c: tuple[float, ...]
    depths_m: tuple[float, ...]
    beside_c: tuple[float, ...]
    water_c: float | None
    ice_share: float | None
    lt10_c: float


BUILT: Final = (CoverState.VENTED, CoverState.CLOSED)


def cover_section(
    inputs: OutlookInputs, seen: Outlook, name: str, state: CoverState = CoverState.CLOSED
) -> CoverSection:
    """The cover of the tree called `name` at the coldest hour its wood would meet in the coming week.

    Raises
    ------
    KeyError
        If the garden has no such tree.
    ValueError
        The tree has no cover, the state is bare, or no forecast reaches beyond now.
    """
    margins, tree = seen.tree(name), inputs.tree(name)
    line = timeline_of(inputs, seen.now)
    if margins.cover is None or state not in BUILT:
        raise ValueError(f"{name} has no cover on to cut open")
    if line is None:
        raise ValueError(f"no forecast reaches beyond now, so nothing is known inside the cover of {name}")
    past = past_of(inputs, line, [tree])
    whole = tree_weathers(inputs, line.ahead, [tree])[0]
    weather = part(whole, 0, min(WEEK_H + 1, whole.air_c.shape[-1]))
    marching = _March(margins.cover, state, inputs.soil, past)
    hour = 1 + int(np.argmin(marching.through(weather).wood_c[0, 1:]))
    held = marching.through(part(weather, 0, hour + 1))
    cut = _cut(margins, margins.cover, state, weather, hour, held, inputs.site.zone)
    return replace(cut, top_c=cut.air_c) if margins.outside else cut


@dataclass(frozen=True)
class _March:
    cover: Cover
    state: CoverState
    soil: SiteSoil
    past: Past | None

    def through(self, weather: TreeAir) -> InsideTemperatures:
        states = np.full((1, weather.air_c.shape[-1]), STATE_INDEX[self.state])
        start = self.past.finish if self.past else None
        return inside_temperatures([self.cover], states, weather, start, soil=self.soil)


def _cut(
    margins: TreeMargins,
    cover: Cover,
    state: CoverState,
    weather: TreeAir,
    hour: int,
    inside: InsideTemperatures,
    zone: ZoneInfo,
) -> CoverSection:
    held, p = inside.finish, properties_of(cover, state)
    nodes, cells = held.nodes_c[0, 0].tolist(), GRID.cells
    net = network(p, GRID)
    fixed = elimination(net, 3600.0)
    point = instants(part(weather, hour - 1, hour + 1), np.ones(1))[0, 0, :, 0].tolist()
    inside_c, shells, shown_c = nodes[cells], nodes[cells + 1 : -1], structure_shown_c(cover)
    side, cap, *_ = conductances(fixed, point, inside_c)
    side_c, over_c, *_ = drive(fixed, point)
    inward_k_w = (p.inside_m2k_w + p.blanket_m2k_w) / (2 * np.pi * p.inner_radius_m * p.height_m)
    depths = GRID.depths_m[:cells][::-1]
    water_j = float(held.water_j[0, 0])
    wet = cover.water_l > 0
    at = weather.start_utc + timedelta(hours=hour)
    evening = evening_at(at, zone)
    return CoverSection(
        tree=margins.tree.name, cover=cover, state=state, at_utc=at,
        air_c=float(weather.air_c[..., hour]), lowest_air_c=float(weather.air_c[..., 1:].min()),
        skin_c=float(shells[-1] - side * (shells[-1] - side_c) * net.side_k_w),
        cap_c=None if p.open_top else float(inside_c - cap * (inside_c - over_c) * net.cap_k_w),
        fill_c=tuple(shells),
        lining_c=float(inside_c - net.links[cells] * (inside_c - shells[0]) * inward_k_w),
        inside_c=inside_c + shown_c, wood_c=nodes[-1] + shown_c, top_c=float(inside.top_c[0, -1]),
        sd_c=margins.night_of(evening).tissue[state].sd_c if margins.nights else None,
        soil_c=tuple(nodes[:cells][::-1]), depths_m=tuple(depths.tolist()),
        beside_c=tuple(held.beside_c(depths).tolist()),
        water_c=float(bucket_c(water_j, cover.water_l)) if wet else None,
        ice_share=min(1.0, max(0.0, -water_j / (cover.water_l * MELT_J_KG))) if wet else None,
        lt10_c=margins.hardiness.lt10_c,
    )  # fmt: skip
