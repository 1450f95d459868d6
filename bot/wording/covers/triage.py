"""What to do first tonight, what is left out and why, and the little thing that helps each tree."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Final

from bot.nudges.nouns import COLD_JOBS
from bot.wording.covers.condition import work_again
from bot.wording.covers.little_things import ENOUGH, LIKELY, helps
from bot.wording.covers.words import Covers, Manner, condition_words, covers_of, do_words, has_top, manner_of
from bot.wording.formats import Style, chance, five_minutes, minutes, names, sentence, too_cold
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from rules.garden.tree import Phase
from rules.outlook.garden_outlook import Outlook
from rules.outlook.little_things import LittleThing, cheapest_enough
from rules.outlook.triage import THREATENED, Hindrance, Threatened, Triage
from rules.plan.acts import Act
from rules.wood.margins import Night, TreeMargins

MOST_TOLD: Final = 3  # trees told in full; a phone shows no more. No source
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
    lines += [_job(place, covers, plan, outlook, style) for place in range(len(plan.first[:MOST_TOLD]))]
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
        but = ", but for what is carried in" if plan.first else ""
        return f"Too dark to work now{but}; there is light again {work_again(plan.again_utc, style, outlook.now)}."
    if plan.night is not None and Hindrance.WIND in hindered:
        gust, again = style.speed(plan.night.gust_m_s), work_again(plan.again_utc, style, outlook.now)
        return f"Gusts of {gust} today: no film, no ladder, until {again}."
    if plan.ends_utc is None or not plan.first or not plan.free_minutes:
        return ""
    left = minutes(plan.free_minutes / plan.hands)
    if plan.again_utc is not None:
        drops = style.clock(five_minutes(plan.again_utc))
        return f"Too windy until {drops}: begin when the wind drops. Then you have {left}, until {_ends(plan, style)}."
    return f"You have {left} of light, until {_ends(plan, style)}."


def _ends(plan: Triage, style: Style) -> str:
    return style.clock(five_minutes(plan.ends_utc)) if plan.ends_utc else "dusk"


def _job(place: int, covers: Covers, plan: Triage, outlook: Outlook, style: Style) -> str:
    """One of the jobs; when to begin is said where it is not as for the one before."""
    one, before = plan.first[place], plan.first[place - 1].by_utc if place else None
    what = do_words(one.deed, [one.tree], covers) if one.deed else one.tree
    odds = f"{too_cold(one.chance)} as it is, {chance(one.chance_after)} then"
    begin = (
        f", begin by {style.clock(five_minutes(one.by_utc))}"
        if one.by_utc and one.by_utc > outlook.now and one.by_utc != before
        else ""
    )
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


def by_when(outlook: Outlook, trees: Sequence[str], at_utc: datetime | None, style: Style, now: datetime) -> str:
    """When each job against the cold must be begun; of an hour named, whether that will do, or what later costs."""
    still = _not_too_late([outlook.tree(name) for name in trees], style, now)
    if still:
        return still
    acts = {act.tree: act for act in reversed(outlook.acts) if act.kind in COLD_JOBS and act.tree in trees}
    if not acts:
        return f"No hurry: I ask for no cover at {names(trees)} as far as I can see ahead."
    first = min(acts.values(), key=lambda act: act.by_utc)
    due = [act for act in acts.values() if act.night == first.night and act.kind is first.kind]
    work = do_words(first.kind, [act.tree for act in due], covers_of(outlook))
    begin = _by(first, style, now)
    odds = f"{too_cold(max(act.chance for act in due))} {style.night(first.night, now)} otherwise"
    if at_utc is None:
        return f"{sentence(work).rstrip('.')}, begin {begin}; {odds}."
    asked, day = style.clock(at_utc), first.by_utc.astimezone(style.zone).date()
    if at_utc.astimezone(style.zone).date() < day:
        return f"No hurry that day: {work}, begin {begin}; {odds}."
    if at_utc <= first.by_utc:
        return f"Yes, {asked} is early enough: {work}, begin {begin} at the latest; {odds}."
    low = style.round_clock(outlook.tree(first.tree).night_of(first.night).lowest_utc)
    later = f"Later is better than not at all, if you can see to work: the coldest comes near {low}."
    return f"Better before {asked}: {work}, begin {begin}; {odds}. {later}"


def _by(act: Act, style: Style, now: datetime) -> str:
    return f"{style.day(act.by_utc, now)} by {style.clock(five_minutes(act.by_utc))}"


def _not_too_late(trees: Sequence[TreeMargins], style: Style, now: datetime) -> str:
    """After dusk: what shutting the tops is still worth tonight; empty where it is light or nothing is at risk."""
    evening = style.evening(now)
    worth: dict[tuple[str, str], list[str]] = {}
    for one in trees:
        night = one.night_of(evening) if one.nights and one.state_assumed is CoverState.VENTED else None
        if night is None or night.sunset_utc is None or not night.sunset_utc < now < night.lowest_utc:
            continue
        as_it_is, shut = night.tissue[CoverState.VENTED].chance, night.tissue[CoverState.CLOSED].chance
        if as_it_is >= THREATENED and chance(shut) != chance(as_it_is):
            odds = f"open {too_cold(as_it_is)}, shut {chance(shut)}"
            worth.setdefault((style.round_clock(night.lowest_utc), odds), []).append(one.tree.name)
    lines = [
        f"Not too late, the coldest comes near {low}: {names(named)} {odds}." for (low, odds), named in worth.items()
    ]
    return "\n".join([*lines, "Only if you can see to work; nothing on a ladder in the dark."]) if lines else ""


def _too_cold_open(one: TreeMargins, evening: date) -> Night | None:
    """The first night from this evening on that threatens a tree with its top open."""
    ahead = [night for night in one.nights if night.evening >= evening and CoverState.VENTED in night.tissue]
    return next((night for night in ahead if night.tissue[CoverState.VENTED].chance >= THREATENED), None)


def _but_shut_before(later: Sequence[tuple[str, Night]], style: Style, now: datetime) -> list[str]:
    """The night before which tops that may be open must be shut again, a line for the trees that share it."""
    same: dict[str, list[str]] = {}
    for name, night in later:
        odds = f"{too_cold(night.tissue[CoverState.VENTED].chance)} if open"
        same.setdefault(f"{style.night(night.evening, now)}: {{}}, {odds}", []).append(name)
    return [f"But shut before {words.format(names(trees))}." for words, trees in same.items()]


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
            close.append(
                f"{name} {_by(act, style, now)} ({style.night(act.night, now)} {too_cold(act.chance)} if open)"
            )
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
    lines += _but_shut_before(later, style, now)
    lines += [f"Better not, or only by day: {names(no)} if open tonight."] if no else []
    lines += [f"Nothing to open on {names(none)}."] if none else []
    lines += [f"I would open {names(wanted)} today anyway."] if wanted else []
    resting = all(one.hardiness.phase in (Phase.HARDENING, Phase.RESTING) for one in trees)
    idle = yes and not wanted and resting
    lines += ["No need to, though: dry, leafless wood keeps well in the dark."] if idle else []
    return "\n".join(lines)
