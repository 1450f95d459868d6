"""Answers that rest on past winters: the last and the first freeze, and when a cover may come off for good."""

from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import Final

from bot.answers.desk import Answer, Desk
from bot.logbook import read_state
from bot.replies import Meaning, Verb
from bot.rounds.job_facts import night_offset_c
from bot.settings import Service
from bot.wording.year import freezes as say
from rules.garden.records import DeedKind
from rules.garden.tree import Phase, Tree
from rules.weather.daily_minima import DailyMinima
from rules.weather.freeze_dates import freeze_chance_later, freeze_dates
from rules.weather.freeze_seasons import Turn, turn_year
from rules.wood.hardiness import tree_row
from rules.wood.ripening import KILLING_FREEZE_C

SAME_C: Final = 0.3  # thresholds nearer than this are told once
MOST_LINES: Final = 3
STILL_DAYS: Final = timedelta(days=60)  # so near the half-way date the chance that one still comes is worth a word


def winters_unknown(desk: Desk) -> Answer:
    """That past winters are not known, and why."""
    if desk.garden.past_winters is not None:
        return Answer(text=say.UNREADABLE)
    asked = read_state(desk.c, desk.garden.name, "winters asked") is not None
    coming = Service.OPEN_METEO in desk.garden.services
    return Answer(text=say.FETCHING if coming and not asked else say.NO_WINTERS)


def origin(desk: Desk) -> str:
    """Whose past winters these are: the archive's licence asks to be named."""
    return "your own file" if desk.garden.past_winters else "Open-Meteo.com"


def trees_named(desk: Desk, asked: Sequence[str]) -> list[Tree]:
    """The trees of these names, in the garden's order."""
    return [tree for tree in desk.garden.trees if tree.name in asked]


def _freeze(turn: Turn) -> Callable[[Desk, Meaning], Answer]:
    def answered(desk: Desk, meaning: Meaning) -> Answer:
        past = desk.ground().climate
        if past is None:
            return winters_unknown(desk)
        trees = trees_named(desk, meaning.trees)
        if not trees:
            asked = [_asked(desk, past, c, turn, "in the open", "", 0.0) for c in (0.0, KILLING_FREEZE_C)]
            return Answer(text=say.freezes(asked, desk.style, origin(desk)))
        return Answer(text="\n\n".join(_at_tree(desk, past, tree, turn) for tree in trees))

    return answered


def _at_tree(desk: Desk, past: DailyMinima, tree: Tree, turn: Turn) -> str:
    shift_c = night_offset_c(tree.standing)
    asked = [
        _asked(desk, past, bears_c, turn, f"at {tree.name}", what, shift_c)
        for bears_c, what in thresholds(desk, tree)[:MOST_LINES]
    ]
    return say.freezes(asked, desk.style, origin(desk), shift_c)


def thresholds(desk: Desk, tree: Tree) -> list[tuple[float, str]]:
    """Temperatures worth a date at one tree, warmest first: in leaf, killing freeze, the grower's own."""
    growing_c, what = _growing_bears_c(desk, tree)
    found = [(growing_c, what), (KILLING_FREEZE_C, "killing freeze")]
    found += [(bears_c, f"your own, {phase}") for phase, bears_c in tree.own_bears_c.items() if phase != Phase.GROWING]
    told: list[tuple[float, str]] = []
    for bears_c, name in found:
        if all(abs(bears_c - other_c) >= SAME_C for other_c, _ in told):
            told.append((bears_c, name))
    return sorted(told, reverse=True)


def _growing_bears_c(desk: Desk, tree: Tree) -> tuple[float, str]:
    own_c = tree.own_bears_c.get(Phase.GROWING)
    if own_c is not None:
        return own_c, "your own, in leaf"
    row = tree_row(tree, desk.today)
    return row.bears(Phase.GROWING).t10_c, "what it bears in leaf"


def _asked(
    desk: Desk, past: DailyMinima, threshold_c: float, turn: Turn, where: str, what: str, shift_c: float
) -> say.FreezeAsked:
    latitude_deg = desk.garden.site.latitude_deg
    today = desk.today
    year = turn_year(today, turn, latitude_deg)
    dates = freeze_dates(past, threshold_c, turn, year, latitude_deg, offset_c=shift_c)
    near = turn is Turn.LAST_IN_SPRING and dates.half is not None and abs(dates.half - today) <= STILL_DAYS
    still = freeze_chance_later(past, threshold_c, today, latitude_deg, offset_c=shift_c)[0] if near else None
    return say.FreezeAsked(dates=dates, where=where, what=what, still=still)


def _strip_when(desk: Desk, meaning: Meaning) -> Answer:
    past, seen = desk.ground().climate, desk.outlook()
    covered = [tree for tree in desk.garden.trees if tree.cover and not tree.left_bare]
    trees = [tree for tree in covered if tree.name in meaning.trees] if meaning.trees else covered
    if not trees:
        return Answer(text="None of these has a cover that I know of.")
    if past is None:
        return winters_unknown(desk)
    told: dict[tuple[float, str, float], list[str]] = {}
    for tree in trees:
        told.setdefault((*_growing_bears_c(desk, tree), night_offset_c(tree.standing)), []).append(tree.name)
    asked = []
    for (bears_c, what, shift_c), same in told.items():
        acts = [act for act in seen.acts if act.tree in same and act.kind == DeedKind.STRIPPED] if seen else []
        dates = _asked(desk, past, bears_c, Turn.LAST_IN_SPRING, "", what, shift_c).dates
        asked.append(say.StripAsked(trees=same, dates=dates, act=acts[0] if acts else None))
    return Answer(text=say.strip_when(asked, seen, desk.style, origin(desk)))


WINTERS: Final = {
    Verb.LAST_FROST: _freeze(Turn.LAST_IN_SPRING),
    Verb.FIRST_FROST: _freeze(Turn.FIRST_IN_AUTUMN),
    Verb.STRIP_WHEN: _strip_when,
}
