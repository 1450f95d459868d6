"""The sentences that answer "what if": one line a choice, or one line a tree."""

from collections.abc import Sequence
from dataclasses import dataclass

from bot.wording.formats import Style, sentence, too_cold
from rules.heat.what_if import WhatIf, WhatIfKind
from rules.wood.hardiness import Hardiness

ENOUGH_CHANCE = 0.1  # what "enough" means: at most one in ten that it is colder than the wood can take; no source


@dataclass(frozen=True, kw_only=True)
class Supposed:
    """What was supposed: a lowest temperature [°C] at the tree or `in_the_open`, None for the coming nights, and wind.

    `lowest_c` is the lowest air at the tree under it, `words` are weather words that nothing was made of.
    """

    minimum_c: float | None
    in_the_open: bool
    windy: bool
    words: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class WaysOfTree:
    """One tree under what was supposed: lowest air there [°C], what it can take, each way with its chance of harm."""

    tree: str
    fill: str
    air_c: float
    wood_hardiness: Hardiness
    ways: Sequence[tuple[WhatIf, float]]


def tree_ways(of: WaysOfTree, supposed: Supposed, style: Style) -> str:
    """One line a way for one tree, under a line that says what was supposed."""
    head = f"{_supposing(supposed, of.air_c, of.tree, style)} Its wood would feel at the lowest:"
    lines = [f"{way_name(way, of.fill, style)} {style.degrees(way.wood_c)}: {too_cold(harm)}" for way, harm in of.ways]
    return "\n".join(
        [head, *lines, *_caveat(supposed), f"It is safe to {style.degrees(of.wood_hardiness.lt10_c)} today."]
    )


def enough(of: WaysOfTree, asked: WhatIfKind, supposed: Supposed, style: Style) -> str:
    """Whether a bucket, a thickness of fill, or what there is will do; beside it what there is."""
    now, harm_now = next((way, harm) for way, harm in of.ways if way.kind is WhatIfKind.CLOSED)
    way, harm = next((way, harm) for way, harm in of.ways if way.kind is asked)
    step = way.wood_c - now.wood_c
    shown = style.degrees(way.wood_c, tenths=True)
    first = f"{sentence(way_name(way, of.fill, style)).rstrip('.')}: {shown}"
    if way is not now:
        turn = "warmer" if step >= 0 else "colder"
        first += f", {style.step(step)} {turn} than now ({style.degrees(now.wood_c, tenths=True)})"
    without = way is not now and harm_now <= ENOUGH_CHANCE
    verdict = "Enough even without" if without else "That is enough" if harm <= ENOUGH_CHANCE else "Not enough"
    wood_hardiness = f"It is safe to {style.degrees(of.wood_hardiness.lt10_c)}. {sentence(too_cold(harm))} {verdict}."
    return "\n".join([_supposing(supposed, of.air_c, of.tree, style), f"{first}.", *_caveat(supposed), wood_hardiness])


def garden_ways(of: Sequence[WaysOfTree], supposed: Supposed, style: Style) -> str:
    """One line a tree."""
    lines = [
        f"{one.tree}: {_short(one, style)}; safe to {style.degrees(one.wood_hardiness.lt10_c, unit=False)}, "
        f"{_harm_as_shut(one)}."
        for one in of
    ]
    head = f"{_supposing(supposed, min(one.air_c for one in of), '', style)} The wood would feel at the lowest:"
    return "\n".join([head, *lines, *_caveat(supposed)])


def _short(one: WaysOfTree, style: Style) -> str:
    names = {WhatIfKind.CLOSED: "shut", WhatIfKind.VENTED: "open", WhatIfKind.BARE: "bare"}
    shown = [(names[way.kind], way.wood_c) for way, _ in one.ways if way.kind in names]
    return ", ".join(f"{name} {style.degrees(wood_c, unit=False)}" for name, wood_c in shown)


def _harm_as_shut(one: WaysOfTree) -> str:
    way, harm = one.ways[0]
    return f"{too_cold(harm)} {'shut' if way.kind is WhatIfKind.CLOSED else 'bare'}"


def way_name(way: WhatIf, fill: str, style: Style) -> str:
    """A way to spend the nights, in words."""
    match way.kind:
        case WhatIfKind.CLOSED:
            return "shut"
        case WhatIfKind.VENTED:
            return "open"
        case WhatIfKind.BARE:
            return "bare"
        case WhatIfKind.BUCKET:
            return f"shut, with a {'5-gallon' if style.length == 'in' else '20-litre'} bucket of water"
        case WhatIfKind.FILL:
            return f"shut, with {style.size(way.amount or 0.0)} of {fill}"
        case WhatIfKind.AS_IT_STANDS | WhatIfKind.SHEET | WhatIfKind.BLANKET | WhatIfKind.PLUG | WhatIfKind.WHOLE:
            return str(way.kind)


def _supposing(supposed: Supposed, air_c: float, tree: str, style: Style) -> str:
    where = "in the open" if supposed.in_the_open else f"at {tree}"
    wind = ", in the wind" if supposed.windy else ""
    if supposed.minimum_c is None:
        here = f" at {tree}" if tree else ""
        return f"Coming nights{here}: lowest {style.degrees(air_c)}{wind}."
    return f"If it fell to {style.degrees(supposed.minimum_c)} {where}{wind}, shaped like the coming nights."


def _caveat(supposed: Supposed) -> list[str]:
    if not supposed.words:
        return []
    return [f"I cannot suppose {' or '.join(supposed.words)}: wind, sky and sun are those of the coming days."]


def cannot_fall_so(minimum_c: float, highest_c: float, style: Style) -> str:
    """That a lowest temperature cannot be made of the coming days."""
    asked, highest = style.degrees(minimum_c), style.degrees(highest_c)
    return f"The next days reach {highest} at most, so {asked} is no night I can make of them. Say a colder number."


def too_cold_to_ask(minimum_c: float, coldest_c: float, style: Style) -> str:
    """That no night of this garden is so cold."""
    asked, coldest = style.degrees(minimum_c), style.degrees(coldest_c)
    return f"{asked} is colder than I can work out; the coldest I take is {coldest}."


def cannot_be_built(thick_m: float, least_m: float, most_m: float, style: Style) -> str:
    """That a cover with such a fill cannot be built."""
    bounds = f"between {style.size(least_m)} and {style.size(most_m)}"
    return f"{style.size(thick_m)} of fill cannot be built there: it must be {bounds}."
