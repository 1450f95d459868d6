"""Answers that rest on past winters: the last and the first freeze, and when a cover may come off for good."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Final

from bot.answers.exchange import Answer, Exchange
from bot.logbook import read_state
from bot.replies import Meaning
from bot.rounds.job_facts import night_offset_c
from bot.settings import Service
from bot.wording.year import freezes as say
from rules.garden.records import DeedKind
from rules.garden.tree import Phase, Tending, Tree
from rules.weather.daily_minima import DailyMinima
from rules.weather.freeze_dates import freeze_chance_later, freeze_dates
from rules.weather.freeze_seasons import WhichFreeze, freeze_year
from rules.wood.hardiness import tree_row
from rules.wood.ripening import KILLING_FREEZE_C

SAME_C: Final = 0.3  # thresholds nearer than this are told once
MOST_LINES: Final = 3
STILL_DAYS: Final = timedelta(days=60)  # so near the half-way date the chance that one still comes is worth a word


def winters_unknown(exchange: Exchange) -> list[Answer]:
    """That past winters are not known, and why."""
    if exchange.garden.past_winters is not None:
        return [Answer(text=say.UNREADABLE)]
    asked = read_state(exchange.c, exchange.garden.name, "winters asked") is not None
    coming = Service.OPEN_METEO in exchange.garden.services
    return [Answer(text=say.FETCHING if coming and not asked else say.NO_WINTERS)]


def origin(exchange: Exchange) -> str:
    """Whose past winters these are: the archive's licence asks to be named."""
    return "your own file" if exchange.garden.past_winters else "Open-Meteo.com"


def trees_named(exchange: Exchange, asked: Sequence[str]) -> list[Tree]:
    """The trees of these names, in the garden's order."""
    return [tree for tree in exchange.garden.trees if tree.name in asked]


def tell_last_freeze(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """When the last freezes of spring come."""
    return _freeze(exchange, meaning, WhichFreeze.LAST_IN_SPRING)


def tell_first_freeze(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """When the first freezes of autumn come."""
    return _freeze(exchange, meaning, WhichFreeze.FIRST_IN_AUTUMN)


def _freeze(exchange: Exchange, meaning: Meaning, which: WhichFreeze) -> list[Answer]:
    past = exchange.inputs().climate
    if past is None:
        return winters_unknown(exchange)
    trees = trees_named(exchange, meaning.trees)
    if not trees:
        asked = [_asked(exchange, past, c, which, "in the open", "", 0.0) for c in (0.0, KILLING_FREEZE_C)]
        return [Answer(text=say.freezes(asked, exchange.style, origin(exchange)))]
    return [Answer(text="\n\n".join(_at_tree(exchange, past, tree, which) for tree in trees))]


def _at_tree(exchange: Exchange, past: DailyMinima, tree: Tree, which: WhichFreeze) -> str:
    shift_c = night_offset_c(tree.standing)
    asked = [
        _asked(exchange, past, lt10_c, which, f"at {tree.name}", what, shift_c)
        for lt10_c, what in thresholds(exchange, tree)[:MOST_LINES]
    ]
    return say.freezes(asked, exchange.style, origin(exchange), shift_c)


def thresholds(exchange: Exchange, tree: Tree) -> list[tuple[float, str]]:
    """Temperatures worth a date at one tree, warmest first: in leaf, killing freeze, the grower's own."""
    growing_c, what = _growing_lt10_c(exchange, tree)
    found = [(growing_c, what), (KILLING_FREEZE_C, "killing freeze")]
    found += [(lt10_c, f"your own, {phase}") for phase, lt10_c in tree.safe_to_c.items() if phase != Phase.GROWING]
    told: list[tuple[float, str]] = []
    for lt10_c, name in found:
        if all(abs(lt10_c - other_c) >= SAME_C for other_c, _ in told):
            told.append((lt10_c, name))
    return sorted(told, reverse=True)


def _growing_lt10_c(exchange: Exchange, tree: Tree) -> tuple[float, str]:
    own_c = tree.safe_to_c.get(Phase.GROWING)
    if own_c is not None:
        return own_c, "your own, in leaf"
    row = tree_row(tree, exchange.today)
    return row.wood_hardiness(Phase.GROWING).lt10_c, "what it can take in leaf"


def _asked(
    exchange: Exchange, past: DailyMinima, threshold_c: float, which: WhichFreeze, where: str, what: str, shift_c: float
) -> say.FreezeAsked:
    latitude_deg = exchange.garden.site.latitude_deg
    today = exchange.today
    year = freeze_year(today, which, latitude_deg)
    dates = freeze_dates(past, threshold_c, which, year, latitude_deg, offset_c=shift_c)
    near = which is WhichFreeze.LAST_IN_SPRING and dates.half is not None and abs(dates.half - today) <= STILL_DAYS
    still = freeze_chance_later(past, threshold_c, today, latitude_deg, offset_c=shift_c)[0] if near else None
    return say.FreezeAsked(dates=dates, where=where, what=what, still=still)


def tell_when_to_strip(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """When covers may come off for good."""
    past, seen = exchange.inputs().climate, exchange.outlook()
    covered = [tree for tree in exchange.garden.trees if tree.cover and not tree.left_bare]
    trees = [tree for tree in covered if tree.name in meaning.trees] if meaning.trees else covered
    if not trees:
        return [Answer(text="None of these has a cover that I know of.")]
    if past is None:
        return winters_unknown(exchange)
    told: dict[tuple[float, str, float, bool], list[str]] = {}
    for tree in trees:
        taught = tree.tending is Tending.AS_TAUGHT
        told.setdefault((*_growing_lt10_c(exchange, tree), night_offset_c(tree.standing), taught), []).append(tree.name)
    asked = []
    for (lt10_c, what, shift_c, taught), same in told.items():
        acts = [act for act in seen.acts if act.tree in same and act.kind == DeedKind.STRIPPED] if seen else []
        dates = _asked(exchange, past, lt10_c, WhichFreeze.LAST_IN_SPRING, "", what, shift_c).dates
        asked.append(say.StripAsked(trees=same, dates=dates, act=acts[0] if acts else None, as_taught=taught))
    return [Answer(text=say.strip_when(asked, seen, exchange.style, origin(exchange)))]
