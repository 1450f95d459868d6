"""The nudges that ask for nothing: not needed after all, blind, all is well."""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from bot.nudges import DueNudge, PastNudge, Stage
from bot.wording.covers.words import covers_of, do_words
from bot.wording.dead_wood import dead_trees
from bot.wording.formats import Style, chance, counted, names, sentence, too_cold
from rules.garden.cover import CoverState
from rules.garden.doubt import DoubtKind
from rules.garden.records import DeedKind
from rules.outlook.garden_outlook import Outlook
from rules.outlook.triage import HELPS
from rules.wood.margins import TreeMargins

LOOK_YOURSELF = "Please look yourself; if in doubt, close."


def stand_down(nudge: DueNudge, outlook: Outlook, style: Style) -> str:
    """That an earlier ask is not needed any more, with the numbers that changed."""
    if nudge.about is None or nudge.about.verb is None:
        raise ValueError("a stand-down needs the nudge it is about")
    if nudge.lapsed:
        return _lapsed(nudge.about, nudge.trees, outlook)
    lines = []
    for name in nudge.trees:
        one = outlook.tree(name)
        night = one.night_of(nudge.about.night or nudge.day)
        tissue = night.tissue[one.state_assumed].wood_c
        lines.append(
            f"{name} would feel {style.degrees(tissue)} as it stands; "
            f"it is safe to {style.degrees(one.hardiness.lt10_c)}"
        )
    what = do_words(nudge.about.verb, nudge.trees, covers_of(outlook))
    head = f"Good news: no need to {what} {style.day(nudge.day, outlook.now)}. The forecast is milder now."
    return f"{head}\n{sentence('. '.join(lines))}"


def _lapsed(about: PastNudge, trees: Sequence[str], outlook: Outlook) -> str:
    """Why a job that was announced or asked for is not, or no more, asked for, though the night is as cold as told."""
    what = do_words(about.verb or DeedKind.WRAPPED, trees, covers_of(outlook))
    announced = about.stage is Stage.HEADS_UP
    lines = [f"I said I would ask you to {what} today: I do not." if announced else f"I no longer ask you to {what}."]
    zone = outlook.site.zone
    also = any(act.by_utc.astimezone(zone).date() <= about.day for act in outlook.acts)
    alone = not announced and len(trees) == 1 and not also
    by_plan, of_one = "by my plan it saves too little for the work", "a trip for it alone costs more than it saves"
    unpaid = f"{of_one}; out there anyway, do it" if alone else by_plan
    for one in map(outlook.tree, trees):
        tissue = one.night_of(about.night or about.day).tissue
        as_is, shut = tissue[one.state_assumed].chance, tissue[CoverState.CLOSED].chance
        why = "its cover would change too little" if as_is - shut < HELPS else unpaid
        lines.append(f"{one.tree.name}: {too_cold(as_is)} as it stands, {chance(shut)} shut; {why}.")
    return "\n".join([*lines, *['For time and straw ask "what should I do first".'] * announced])


def blind(outlook: Outlook, style: Style) -> str:
    """That we cannot see the coming night, and what the last look said."""
    if outlook.fetched_utc is None or not any(one.nights for one in outlook.trees):
        return f"I cannot see the weather: no service answers and I have no forecast. {LOOK_YOURSELF}"
    age = round((outlook.now - outlook.fetched_utc) / timedelta(hours=1))
    coldest = min((one.nights[0] for one in outlook.trees if one.nights), key=lambda night: night.field_c)
    last = f"It said {style.degrees(coldest.field_c)} for {style.night(coldest.evening, outlook.now)}."
    return f"I cannot see the weather: my last forecast is {age} hours old. {last} {LOOK_YOURSELF}"


def all_well(outlook: Outlook, style: Style) -> str:
    """The word now and then that all is well, with what was watched."""
    watched = [one for one in outlook.trees if one.nights]
    if not watched:
        return "A quiet week: nothing was needed. I go on watching, but I have no forecast just now."
    coldest = min((night for one in watched for night in one.nights), key=lambda night: night.air_c)
    when = style.night(coldest.evening, outlook.now)
    low = style.degrees(coldest.air_c)
    seen = f"I watched {counted(len(watched), 'tree')}; the coldest night ahead is {when}, {low}."
    return " ".join(_how_well(watched, style, seen))


def _how_well(watched: Sequence[TreeMargins], style: Style, seen: str) -> Iterator[str]:
    """Whether all is well, the tree under care that comes nearest to harm, and those colder than they can take."""
    cared = [one for one in watched if not one.tree.left_bare]  # left on purpose: nobody needs to hear of it each week
    margins = {one.tree.name: _least_margin(one) for one in cared if not one.hardiness.lost.held_dead}
    below = {name for name, (feels_c, lt10_c) in margins.items() if feels_c < lt10_c}
    bare = [one.tree.name for one in cared if one.tree.name in below and one.state_assumed is CoverState.BARE]
    covered = [name for name in margins if name in below and name not in bare]
    yield "There is nothing more to do just now." if below else "All is well: nothing needs doing."
    yield seen
    if safe := [name for name in margins if name not in below]:
        name = min(safe, key=lambda name: margins[name][0] - margins[name][1])
        feels, safe_to = map(style.degrees, margins[name])
        yield f"Nearest to harm is {name}: its wood down to {feels}, and it is safe to {safe_to}."
    if covered:
        where = "In its cover" if len(covered) == 1 else "In their covers"
        yield f"{where} {names(covered)} may still get too cold."
    lost = [one.tree.name for one in watched if any(d.kind is DoubtKind.PAST_SAVING for d in one.doubts)]
    if bare:
        yield f"Bare, and at risk: {names(bare)}."
    if left := [name for name in bare if name not in lost]:
        yield f"By my plan no work at {names(left)} pays: ask me why."
    if dead := dead_trees(cared):
        yield dead
    if lost:
        yield f"By past winters no cover here saves {names(lost)}: ask me why."


def _least_margin(one: TreeMargins) -> tuple[float, float]:
    """What the wood feels in the worst night with its cover as it stands, and what it can take [°C]."""
    return min(night.tissue[one.state_assumed].wood_c for night in one.nights), one.hardiness.lt10_c
