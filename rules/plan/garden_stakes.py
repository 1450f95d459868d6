"""All that is at stake in a garden, laid out as arrays for the search."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, STATES, CoverState
from rules.garden.tree import Site
from rules.heat.courses import CoverCourses, response_to_air
from rules.plan.beyond_forecast import NightResponse, SeasonStakes, season_ahead
from rules.plan.changes.shut_at_once import shut_at_once
from rules.plan.changes.strip_cue import broken, cold_ahead
from rules.plan.cover_costs import StandingCost, standing_cost, work_of
from rules.plan.prices import PlanPrices
from rules.plan.situation import (
    TreeSituation,
    air_doses_c,
    foreseen_share,
    in_leaf,
    known,
    lasting_organ,
    tends_in_own_way,
    too_cold,
    unforeseen_of,
)
from rules.plan.slots import DayPart, Slot, marks_of
from rules.plan.stakes import GreenShoots, Stakes, either_way, nothing_or_half
from rules.plan.wood_ahead import WoodCourses, wood_ahead
from rules.weather.daily_minima import DailyMinima
from rules.wood.hardiness import Hardiness, tree_row
from rules.wood.injury import dose_c, dose_width_c
from rules.wood.organs import OrganHardiness
from rules.wood.season import season_place

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

WOOD: Final = -1  # the wood is the last node
HOURS: Final = 24.0
BARE: Final = STATE_INDEX[CoverState.BARE]


@dataclass(frozen=True, kw_only=True, eq=False)
class AtStake:
    """The stakes of the tended trees, and what the words about them need.

    Parameters
    ----------
    tended, slots
        The trees, and the times at which they can be tended.
    stakes
        What the search is given.
    spread_c
        One sd of the temperature that hurts besides the members, hardiness left out, shape (trees, slots, states) [°C].
    damping
        How much of a change of the air the wood feels, same shape.
    shoots
        The new shoots of trees in leaf, whose frosts are among what a state costs besides the wood.
    parts
        The holding cost of each tree by its parts, each (members, slots, states).
    wood
        What becomes of each tree's wood in each state, at each slot and at the end.
    wraps
        Whether past winters have any cover pay at each tree, shape (trees,).
    mild_c
        Mean of the air outside from each slot on for a day, by tree, each shape (slots,) [°C].
    """

    tended: Sequence[TreeSituation]
    slots: Sequence[Slot]
    stakes: Stakes
    spread_c: Floats
    damping: Floats
    shoots: GreenShoots
    parts: Sequence[StandingCost]
    wood: Sequence[WoodCourses]
    wraps: Flags
    mild_c: Sequence[Floats]


def at_stake(
    tended: Sequence[TreeSituation],
    slots: Sequence[Slot],
    site: Site,
    refused: Sequence[tuple[str, datetime]],
    away: Sequence[tuple[date, date]],
    climate: DailyMinima | None,
    prices: PlanPrices,
    courses: CoverCourses,
) -> AtStake:
    """The stakes of some covered trees over some slots; parameters as those of the plan."""
    marks = marks_of(slots, courses.wood_c.shape[-1])
    spans = [slice(a + 1, b + 1) for a, b in pairwise(marks)]
    tissue = np.stack([dose_c(courses.wood_c[..., span]) for span in spans], axis=-1)
    tip = np.stack([dose_c(courses.top_c[..., span]) for span in spans], axis=-1)
    foreseen = foreseen_share(tended, spans)
    wood = [_wood(courses, i, one, site, marks) for i, one in enumerate(tended)]
    parts = [_standing_cost(courses, i, one, spans, wood[i], prices) for i, one in enumerate(tended)]
    damping = _damping(tended, tissue, spans)
    unforeseen_c, lasting_c = unforeseen_of(tissue, foreseen), _lasting_c(tended, damping)
    fades, reads = _fading(courses, marks, spans)
    responses = (_response(one, i, (tissue, tip), slots, spans) for i, one in enumerate(tended))
    later = [_later(*each) for each in zip(tended, responses, lasting_c.mean(axis=1), strict=True)]
    season = season_ahead(later, site, slots[-1].day, climate, prices)
    lost = np.array([one.lost_share for one in tended])
    middle_c, tip_c = known(tissue, foreseen), known(tip, foreseen)
    shoots, width_c = _shoots(tended, lasting_c, unforeseen_c, prices), _wood_widths_c(tended, lasting_c)
    may_strip = [broken(*each, slots, site) for each in zip(tended, wood, strict=True)]
    work = [_work(one, tissue[i, BARE], may_strip[i], slots, refused, away, prices) for i, one in enumerate(tended)]
    spread_c = np.hypot(unforeseen_c, lasting_c)
    shut = shut_at_once(np.stack(work), too_cold(tended, middle_c, spread_c), slots)
    theirs = np.array([tends_in_own_way(one.tree) for one in tended])[:, None, None, None]
    stakes = Stakes(
        middle_c=middle_c,
        tip_c=tip_c,
        nodes_c=np.moveaxis(_known_nodes(courses.nodes_at(marks[:-1]), foreseen), 1, 3),
        fades=fades,
        tissue=reads,
        tip_keeps=courses.tip_keeps,
        lt50_c=np.repeat([[lasting_organ(one).lt50_c] for one in tended], len(slots), axis=1),
        softens_c=np.stack([np.diff(one.softer_c, axis=0) for one in wood]),
        width_c=width_c,
        unforeseen_c=unforeseen_c,
        standing_cost=np.stack([one.total for one in parts]) + shoots.frost_cost(middle_c, tip_c),
        work=np.where(theirs, np.stack(work), shut),
        worth=np.array([one.tree.worth_trips for one in tended]),
        tail=either_way(nothing_or_half(season.cost, lost), lost, width_c, unforeseen_c),
        tail_off_c=season.off_c,
        state=np.array([STATE_INDEX[one.state] for one in tended]),
        lost=lost,
    )
    mild_c = [np.array([one.weather.air_c[:, mark : mark + 24].mean() for mark in marks[:-1]]) for one in tended]
    return AtStake(
        tended=tended, slots=slots, stakes=stakes, spread_c=spread_c, damping=damping, shoots=shoots, parts=parts,
        wood=wood, wraps=season.wraps, mild_c=mild_c,
    )  # fmt: skip


def _width_c(one: OrganHardiness | Hardiness, sd_c: float, lasting_c: Floats) -> Floats:
    """How wide harm is spread about the 50 % point [°C]: by the dose curve, the organ's doubt, its site and cover."""
    return np.asarray(np.sqrt(lasting_c**2 + (dose_width_c(one.lt10_c, one.lt50_c) ** 2 + sd_c**2)))


