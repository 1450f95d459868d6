"""What if: made spells, and other ways to cover the same tree."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import islice
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from rules.garden.condition import AS_BUILT
from rules.garden.cover import STATE_INDEX, Cover, CoverState, Preset
from rules.garden.materials import Blanket, BlanketPlace, Cap, Fill, Film
from rules.garden.tree import SiteSoil
from rules.heat.balance import (
    HeatStart,
    InsideTemperatures,
    against_limits_c,
    inside_temperatures,
    inside_with_spread,
)
from rules.heat.surroundings import Surroundings, TreeAir, part

Array = npt.NDArray[np.float64]

COLDEST_ASKED_C: Final = -60.0  # below any night a fruit tree has lived through
WHOLE_SHIFT: Final = 0.5  # of the extra cold also falls on the days, the rest deepens the nights: assumed
WINDY_M_S: Final = 6.0  # "windy", assumed: a fresh breeze, felt at the tree
OPEN_IT_C: Final = 17.0  # inside a sealed clear film; a winter noon passes it from -5 °C outdoors on (computed)
BUCKET_L: Final = 20.0
BUCKET_NEEDS_M: Final = 0.45  # across: a bucket of 20 litres is about 0.3 m wide, and stems stand beside it; assumed
PLUG_M: Final = 0.1  # of fill that can be stuffed into a top; assumed, no source


def made_spell(weather: TreeAir, minimum_c: float, *, windy: bool = False) -> Surroundings:
    """The coming hours with their own shape, stretched so that the lowest is the stated minimum.

    Half of the change falls on all hours, the rest grows with the distance from the warmest hour. With `windy` the
    wind is at least 6 m/s at all hours. Sky and sun stay those of the coming days.

    Raises
    ------
    ValueError
        A minimum below -60 °C, or one that the warmest hour, moved halfway, would not exceed.
    """
    whole = part(weather, 0, weather.air_c.shape[-1])
    lowest, highest = float(whole.air_c.min()), float(whole.air_c.max())
    moved = highest + WHOLE_SHIFT * (minimum_c - lowest)
    if not COLDEST_ASKED_C <= minimum_c < moved:
        raise ValueError(f"minimum_c is {minimum_c:g} °C, it must be {COLDEST_ASKED_C:g} to below {moved:.1f} °C")
    stretch = (moved - minimum_c) / (highest - lowest)
    wind = np.maximum(whole.wind_m_s, WINDY_M_S) if windy else whole.wind_m_s
    return replace(whole, air_c=moved - stretch * (highest - whole.air_c), wind_m_s=wind)


class WhatIfKind(StrEnum):
    """Ways to spend the same nights."""

    CLOSED = "closed"
    VENTED = "vented"
    BARE = "bare"
    BUCKET = "closed with a bucket of water"
    FILL = "closed, the fill this thick"
    AS_IT_STANDS = "as it stands"
    SHEET = "a sheet over it"
    BLANKET = "a blanket round it"
    PLUG = "fill stuffed into the top"
    WHOLE = "as it was built"


Asked = tuple[WhatIfKind, float | None, Cover, CoverState]


class Stand(NamedTuple):
    """A tree's cover, one member of its weather over the hours in question, and what the two held at the first."""

    cover: Cover
    weather: TreeAir
    start: HeatStart | None = None


@dataclass(frozen=True, kw_only=True)
class WhatIf:
    """One way, and the lowest temperatures it leads to: wood, its top, 1 sd of the wood, and the hour index.

    `amount` is litres of a bucket or metres of fill; None where the kind says all. The sd is NaN of a stopgap.
    """

    kind: WhatIfKind
    amount: float | None
    wood_c: float
    top_c: float
    spread_c: float
    hour: int


def what_if(
    stands: Sequence[Stand], *, soil: SiteSoil | None = None, fills_m: Sequence[float] = (), bucket: bool = True
) -> list[list[WhatIf]]:
    """Of each tree closed, vented, bare, closed with a bucket more if so, and closed with each thickness of fill asked.

    All of them over the same hours, those of a made spell or of the forecast.
    """
    asked = [_other_ways(one.cover, fills_m, bucket=bucket) for one in stands]
    return _tried(asked, stands, soil, inside_with_spread)


def _other_ways(cover: Cover, fills_m: Sequence[float], *, bucket: bool) -> list[Asked]:
    asked: list[Asked] = [
        (WhatIfKind.CLOSED, None, cover, CoverState.CLOSED),
        (WhatIfKind.VENTED, None, cover, CoverState.VENTED),
        (WhatIfKind.BARE, None, cover, CoverState.BARE),
    ]
    if bucket:
        wet = changed(cover, water_l=cover.water_l + BUCKET_L)
        asked.append((WhatIfKind.BUCKET, BUCKET_L, wet, CoverState.CLOSED))
    return asked + [(WhatIfKind.FILL, thick_m, refilled(cover, thick_m), CoverState.CLOSED) for thick_m in fills_m]


def stopgaps(
    stands: Sequence[Stand], states: Sequence[CoverState], *, soil: SiteSoil | None = None
) -> list[list[WhatIf]]:
    """Of each tree as it stands, and with each little thing that can be done to its cover, or to a bare tree.

    A bare tree takes a sheet or a blanket round it, as wide and as high as its cover would be, tied over the top, and
    a bucket beneath; a cover that is on takes a bucket inside, a blanket round it, fill stuffed into its top, and what
    of it is not as it was built put right; an open one is shut. A skin with nothing in it may radiate more than it
    holds: it can be taken off.
    """
    asked = [_little_ways(one.cover, state) for one, state in zip(stands, states, strict=True)]
    return _tried(asked, stands, soil, inside_temperatures)


