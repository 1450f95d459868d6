"""The sentences that answer a grower: noted, undone, tonight, the week, the trees, why, help."""

from collections.abc import Sequence
from datetime import datetime

from bot.nudges import Ask, asks
from bot.wording.asks import DO, WHILE, cold_reason, doubts_in_words, reason
from bot.wording.formats import Style, chance, minutes, names, sentence
from rules.cover import CoverState
from rules.margins import Night, TreeMargins
from rules.outlook import Outlook
from rules.plan import Act
from rules.records import Deed, DeedKind, Place, Reading
from rules.tree import Purpose

DONE = {
    DeedKind.WRAPPED: "wrapped",
    DeedKind.VENTED: "opened",
    DeedKind.CLOSED: "closed",
    DeedKind.STRIPPED: "stripped",
}
HELP = """Tell me what you did: wrapped kaki · closed porch and wall · opened all · stripped olive
Can't? Say: can't today · later · in 2 hours
A reading: -6.5 at the wall · 19F porch · low was 14 last night
What you see: leaves dropped on porch · buds swelling on kaki
Ask: tonight · due · trees · why porch · what if -12
Wrong? Say: undo"""


def noted_deeds(deeds: Sequence[Deed], outlook: Outlook | None, style: Style) -> str:
    """What was noted: trees, deed and time, then what it means for the coming night."""
    first = deeds[0]
    when = f"at {style.clock(first.at_utc)}"
    if outlook and (day := style.day(first.at_utc, outlook.now)) != "today":
        when = f"{day} {when}"
    cap = {CoverState.CLOSED: ", cap shut", CoverState.VENTED: ", cap open"}.get(first.state, "")
    extra = cap if first.kind == DeedKind.WRAPPED else ""
    text = f"Noted: {names([deed.tree for deed in deeds])} {DONE[first.kind]}{extra} {when}."
    return f"{text} {after_deeds(deeds, outlook, style)}".strip()


def after_deeds(deeds: Sequence[Deed], outlook: Outlook | None, style: Style) -> str:
    """What the wood will feel in the coming night in its new state, and a warning where that is too cold."""
    if outlook is None:
        return ""
    lines = []
    coldest: list[float] = []
    for deed in deeds:
        one = outlook.tree(deed.tree)
        if not one.nights or deed.state not in one.nights[0].felt:
            continue
        felt = one.nights[0].felt[deed.state]
        coldest.append(felt.low_c)
        if felt.chance >= 0.2:
            lines.append(f"{deed.tree}: still {chance(felt.chance)} that tonight is colder than it bears.")
    if lines:
        return " ".join(lines)
    if not coldest or first_is_bare(deeds):
        return ""
    return f"The wood should stay above {style.degrees(min(coldest))} tonight."


def first_is_bare(deeds: Sequence[Deed]) -> bool:
    """Whether the deeds took covers off: then no promise about the inside is made."""
    return deeds[0].state == CoverState.BARE


def noted_reading(reading: Reading, expected_c: float | None, style: Style) -> str:
    """A reading as it was kept, and how far it is from what was expected at that tree and hour."""
    place = "inside" if reading.place == Place.INSIDE else "at"
    shown = style.degrees(reading.air_c, tenths=True)
    low = "a low of " if reading.is_minimum else ""
    text = f"Noted: {low}{shown} {place} {reading.tree} at {style.clock(reading.at_utc)}."
    if expected_c is None:
        return f"{text} I had no forecast for that hour."
    gap = reading.air_c - expected_c
    if abs(gap) < 0.3:
        return f"{text} Just as expected."
    return f"{text} That is {style.step(gap)} {'warmer' if gap > 0 else 'colder'} than I expected there."


def tonight(outlook: Outlook, style: Style) -> str:
    """The coming night, one line a tree."""
    lines = [tonight_line(one, one.nights[0], style) for one in outlook.trees if one.nights]
    if not lines:
        return "I have no forecast for tonight. Please look yourself; if in doubt, close."
    first = next(one.nights[0] for one in outlook.trees if one.nights)
    name = sentence(style.night(first.evening, outlook.now)).rstrip(".")
    head = f"{name}: {style.degrees(first.field_c)} in the open near {style.round_clock(first.lowest_utc)}."
    return "\n".join([head, *lines, *_source(outlook, style)])