def _wood_widths_c(tended: Sequence[TreeSituation], lasting_c: Floats) -> Floats:
    """Of what a tree's worth stands or falls by, shape (trees, slots, states)."""
    organs = [lasting_organ(one) for one in tended]
    doubts = [
        float(tree_row(one.tree, one.hardiness.day).sd_c(organ.lt50_c)) if in_leaf(one) else one.hardiness.sd_c
        for one, organ in zip(tended, organs, strict=True)
    ]
    return np.stack([_width_c(*each) for each in zip(organs, doubts, lasting_c, strict=True)])


def _shoots(
    tended: Sequence[TreeSituation], lasting_c: Floats, unforeseen_c: Floats, prices: PlanPrices
) -> GreenShoots:
    wood = [one.hardiness for one in tended]
    return GreenShoots(
        worth=np.array([min(one.tree.worth_trips, prices.shoots) if in_leaf(one) else 0.0 for one in tended]),
        lt50_c=np.array([one.lt50_c for one in wood]),
        width_c=np.stack([_width_c(one, one.sd_c, sd) for one, sd in zip(wood, lasting_c, strict=True)]),
        unforeseen_c=unforeseen_c,
    )


def _work(
    one: TreeSituation,
    bare_c: Floats,
    may_strip: Flags,
    slots: Sequence[Slot],
    refused: Sequence[tuple[str, datetime]],
    away: Sequence[tuple[date, date]],
    prices: PlanPrices,
) -> Floats:
    return work_of(one.tree, one.cover, may_strip, slots, refused, away, prices, cold_ahead(one, bare_c))


def _known_nodes(nodes_c: Floats, foreseen: Floats) -> Floats:
    mean = nodes_c.mean(axis=2, keepdims=True)
    return np.asarray(mean + foreseen[:, None, None, :, None] * (nodes_c - mean))


