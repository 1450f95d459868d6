"""What to do first tonight, what is left out and why, and the little thing that helps each tree."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Final

from bot.wording.covers.condition import work_again
from bot.wording.covers.words import Covers, Manner, condition_words, covers_of, do_words, has_top, manner_of
from bot.wording.formats import Style, chance, five_minutes, minutes, names, sentence, too_cold
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from rules.garden.tree import Phase, Standing
from rules.heat.what_if import PLUG_M, WhatIfKind, takes_a_bucket
from rules.outlook.garden_outlook import Outlook
from rules.outlook.little_things import LittleThing, cheapest_enough
from rules.outlook.triage import THREATENED, Hindrance, Threatened, Triage, is_windy
from rules.wood.margins import Night, TreeMargins

MOST_TOLD: Final = 3  # trees told in full; a phone shows no more. No source
LIKELY: Final = 0.3
WORTH_OFFERING: Final = 2 / 3  # of the chance left with what is offered, at most; no source
ENOUGH: Final = 0.05  # chance to which a little thing should bring it; "under 1 in 20"
MOUND: Final = (
    "Whatever else you do, heap 30 cm of straw, leaves or soil round the foot of those in the ground: they can shoot "
    "again from below (common practice, no source)."
)
MOUND_IN: Final = MOUND.replace("30 cm", "12 in")
SHARES: Final = ((0.9, "nearly all"), (0.6, "most"), (0.4, "half"), (0.25, "a third"), (0.1, "some"))

Things = Mapping[str, Sequence[LittleThing]]


def first_things(plan: Triage, outlook: Outlook, things: Things, style: Style, fits_with_more: int = 0) -> str:
    """What to do first and why, what comes then, what is left out with what helps it, and the time there is."""
    if plan.night is None:
        return "I have no forecast for tonight. Please look yourself; if in doubt, cover."
    if not plan.first and not plan.left_out:
        return (
            f"Nothing needs you before {style.night(plan.night.evening, outlook.now)}: no tree is at risk as it stands."
        )
    covers = covers_of(outlook)
    lines = [_time_line(plan, outlook, style)]
    lines += [_job(one, place, covers, plan, outlook, style) for place, one in enumerate(plan.first[:MOST_TOLD])]
    if rest := plan.first[MOST_TOLD:]:
        lines.append(f"After that {names([one.tree for one in rest])}.")
    left = sorted(plan.left_out, key=lambda one: -one.chance)
    lines += [left_out(one, things.get(one.tree, ()), covers, style) for one in left[:MOST_TOLD]]
    lines += [MOUND_IN if style.length == "in" else MOUND] if _foot_matters(left, things) else []
    if others := left[MOST_TOLD:]:
        lines.append(f"{names([one.tree for one in others])}: {chance(max(one.chance for one in others))} or less.")
    if fits_with_more:
        lines.append(f"With {fits_with_more} pairs of hands all of it could be done.")
    return "\n".join(line for line in lines if line)


def _foot_matters(left: Sequence[Threatened], things: Things) -> bool:
    """Whether nothing else is enough for some of them: then the foot is worth saving."""
    found = [cheapest_enough(things.get(one.tree, ()), ENOUGH) for one in left]
    return any(thing is None or thing.chance > LIKELY for thing in found)


def _time_line(plan: Triage, outlook: Outlook, style: Style) -> str:
    """The light that is left, or until when dark or wind forbids work."""
    hindered = {one.hindrance for one in plan.left_out}
    if plan.night is not None and Hindrance.DARK in hindered:
        return f"Too dark to work now; there is light again {work_again(plan.again_utc, style, outlook.now)}."
    if plan.night is not None and Hindrance.WIND in hindered:
        gust, again = style.speed(plan.night.gust_m_s), work_again(plan.again_utc, style, outlook.now)
        return f"Gusts of {gust} today: no film, no ladder, until {again}."
    if plan.ends_utc is None or not plan.first:
        return ""
    left = minutes(plan.free_minutes / plan.hands)
    if plan.again_utc is not None:
        drops = style.clock(five_minutes(plan.again_utc))
        return f"Too windy until {drops}: begin when the wind drops. Then you have {left}, until {_ends(plan, style)}."
    return f"You have {left} of light, until {_ends(plan, style)}."


def _ends(plan: Triage, style: Style) -> str:
    return style.clock(five_minutes(plan.ends_utc)) if plan.ends_utc else "dusk"


def _job(one: Threatened, place: int, covers: Covers, plan: Triage, outlook: Outlook, style: Style) -> str:
    what = do_words(one.deed, [one.tree], covers) if one.deed else one.tree
    odds = f"{too_cold(one.chance)} as it is, {chance(one.chance_after)} then"
    begin = f", begin by {style.clock(five_minutes(one.by_utc))}" if one.by_utc and one.by_utc > outlook.now else ""
    other = one.evening is not None and plan.night is not None and one.evening != plan.night.evening
    when = f" for {style.night(one.evening, outlook.now)}" if other and one.evening else ""
    return f"{'Then' if place else 'First'} {what}{when} ({minutes(one.minutes)}{begin}): {odds}."


def left_out(one: Threatened, things: Sequence[LittleThing], covers: Covers, style: Style) -> str:
    """One tree that is left out: why, what will likely happen to it, and what helps it all the same."""
    parts = [f"{one.tree}: {_hindered(one, covers)}. {sentence(too_cold(one.chance))}", _lost(one.lost)]
    thing = cheapest_enough(things, ENOUGH)
    parts += [f"{sentence(helps(thing, covers.get(one.tree) is None, style))}"] if thing else []
    return " ".join(part for part in parts if part)


def _hindered(one: Threatened, covers: Covers) -> str:
    work = do_words(one.deed, ["it"], {"it": covers.get(one.tree)}) if one.deed else ""
    match one.hindrance:
        case Hindrance.NO_COVER:
            return "it has no cover"
        case Hindrance.ALL_ON:
            wrong = condition_words(cover.condition, cover) if (cover := covers.get(one.tree)) else []
            on = "it is inside already" if manner_of(cover) is Manner.POT else "all of its cover is on already"
            return names(wrong) or on
        case Hindrance.NO_HELP:
            return "its cover would change too little"
        case Hindrance.TIME:
            return f"no time left to {work} before dark ({minutes(one.minutes)})"
        case Hindrance.STOCK:
            missing = names([str(kind).replace("_", " ") for kind in one.short_of])
            return f"not enough {missing} in the shed to {work}"
        case Hindrance.WIND:
            return f"too windy to {work}"
        case Hindrance.DARK:
            return f"too dark to {work}"
    return work


def _lost(share: float) -> str:
    words = next((words for least, words in SHARES if share >= least), "")
    return f"I would expect {words} of its wood to die back." if words else ""


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
            return "its cover shut again before dusk"
        case WhatIfKind.WHOLE:
            return "its cover put right, all of it on and mended"
        case WhatIfKind.BARE:
            return "its cover off tonight, for this skin radiates more than it holds"
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
    """The little things offered, those with the same gain for several trees in one line."""
    said: dict[tuple[str, str], list[str]] = {}
    for tree, (before, thing, bare) in offered.items():
        what = sentence(thing_words(thing.kind, bare, style)).rstrip(".")
        said.setdefault((what, f"from {chance(before)} to {chance(thing.chance)}"), []).append(tree)
    return [f"{what} would bring {names(trees)} {odds}." for (what, odds), trees in said.items()]


def unasked(
    offered: Mapping[str, tuple[float, LittleThing, bool]],
    without: Sequence[TreeMargins],
    at_risk: Sequence[str],
    night: Night | None,
    again_utc: datetime | None,
    style: Style,
    now: datetime,
) -> str:
    """Why nothing is asked for trees at risk tonight, and what little can be done; empty where there is nothing.

    `without` are those for which no little thing is worth it, `at_risk` all that tonight threatens, asked for or not.
    """
    if night is not None and is_windy(night, now):
        until = work_again(again_utc, style, now)
        head = f"Too windy for work at covers: gusts of {style.speed(night.gust_m_s)}, until {until}."
        pots = [one.tree.name for one in without if _waits_outside(one)]
        risky = [name for name in at_risk if name not in pots]
        carried = (
            [f"But {do_words(DeedKind.WRAPPED, pots, {one.tree.name: one.cover for one in without})}."] if pots else []
        )
        risk = [f"At risk tonight: {names(risky)}."] if risky else []
        return "\n".join([head, *carried, *risk, *offer_lines(offered, style)])
    lines = offer_lines(offered, style)
    return "\n".join(["Their covers do not do enough tonight:", *lines]) if lines else ""


def _waits_outside(one: TreeMargins) -> bool:
    """Whether it is a pot that has a place to be carried into and is not there."""
    return one.cover is not None and one.cover.is_shelter and one.state_assumed is CoverState.BARE


def last_resort(trees: Sequence[TreeMargins]) -> list[str]:
    """What is left where no little thing helps enough: a pot can be carried, a foot can be heaped up."""
    pots = [one.tree.name for one in trees if one.tree.standing is Standing.POT]
    others = [one.tree.name for one in trees if one.tree.standing is not Standing.POT]
    lines = [f"Nothing small helps {names(pots)} enough: carry it into a frost-free room if you can."] if pots else []
    foot = "heap straw, leaves or soil round the foot, so that it can shoot again from below"
    return [*lines, f"Nothing small helps {names(others)} enough tonight: {foot}."] if others else lines


def is_worth_offering(before: float, thing: LittleThing | None) -> bool:
    """Whether it takes away at least a third of the chance of harm."""
    told = thing is not None and chance(thing.chance) != chance(before)
    return told and thing is not None and thing.chance <= WORTH_OFFERING * before


def _too_cold_open(one: TreeMargins, evening: date) -> Night | None:
    """The first night from this evening on that threatens a tree with its top open."""
    ahead = [night for night in one.nights if night.evening >= evening and CoverState.VENTED in night.tissue]
    return next((night for night in ahead if night.tissue[CoverState.VENTED].chance >= THREATENED), None)


def may_open(outlook: Outlook, trees: Sequence[TreeMargins], style: Style, now: datetime) -> str:
    """Whether the tops may stand open tonight, a line for each answer, and what the plan says of it."""
    evening = style.evening(now)
    shut = {act.tree: act for act in reversed(outlook.acts) if act.kind is DeedKind.CLOSED}
    yes, no, none, later, close = [], [], [], [], []
    for one in trees:
        name, act = one.tree.name, shut.get(one.tree.name)
        cold = _too_cold_open(one, evening)
        if CoverState.VENTED not in one.night_of(evening).tissue or one.state_assumed is CoverState.BARE:
            none.append(name)
        elif act is not None and one.state_assumed is CoverState.VENTED:
            by = f"{style.day(act.by_utc, now)} by {style.clock(five_minutes(act.by_utc))}"
            close.append(f"{name} {by} ({style.night(act.night, now)} {too_cold(act.chance)} if open)")
        elif not has_top(one.cover):
            none.append(name)
        elif cold is None or cold.evening > evening:
            yes.append(name)
            later += [(name, cold)] if cold else []
        else:
            no.append(f"{name} ({too_cold(cold.tissue[CoverState.VENTED].chance)})")
    asked = {act.tree for act in outlook.acts if act.kind is DeedKind.VENTED and act.night == evening}
    wanted = [name for name in yes if name in asked]
    lines = [f"Close, as I ask: {'; '.join(close)}."] if close else []
    lines += [f"Yes: {names(yes)} can be open tonight as well."] if yes else []
    lines += [
        f"But shut before {style.night(night.evening, now)}: {name}, "
        f"{too_cold(night.tissue[CoverState.VENTED].chance)} if open."
        for name, night in later
    ]
    lines += [f"Better not, or only by day: {names(no)} if open tonight."] if no else []
    lines += [f"Nothing to open on {names(none)}."] if none else []
    lines += [f"I would open {names(wanted)} today anyway."] if wanted else []
    resting = all(one.hardiness.phase in (Phase.HARDENING, Phase.RESTING) for one in trees)
    idle = yes and not wanted and resting
    lines += ["No need to, though: dry, leafless wood keeps well in the dark."] if idle else []
    return "\n".join(lines)
