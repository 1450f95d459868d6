"""The little things that help a tree tonight: what each is, what it is worth, and what is left where none is enough."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime
from typing import Final

from bot.wording.covers.condition import work_again
from bot.wording.covers.words import do_words
from bot.wording.formats import Style, chance, names, sentence, too_cold
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from rules.garden.tree import Standing
from rules.heat.what_if import PLUG_M, WhatIfKind, takes_a_bucket
from rules.outlook.little_things import LittleThing, cheapest_enough
from rules.outlook.triage import is_windy
from rules.wood.margins import Night, TreeMargins

WORTH_OFFERING: Final = 2 / 3  # of the chance left with what is offered, at most; no source
ENOUGH: Final = 0.05  # chance to which a little thing should bring it; "under 1 in 20"
LIKELY: Final = 0.3


def helps(thing: LittleThing, no_cover: bool, style: Style) -> str:
    """One little thing, what it is worth in degrees by the heat balance, and the chance that is left."""
    return f"{thing_words(thing.kind, no_cover, style)}: about {style.step(thing.gain_c)} warmer, {_left(thing.chance)}"


def _left(share: float) -> str:
    return f"{chance(share)} then" if share <= 0.95 else "and still almost certainly too cold"


def thing_words(kind: WhatIfKind, bare: bool, style: Style) -> str:
    """One little thing in words."""
    bucket = "a 5-gallon" if style.length == "in" else "a 20-litre"
    match kind:
        case WhatIfKind.BUCKET if bare:
            return f"a blanket round it, down to the ground, with {bucket} bucket of water under it"
        case WhatIfKind.BUCKET:
            return f"{bucket} bucket of water set inside this evening, on the ground by the stem"
        case WhatIfKind.SHEET:
            return "a sheet or fleece over it, down to the ground and tied"
        case WhatIfKind.BLANKET:
            return "a blanket round it, tied over the top"
        case WhatIfKind.CLOSED:
            return "shutting its cover before dusk"
        case WhatIfKind.WHOLE:
            return "putting its cover right, all of it on and mended"
        case WhatIfKind.BARE:
            return "taking its cover off tonight (this skin radiates more than it holds)"
        case WhatIfKind.PLUG:
            return f"{style.size(PLUG_M)} more fill stuffed into the top"
    return str(kind)


def other_things(one: TreeMargins, things: Sequence[LittleThing], evening_words: str, style: Style) -> str:
    """All that still helps one tree tonight, the most first."""
    night = one.nights[0].tissue[one.state_assumed]
    head = f"{one.tree.name}, {evening_words}: {too_cold(night.chance)} as it stands."
    things = [thing for thing in things if chance(thing.chance) != chance(night.chance)]
    if not things:
        return f"{head} I know of nothing more that helps."
    bare = one.state_assumed is CoverState.BARE
    lines = [f"- {helps(thing, bare, style)}" for thing in things]
    return "\n".join([head, "What helps, by my heat balance:", *lines])


def bucket_tonight(one: TreeMargins, things: Sequence[LittleThing], evening: date, style: Style, now: datetime) -> str:
    """Whether a bucket helps one tree tonight: the figures of the little things, and what helps more than it."""
    before = one.night_of(evening).tissue[one.state_assumed].chance
    head = f"{one.tree.name}, {style.night(evening, now)}: {too_cold(before)} as it stands."
    bare = one.state_assumed is CoverState.BARE
    bucket = next((thing for thing in things if thing.kind is WhatIfKind.BUCKET), None)
    if bucket is None and not bare and one.cover is not None and not takes_a_bucket(one.cover):
        first = "A bucket finds no room beside its stems."
    elif bucket is None:
        first = "A bucket would change too little to be worth it."
    else:
        first = sentence(helps(bucket, bare, style))
    more = [thing for thing in things if bucket is None or thing.chance < bucket.chance]
    best = min(more, key=lambda thing: thing.chance, default=None)
    told = best is not None and chance(best.chance) not in (chance(before), chance(bucket.chance if bucket else before))
    return " ".join([head, first, *([f"More: {helps(best, bare, style)}."] if best and told else [])])


def offer_of(one: TreeMargins, things: Sequence[LittleThing], evening: date) -> tuple[float, LittleThing, bool] | None:
    """The chance as it stands, what is offered unasked, and whether the tree is bare; None where none is worth it."""
    before, bare = one.night_of(evening).tissue[one.state_assumed].chance, one.state_assumed is CoverState.BARE
    thing = cheapest_enough(things, ENOUGH)
    return (before, thing, bare) if thing is not None and is_worth_offering(before, thing) else None


def offer_lines(offered: Mapping[str, tuple[float, LittleThing, bool]], style: Style) -> list[str]:
    """The little things offered, a line each: what it would do for which trees."""
    said: dict[str, dict[str, list[str]]] = {}
    for tree, (before, thing, bare) in offered.items():
        what = sentence(thing_words(thing.kind, bare, style)).rstrip(".")
        odds = f"from {chance(before)} to {chance(thing.chance)}"
        said.setdefault(what, {}).setdefault(odds, []).append(tree)
    told = {what: [f"for {names(trees)} {odds}" for odds, trees in gains.items()] for what, gains in said.items()}
    return [f"{what} lowers the chance of too cold a night {names(gains)}." for what, gains in told.items()]


def unasked(
    offered: Mapping[str, tuple[float, LittleThing, bool]],
    without: Sequence[TreeMargins],
    at_risk: Sequence[str],
    night: Night | None,
    again_utc: datetime | None,
    style: Style,
    now: datetime,
    past_saving: Collection[str] = (),
) -> str:
    """Why nothing is asked for trees at risk tonight, and what little can be done; empty where there is nothing.

    `without` are those for which no little thing is worth it, `at_risk` all that tonight threatens and no ask speaks
    of; none where no work at covers would help, and the wind is not to blame. `past_saving` are trees no cover saves.
    """
    lines, pots = offer_lines(offered, style), [one for one in without if waits_outside(one)]
    if night is not None and is_windy(night, now) and (at_risk or pots):
        risky = [name for name in at_risk if name not in {one.tree.name for one in pots}]
        risk = [f"At risk tonight: {names(risky)}."] if risky else []
        return "\n".join([*too_windy(pots, night, again_utc, style, now), *risk, *lines])
    return "\n".join([_at_risk(offered) + _no_cover_saves(offered, past_saving), *lines]) if lines else ""


def _no_cover_saves(offered: Collection[str], past_saving: Collection[str]) -> str:
    """That nothing is asked for at a tree because no cover saves it, before what little is left to do."""
    lost = [tree for tree in offered if tree in past_saving]
    them = "it" if len(lost) == 1 else "them"
    return f" By past winters no cover here saves {names(lost)}; what you can still do for {them}:" if lost else ""


def _at_risk(offered: Mapping[str, tuple[float, LittleThing, bool]]) -> str:
    """Why little things are offered: a cover that is not on does nothing, and is not what fails."""
    stand, who = {bare for _, _, bare in offered.values()}, names(list(offered))
    if stand == {False}:
        return f"The cover does not do enough tonight: {who}."
    return f"Bare and at risk tonight: {who}." if stand == {True} else f"At risk tonight: {who}."


def too_windy(
    pots: Sequence[TreeMargins], night: Night, again_utc: datetime | None, style: Style, now: datetime
) -> list[str]:
    """That the wind forbids work at covers, and until when; pots that wait outside can be carried all the same."""
    until = work_again(again_utc, style, now)
    head = f"Too windy for work at covers: gusts of {style.speed(night.gust_m_s)}, until {until}."
    carry = do_words(DeedKind.WRAPPED, [one.tree.name for one in pots], {one.tree.name: one.cover for one in pots})
    return [head, *([f"But {carry}."] if pots else [])]


def waits_outside(one: TreeMargins) -> bool:
    """Whether it is a pot that has a place to be carried into and is not there."""
    return one.cover is not None and one.cover.is_shelter and one.state_assumed is CoverState.BARE


def last_resort(trees: Sequence[TreeMargins]) -> list[str]:
    """What is left where no little thing helps enough: a pot can be carried, a foot can be heaped up."""
    pots = [one.tree.name for one in trees if one.tree.standing is Standing.POT]
    others = [one.tree.name for one in trees if one.tree.standing is not Standing.POT]
    them = "it" if len(pots) == 1 else "them"
    lines = [f"Nothing small helps {names(pots)} enough: carry {them} into a frost-free room if you can."] * bool(pots)
    it = "its foot, so that it" if len(others) == 1 else "each foot, so that they"
    foot = f"heap straw, leaves or soil round {it} can shoot again from below"
    return [*lines, f"Nothing small helps {names(others)} enough tonight: {foot}."] if others else lines


def is_worth_offering(before: float, thing: LittleThing | None) -> bool:
    """Whether it takes away at least a third of the chance of harm."""
    told = thing is not None and chance(thing.chance) != chance(before)
    return told and thing is not None and thing.chance <= WORTH_OFFERING * before