def _damping(tended: Sequence[TreeSituation], tissue: Floats, spans: Sequence[slice]) -> Floats:
    """How much of what the air does the wood feels at its coldest, (trees, slots, states)."""
    air = np.swapaxes(air_doses_c(tended, spans), 1, 2)
    return np.moveaxis(response_to_air(tissue, air[:, None], axis=2), 1, 2)


def _lasting_c(tended: Sequence[TreeSituation], damping: Floats) -> Floats:
    """One sd of what hurts from site and cover, the same night after night [°C], shape (trees, slots, states).

    A cover damps what is not known of its site as it damps the members.
    """
    site = np.array([one.weather.offset_sd_c for one in tended])[:, None, None] * damping
    cover = np.array([[one.cover_sd_in(state) for state in STATES] for one in tended])[:, None]
    return np.asarray(np.hypot(site, cover))


def _fading(courses: CoverCourses, marks: Sequence[int], spans: Sequence[slice]) -> tuple[Floats, Floats]:
    """What is left of a difference at the next slot, and what the wood feels of it at its coldest hour till then."""
    lengths = np.diff(marks)
    fades = np.moveaxis(courses.fading[:, :, lengths], 1, 2)
    mean = courses.wood_c.mean(axis=2)
    coldest = np.stack([mean[..., span].argmin(axis=-1) + 1 for span in spans], axis=-1)  # (trees, states, slots)
    reads = np.take_along_axis(courses.fading[:, :, :, WOOD], coldest[..., None], axis=2)
    return fades, np.moveaxis(reads, 1, 2)


def _wood(courses: CoverCourses, i: int, one: TreeSituation, site: Site, marks: Sequence[int]) -> WoodCourses:
    place = season_place(one.hardiness.day, site.latitude_deg)
    return wood_ahead(one.hardiness, place, site.latitude_deg, courses.air_c[i].mean(axis=1), np.array(marks))


def _standing_cost(
    courses: CoverCourses,
    i: int,
    one: TreeSituation,
    spans: Sequence[slice],
    wood: WoodCourses,
    prices: PlanPrices,
) -> StandingCost:
    begins, hours = [span.start for span in spans], np.array([span.stop - span.start for span in spans])
    air_c, days = courses.air_c[i][..., : spans[-1].stop], hours[:, None] / HOURS
    means, hottest = np.add.reduceat(air_c, begins, axis=-1) / hours, np.maximum.reduceat(air_c, begins, axis=-1)
    found = standing_cost(
        np.arange(len(STATES)), np.moveaxis(means, 0, 2), np.moveaxis(hottest, 0, 2), wood.leaves[:-1],
        wood.developed[:-1], prices, mould=one.mould,
    )  # fmt: skip
    whole = (len(means[0]), len(spans), len(STATES))
    rot, hot, pale = (np.broadcast_to(part * days, whole) for part in (found.rot, found.hot, found.pale))
    return StandingCost(rot=rot, hot=hot, pale=pale)


def _response(
    one: TreeSituation,
    i: int,
    hurts: tuple[Floats, Floats],
    slots: Sequence[Slot],
    spans: Sequence[slice],
) -> NightResponse:
    """How the forecast's nights are felt, each from its evening on; without an evening, the last slot's hours."""
    nights = [k for k, slot in enumerate(slots) if slot.part == DayPart.EVENING] or [len(slots) - 1]
    field_c = one.weather.air_c - one.weather.offset_c
    lows = np.stack([field_c[:, spans[k]].min(axis=1) for k in nights], axis=-1)
    middle, tip = (each[i][..., nights] for each in hurts)
    warmer = [(values - lows).mean(axis=(1, 2)) for values in (middle, tip)]
    return NightResponse(
        middle_c=warmer[0],
        tip_c=warmer[1],
        share=response_to_air(middle, lows, axis=(-2, -1)),
        low_c=float(lows.mean()),
    )


def _later(one: TreeSituation, response: NightResponse, lasting_c: Floats) -> SeasonStakes:
    return SeasonStakes(
        tree=one.tree,
        cover=one.cover,
        hardiness=one.hardiness,
        response=response,
        offset_c=float(np.mean(one.weather.offset_c)),
        lasting_c=lasting_c,
        free=one.free,
        mould=one.mould,
        tables=one.tables,
    )