def _little_ways(cover: Cover, state: CoverState) -> list[Asked]:
    if state is CoverState.BARE:
        sheet, blanket = (thrown_over(cover, one) for one in (Blanket.FLEECE, Blanket.MOVING))
        more = [
            (WhatIfKind.SHEET, sheet), (WhatIfKind.BLANKET, blanket),
            (WhatIfKind.BUCKET, changed(blanket, water_l=BUCKET_L)),
        ]  # fmt: skip
    else:
        bucket = [(WhatIfKind.BUCKET, changed(cover, water_l=cover.water_l + BUCKET_L))]
        more = bucket if takes_a_bucket(cover) else []
        if cover.condition != AS_BUILT:
            more.append((WhatIfKind.WHOLE, cover.standing(AS_BUILT)))
        if cover.blanket is Blanket.NONE and not cover.is_shelter:
            round_it = {"blanket": Blanket.MOVING, "blanket_place": BlanketPlace.OUTSIDE}
            more.append((WhatIfKind.BLANKET, changed(cover, **round_it)))
        if cover.fill is not Fill.NONE:
            more.append((WhatIfKind.PLUG, changed(cover, plug_m=cover.plug_m + PLUG_M)))
        if cover.fill is Fill.NONE and not cover.is_shelter:
            more.append((WhatIfKind.BARE, cover))
    own = {WhatIfKind.WHOLE: CoverState.CLOSED, WhatIfKind.BARE: CoverState.BARE}
    put_on = CoverState.CLOSED if state is CoverState.BARE else state
    asked: list[Asked] = [(WhatIfKind.AS_IT_STANDS, None, cover, state)]
    litres = {WhatIfKind.BUCKET: BUCKET_L}
    return asked + [(kind, litres.get(kind), one, own.get(kind, put_on)) for kind, one in more]


def takes_a_bucket(cover: Cover) -> bool:
    """Whether a bucket finds room beside the stems: not in a mound, nor among stems packed in, nor in a narrow wrap."""
    return cover.preset is not Preset.MOUND and not cover.packed and cover.inner_diameter_m >= BUCKET_NEEDS_M


def thrown_over(cover: Cover, blanket: Blanket) -> Cover:
    """A sheet or blanket round a tree down to the ground, as wide and as high as its cover, tied over the top."""
    wide_m, high_m = cover.inner_diameter_m, cover.height_m
    return Cover(
        name=cover.name, preset=Preset.BLANKET, inner_diameter_m=wide_m, outer_diameter_m=wide_m, height_m=high_m,
        blanket=blanket, cap=Cap.GATHERED, wood_kg=cover.wood_kg, ground=cover.ground,
    )  # fmt: skip


def _tried(
    ways: Sequence[Sequence[Asked]], stands: Sequence[Stand], soil: SiteSoil | None,
    marched: Callable[..., InsideTemperatures],
) -> list[list[WhatIf]]:  # fmt: skip
    """The ways of all trees marched through the same hours, in one batch."""
    asked = [(*way, one) for of_tree, one in zip(ways, stands, strict=True) for way in of_tree]
    if not asked:
        return []
    covers, weathers = [cover for _, _, cover, *_ in asked], [one.weather for *_, one in asked]
    states = np.repeat([[STATE_INDEX[state]] for *_, state, _ in asked], weathers[0].air_c.shape[-1], axis=1)
    held = [_fresh_bucket(one, cover) for _, _, cover, _, one in asked]
    starts = [start for start in held if start is not None]
    inside = marched(covers, states, weathers, HeatStart.joined(starts) if starts else None, soil=soil)
    spread_c = np.full(states.shape, np.nan) if inside.spread_c is None else inside.spread_c
    wood_c, top_c = against_limits_c((inside.wood_c, inside.top_c, inside.air_c), covers, states, weathers)
    lows = wood_c.argmin(axis=-1).tolist()
    found = iter(
        WhatIf(
            kind=kind,
            amount=amount,
            wood_c=float(wood_c[row, low]),
            top_c=float(top_c[row].min()),
            spread_c=float(spread_c[row, low]),
            hour=low,
        )
        for row, ((kind, amount, *_), low) in enumerate(zip(asked, lows, strict=True))
    )
    return [list(islice(found, len(of_tree))) for of_tree in ways]


def _fresh_bucket(stand: Stand, cover: Cover) -> HeatStart | None:
    """What a tree's cover holds, for another in its place; water that is added comes liquid, just above freezing."""
    if stand.start is None:
        return None
    added_j = 4186.0 * 0.5 * (cover.water_l - stand.cover.water_l)
    return replace(stand.start, water_j=stand.start.water_j + added_j)


def changed(cover: Cover, **changes: object) -> Cover:
    """The same cover with some fields changed, checked again; what a thermometer inside has shown of it stays shown.

    How far straw, cap and leaks lie from the described ones is told in spreads of each, so it holds for other sizes.
    """
    return type(cover).model_validate(cover.model_dump() | changes)


def refilled(cover: Cover, thick_m: float) -> Cover:
    """The same cover with this much fill between the cages [m]; straw where it has none."""
    fill = Fill.STRAW if cover.fill is Fill.NONE else cover.fill
    return changed(cover, fill=fill, outer_diameter_m=cover.inner_diameter_m + 2 * thick_m)


def clear_film_alone(cover: Cover) -> bool:
    """Whether sun falls through the film onto the stems, with no fill or blanket between."""
    clear = cover.film in (Film.CLEAR, Film.ANTI_DRIP)
    return clear and cover.fill is Fill.NONE and cover.blanket is Blanket.NONE
