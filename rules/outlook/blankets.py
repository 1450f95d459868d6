"""Blankets over bare trees: those thrown over by what was told, and those the plan may ask for."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

from rules.garden.cover import STATE_INDEX, CoverState
from rules.garden.records import DeedKind, Records
from rules.garden.species import Organ
from rules.garden.tree import SiteSoil
from rules.heat.ahead import HeatAhead
from rules.heat.stopgap import blanket_gains_c
from rules.heat.what_if import Stand
from rules.plan.cover_costs import BLANKET_MINUTES
from rules.plan.situation import tends_in_own_way
from rules.plan.slots import DayPart, Slot, marks_of
from rules.plan.wood_ahead import leaves_today
from rules.weather.hourly import HourlyWeather, tonight
from rules.wood.hardiness import FEW_LEAVES
from rules.wood.margins import TreeMargins

BARE: Final = STATE_INDEX[CoverState.BARE]
NO_RISK: Final = 0.02  # chance of too cold a night below which no blanket is weighed; assumed


def hours_under(records: Records, tree: str, hours: HourlyWeather, zone: ZoneInfo) -> list[slice]:
    """The hour marks at which a blanket was told over a tree: from each deed to the noon after its night."""
    found = []
    for deed in records.deeds:
        if deed.tree == tree and deed.kind is DeedKind.BLANKETED:
            noon = datetime.combine(tonight(deed.at_utc, zone) + timedelta(days=1), time(12), zone)
            first, last = (hours.index_of(at) for at in (deed.at_utc, noon))
            if last >= 0 and first < hours.hours:
                found.append(slice(max(0, first + 1), min(last + 1, hours.hours)))
    return found


def is_blanketed(records: Records, tree: str, now: datetime, zone: ZoneInfo) -> bool:
    """Whether a blanket was thrown over a tree for the night to come, or that goes on."""
    deeds = [deed for deed in records.deeds if deed.tree == tree and deed.at_utc <= now]
    told = [deed for deed in deeds if deed.kind is DeedKind.BLANKETED]
    return bool(told) and tonight(told[-1].at_utc, zone) == tonight(now, zone)


def may_have_blanket(one: TreeMargins) -> bool:
    """Whether a blanket is weighed for a tree: bare and in leaf, its cover an hour's work, and a night at risk told.

    A quick cover is a blanket itself; leafless, the cover may as well go on for the winter.
    """
    if one.cover is None or not one.tended or one.state_assumed is not CoverState.BARE:
        return False
    slow = one.cover.minutes_to_wrap > BLANKET_MINUTES and not one.cover.is_shelter
    leafy = one.hardiness.watched is Organ.SHOOTS or leaves_today(one.hardiness) >= FEW_LEAVES
    ours = not tends_in_own_way(one.tree)
    return slow and leafy and ours and any(night.known[CoverState.BARE].chance >= NO_RISK for night in one.nights)


def with_blankets(
    heat: HeatAhead, over: Mapping[int, tuple[Stand, Sequence[slice]]], tended: Sequence[int], soil: SiteSoil
) -> HeatAhead:
    """The hours to come with what blankets that are on now keep, at the bare tree.

    Parameters
    ----------
    heat
        As it would be without.
    over
        Trees under a blanket, by index, with the hours ahead it is on.
    tended
        Which trees have a cover, in the order of `heat.covered`.
    soil
        Of the site.
    """
    if not over or heat.covered is None:
        return heat
    by_tree = list(heat.by_tree)
    wood_c, top_c = heat.covered.wood_c.copy(), heat.covered.top_c.copy()
    for i, (stand, under) in over.items():
        gain_c = blanket_gains_c([stand], [under], soil)[0]
        at, bare = tended.index(i), by_tree[i][CoverState.BARE]
        wood_c[at, BARE] += gain_c[0]
        top_c[at, BARE] += gain_c[1]
        warmer = replace(bare, wood_c=bare.wood_c + gain_c[0], top_c=bare.top_c + gain_c[1])
        by_tree[i] = {**by_tree[i], CoverState.BARE: warmer}
    return HeatAhead(by_tree=by_tree, covered=replace(heat.covered, wood_c=wood_c, top_c=top_c))


def evenings_ahead(times: Sequence[Slot], hours: int, under: Sequence[slice]) -> list[slice]:
    """The hours from each evening's visit to the next, as hour marks; none of which a blanket is on already."""
    nights = [
        slice(first, last + 1)
        for one, (first, last) in zip(times, pairwise(marks_of(times, hours)), strict=True)
        if one.part is DayPart.EVENING
    ]
    return [night for night in nights if not any(night.start < one.stop for one in under)]
