"""The sentences about the coming night, the acts of the week and the night just past, and whose forecast it was."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from bot.nudges import Ask
from bot.wording.covers.words import covers_of, do_words, stands_words
from bot.wording.doubts import doubts_in_words
from bot.wording.formats import Style, five_minutes, minutes, names, sentence, too_cold
from bot.wording.nudges.asks import reason
from rules.garden.records import DeedKind
from rules.outlook.garden_outlook import Outlook
from rules.outlook.triage import THREATENED
from rules.outlook.views.last_night import NightBehind, TreeNight
from rules.wood.hardiness import Hardiness
from rules.wood.margins import Night, TreeMargins

UNKNOWN = "I know no hours of last night here: the weather service told none, or I was not running."


def tonight(outlook: Outlook, style: Style, more: Sequence[str] = (), *, evening: date | None = None) -> str:
    """The coming night, or that of an evening asked about: one line a tree, then what more there is to say of it."""
    evening = evening or style.evening(outlook.now)
    lines = [tonight_line(one, one.night_of(evening), style) for one in outlook.trees if one.nights]
    if not lines:
        return "I have no forecast for tonight. Please look yourself; if in doubt, close."
    last = max(one.nights[-1].evening for one in outlook.trees if one.nights)
    if evening > last:
        return f"My forecast ends with {style.night(last, outlook.now)}; {style.short_date(evening)} lies beyond it."
    first = next(one.night_of(evening) for one in outlook.trees if one.nights)
    name = sentence(style.night(first.evening, outlook.now)).rstrip(".")
    head = f"{name}: {style.degrees(first.field_c)} in the open near {style.round_clock(first.lowest_utc)}."
    return "\n".join([head, *lines, *more, *source_lines(outlook, style)])


def nights_ahead(outlook: Outlook, style: Style) -> str:
    """One line a night as far as the forecast reaches: its low in the open, and the trees it is too cold for."""
    nights = max((one.nights for one in outlook.trees), key=len, default=())
    if not nights:
        return "I have no forecast for the nights to come. Please look yourself; if in doubt, close."
    lines = [_night_line(night, outlook, style) for night in nights]
    return "\n".join([*lines, f"Further than that I have no forecast. {source_lines(outlook, style)[-1]}"])


def _night_line(night: Night, outlook: Outlook, style: Style) -> str:
    seen = [(one, one.night_of(night.evening)) for one in outlook.trees if one.nights]
    chances = [(tonight.tissue[one.state_assumed].chance, one.tree.name) for one, tonight in seen]
    risky = sorted((one for one in chances if one[0] >= THREATENED), reverse=True)
    told = f"; {too_cold(risky[0][0])} for {names([name for _, name in risky])} as they stand" if risky else ", fine"
    name = sentence(style.night(night.evening, outlook.now)).rstrip(".")
    return f"{name}: {style.degrees(night.field_c)} in the open{told}."


def tonight_line(one: TreeMargins, night: Night, style: Style) -> str:
    """One tree in one night: as it stands, what it feels, what it can take, how sure."""
    state = one.state_assumed
    tissue = night.tissue[state]
    verdict = "fine" if tissue.chance < 0.05 else too_cold(tissue.chance)
    stands = stands_words(one.cover, state)
    numbers = f"feels {style.degrees(tissue.wood_c, unit=False)}, safe to {style.degrees(one.hardiness.lt10_c)}"
    return f"{one.tree.name} ({stands}): {numbers}, {verdict}."


def due_line(ask: Ask, outlook: Outlook, style: Style, now: datetime) -> str:
    """One ask of the week: day, time, what, minutes, why."""
    day = sentence(style.day(ask.done_by_utc, now)).rstrip(".")
    is_morning = ask.verb in (DeedKind.VENTED, DeedKind.STRIPPED)
    time = f"from {style.clock(ask.from_utc)}" if is_morning else f"by {style.clock(five_minutes(ask.done_by_utc))}"
    act = max(ask.acts, key=lambda act: act.chance)
    why = reason(act, outlook, style)
    return f"{day} {time}: {do_words(ask.verb, ask.trees, covers_of(outlook))} ({minutes(ask.minutes)}). {why}"


def source_lines(outlook: Outlook, style: Style) -> list[str]:
    """What the forecast leaves in doubt, and whose it is."""
    lines = doubts_in_words(outlook.doubts, style)[:2]
    since = outlook.issued_utc or outlook.fetched_utc
    if since:
        lines.append(f"Forecast of {style.day(since, outlook.now)} {style.clock(since)}. {outlook.credit}".strip())
    return lines


def last_night(night: NightBehind, hardiness: Mapping[str, Hardiness], style: Style) -> str:
    """One line for the open, one a tree."""
    head = f"Last night: {style.degrees(night.air.air_c)} in the open near {style.round_clock(night.air.at_utc)}, "
    head += f"as the weather service has it{'' if night.air.complete else ', which lacks some of its hours'}."
    trees = [_tree_last_night(one, hardiness.get(one.tree.name), style) for one in night.trees]
    return "\n".join([f"{head} As its cover stood, the wood felt about:" if trees else head, *trees])


def _tree_last_night(one: TreeNight, hardiness: Hardiness | None, style: Style) -> str:
    said = f"{one.tree.name} {style.degrees(one.wood.air_c)}"
    if hardiness is not None:
        safe = style.degrees(hardiness.lt10_c, unit=False)
        said += (
            f", colder than the {safe} it is safe to"
            if one.wood.air_c < hardiness.lt10_c
            else f"; it is safe to {safe}"
        )
    lowest_c = min((reading.air_c for reading in one.readings), default=None)
    read = f" You read {style.degrees(lowest_c, tenths=True)} beside it." if lowest_c is not None else ""
    return f"{said}.{read}"
