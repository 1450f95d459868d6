"""The little things that help a tree tonight where its cover alone does not: a bucket, a blanket, fill in the top."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from statistics import NormalDist
from typing import Final

import numpy as np

from rules.garden.condition import Top
from rules.garden.cover import CoverState
from rules.heat.surroundings import part
from rules.heat.what_if import WhatIf, WhatIfKind, stopgaps
from rules.outlook.inputs import OutlookInputs
from rules.outlook.nights import LEAST_HOURS
from rules.outlook.tree_heat import TreeHeat, tree_heats
from rules.plan.prices import ASSUMED
from rules.plan.slots import NO_FILM_GUST_M_S
from rules.wood.injury import Z_TEN_PERCENT
from rules.wood.margins import Night, TreeMargins

WORTH_IT_C: Final = 0.3  # a gain below this is not worth the way to the garden; assumed, no source
STANDARD: Final = NormalDist()
SURE: Final = 1e-6


@dataclass(frozen=True, kw_only=True)
class LittleThing:
    """One thing that can be done: what, how much warmer the wood [°C], and the chance of too cold a night with it."""

    kind: WhatIfKind
    gain_c: float
    chance: float


def little_things(
    inputs: OutlookInputs, trees: Sequence[TreeMargins], evening: date, now: datetime
) -> dict[str, list[LittleThing]]:
    """What helps each of some trees in one night as its cover stands, the most first; nothing for those left bare.

    The gain is the heat balance's, of the mean of the forecast, in the lowest wood up to the end of that night; the
    chance is that of the night moved by it.
    """
    cared = [one for one in trees if one.nights and not one.tree.left_bare]
    heats = tree_heats(inputs, [one.tree for one in cared], now)
    ends = _end_of(heats[0], evening) if heats else 0
    stands = [one.stand(part(one.weather, 0, ends)) for one in heats if ends >= LEAST_HOURS]
    ways = stopgaps(stands, [one.state_assumed for one in cared[: len(stands)]], soil=inputs.soil)
    return {
        one.tree.name: _things(found, one, one.night_of(evening))
        for one, found in zip(cared, ways or [[] for _ in heats], strict=bool(heats))
    }


def _end_of(heat: TreeHeat, evening: date) -> int:
    """The last hour ahead of a night; 0 of one that is not ahead."""
    return next((hours.stop for day, hours in heat.nights if day == evening), 0)


def _is_cloth(kind: WhatIfKind, one: TreeMargins) -> bool:
    """Whether it takes cloth or film round the tree, which nobody should handle in strong wind."""
    bare = one.state_assumed is CoverState.BARE
    return bare or kind in (WhatIfKind.SHEET, WhatIfKind.BLANKET, WhatIfKind.WHOLE, WhatIfKind.BARE)


def _things(ways: Sequence[WhatIf], one: TreeMargins, night: Night) -> list[LittleThing]:
    """What is worth it of the ways of a tree, the first as it stands; none where too little of the night is ahead."""
    found = [
        LittleThing(kind=way.kind, gain_c=gain_c, chance=chance_with(one, night, gain_c))
        for way in ways[1:]
        if not (night.gust_m_s >= NO_FILM_GUST_M_S and _is_cloth(way.kind, one))
        and (gain_c := way.wood_c - ways[0].wood_c) >= WORTH_IT_C
    ]
    return sorted([*found, *_shutting(one, night)], key=lambda thing: -thing.gain_c)


def _shutting(one: TreeMargins, night: Night) -> list[LittleThing]:
    """The cover itself, where it stands open: what the look ahead has for it shut."""
    if one.state_assumed is not CoverState.VENTED or one.cover is None or one.cover.condition.top is Top.GONE:
        return []
    opened, shut = (night.tissue[state] for state in (CoverState.VENTED, CoverState.CLOSED))
    gain_c = shut.wood_c - opened.wood_c
    return [LittleThing(kind=WhatIfKind.CLOSED, gain_c=gain_c, chance=shut.chance)] if gain_c >= WORTH_IT_C else []


def chance_with(one: TreeMargins, night: Night, gain_c: float) -> float:
    """Chance of too cold a night if its wood were so much warmer: the chance told, moved along its own normal curve."""
    tissue = night.tissue[one.state_assumed]
    spread_c = float(np.hypot((tissue.high_c - tissue.low_c) / (2 * Z_TEN_PERCENT), one.hardiness.sd_c))
    told = min(max(tissue.chance, SURE), 1 - SURE)
    return STANDARD.cdf(STANDARD.inv_cdf(told) - gain_c / max(spread_c, 0.1))


def pays(thing: LittleThing, one: TreeMargins, evening: date) -> bool:
    """Whether a little thing is worth its way to the garden for one tree: what it saves over the visits it takes.

    What goes over a bare tree is brought and fetched again, what goes to a cover stays.
    """
    tissue = one.night_of(evening).tissue[one.state_assumed]
    saved = tissue.lost * (1.0 - thing.chance / max(tissue.chance, SURE))
    visits = 2.0 if one.state_assumed is CoverState.BARE else 1.0
    return one.cared_for.worth_trips * saved * (1.0 - one.hardiness.lost_share) >= visits * ASSUMED.visit


def cheapest_enough(things: Sequence[LittleThing], enough: float) -> LittleThing | None:
    """The cover put right, shut or off, where that helps; else the least that brings the chance down to `enough`.

    The one that helps most where none of them does; None without any.
    """
    own = (WhatIfKind.WHOLE, WhatIfKind.CLOSED, WhatIfKind.BARE)
    whole = [thing for kind in own for thing in things if thing.kind is kind]
    least = whole or [thing for thing in reversed(things) if thing.chance <= enough]
    return next(iter(least or things), None)