def tonight_line(one: TreeMargins, night: Night, style: Style) -> str:
    """One tree in one night: as it stands, what it feels, what it bears, how sure."""
    state = one.state_assumed
    felt = night.felt[state]
    verdict = "fine" if felt.chance < 0.05 else f"{chance(felt.chance)} too cold"
    stands = {CoverState.BARE: "bare", CoverState.VENTED: "cap open", CoverState.CLOSED: "cap shut"}[state]
    numbers = f"feels {style.degrees(felt.wood_c, unit=False)}, bears {style.degrees(one.hardiness.bears_c)}"
    return f"{one.tree.name} ({stands}): {numbers}, {verdict}."


def due_week(outlook: Outlook, style: Style, now: datetime) -> str:
    """What is due this week, by day, with minutes and why; and what needs nothing."""
    wanted = asks(outlook.acts, style.zone)
    lines = [due_line(ask, outlook, style, now) for ask in wanted]
    if not lines:
        lines = ["Nothing is due this week."]
    lines += [f"Nothing for {one.tree.name}: left bare on purpose." for one in outlook.trees if one.tree.left_bare]
    return "\n".join([*lines, *_source(outlook, style)])


def due_line(ask: Ask, outlook: Outlook, style: Style, now: datetime) -> str:
    """One ask of the week: day, time, what, minutes, why."""
    day = sentence(style.day(ask.by_utc, now)).rstrip(".")
    is_morning = ask.verb in (DeedKind.VENTED, DeedKind.STRIPPED)
    time = f"from {style.clock(ask.from_utc)}" if is_morning else f"by {style.clock(ask.by_utc)}"
    act = max(ask.acts, key=lambda act: act.chance)
    why = reason(act, outlook, style)
    return f"{day} {time}: {DO[ask.verb]} {names(ask.trees)} ({minutes(ask.minutes)}). {why}"


def tree_list(outlook: Outlook, style: Style) -> str:
    """The trees by number: how each stands, its phase, what it bears."""
    lines = []
    for number, one in enumerate(outlook.trees, start=1):
        bears = f"bears {style.degrees(one.hardiness.bears_c)} ± {style.step(one.hardiness.sd_c)}"
        stands = WHILE[one.state].lower() if one.state else "cover not told, taken as off"
        trial = " Left bare on purpose." if one.tree.left_bare else ""
        give = " To give away." if one.tree.purpose == Purpose.GIVE_AWAY else ""
        lines.append(f"{number}. {one.tree.name}: {stands}, {one.hardiness.phase}, {bears}.{trial}{give}")
    return "\n".join(lines)


def why(one: TreeMargins, outlook: Outlook, style: Style, terms: str = "") -> str:
    """Why a tree is, or is not, asked about: the cold, the cover's own terms, the threshold's source, the doubts."""
    if not one.nights:
        return f"I have no forecast for {one.tree.name}."
    act = next((act for act in outlook.acts if act.tree == one.tree.name), None)
    night = one.night_of(act.night) if act else one.nights[0]
    lines = [cold_reason(one, night, night.felt[one.state_assumed].chance, style, outlook.now)]
    lines += [_each_state(one, night, style)] if len(night.felt) > 1 else []
    lines += [terms] if terms else []
    lines += [f"What it bears: {one.hardiness.source}, {one.hardiness.phase}."]
    if act:
        lines.append(price_line(act))
    lines += doubts_in_words((*outlook.doubts, *one.doubts, *one.hardiness.doubts), style)[:4]
    return "\n".join(lines)


def _each_state(one: TreeMargins, night: Night, style: Style) -> str:
    parts = [f"{WHILE[state].lower()} {style.degrees(felt.wood_c)}" for state, felt in night.felt.items()]
    return sentence(f"Wood of {one.tree.name} that night: {', '.join(parts)}")


def price_line(act: Act) -> str:
    """What an act saves and costs, both in trips to the garden."""
    return f"Worth it: saves about {act.saves_trips:.1f} trips' worth of wood for a price of {act.price_trips:.1f}."


def _source(outlook: Outlook, style: Style) -> list[str]:
    lines = doubts_in_words(outlook.doubts, style)[:2]
    since = outlook.issued_utc or outlook.fetched_utc
    if since:
        lines.append(f"Forecast of {style.day(since, outlook.now)} {style.clock(since)}. {outlook.credit}".strip())
    return lines
