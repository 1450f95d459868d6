"""Answers that the last look ahead holds ready: tonight, trees, how hard. Nothing is reckoned anew."""

from dataclasses import replace
from datetime import datetime

from bot.answers.condition.little_things import offers
from bot.answers.exchange import NO_LOOK, Answer, Exchange
from bot.logbook import read_told
from bot.replies import Meaning
from bot.rounds.gathering import RECORDS_READ
from bot.rounds.said_once import first_time
from bot.wording.dead_wood import alive_lines
from bot.wording.hardiness import how_hard, tree_list, tree_states
from bot.wording.nights import nights_ahead, tonight
from bot.wording.overheating import CLEAR_FILM, hot_lines, stewing
from rules.garden.condition import ConditionTold
from rules.garden.records import CHANGES_STATE, Deed
from rules.outlook.garden_outlook import Outlook


def tell_tonight(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """The coming night, or another that was named, tree by tree."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    asked = of_trees(seen, meaning.trees)
    evening = exchange.style.evening(meaning.at_utc) if meaning.at_utc else None
    if evening is not None and evening != exchange.style.evening(exchange.now):
        return [Answer(text=tonight(asked, exchange.style, evening=evening))]
    more = [*offers(exchange, asked), *heat_lines(exchange, asked)]
    return [Answer(text=tonight(asked, exchange.style, more))]


def tell_nights(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Each night that the forecast reaches, with the trees it threatens as they stand."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    return [Answer(text=nights_ahead(of_trees(seen, meaning.trees), exchange.style))]


def tell_trees(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """The trees, or how those named stand."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    if meaning.trees:
        asked = of_trees(seen, meaning.trees).trees
        return [Answer(text=tree_states(asked, _last_told(exchange), exchange.style, exchange.now))]
    return [Answer(text=tree_list(seen, exchange.style))]


def _last_told(exchange: Exchange) -> dict[str, tuple[datetime, str]]:
    """Since when each cover stands as it does, and who told it; wet straw or snow on it is no other way to stand."""
    told = read_told(exchange.c, exchange.garden.name, exchange.now - RECORDS_READ)
    changes = [
        (one.entry, one.person) for one in told
        if isinstance(one.entry, Deed) or (isinstance(one.entry, ConditionTold) and one.entry.kind in CHANGES_STATE)
    ]  # fmt: skip
    since = sorted((entry.at_utc, entry.tree, person) for entry, person in changes if entry.at_utc <= exchange.now)
    return {tree: (at, person) for at, tree, person in since}


def tell_hardiness(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What the wood is safe to today."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    if not meaning.trees:
        return [Answer(text=tree_list(seen, exchange.style))]
    return [Answer(text="\n\n".join(how_hard(seen.tree(name), exchange.style) for name in meaning.trees))]


def tell_alive(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Whether the wood of the trees named, or of all, still lives, as far as can be told."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    return [Answer(text=alive_lines(of_trees(seen, meaning.trees).trees, exchange.style, exchange.now))]


def of_trees(seen: Outlook, names: tuple[str, ...]) -> Outlook:
    """The same outlook of some trees only; of all where none is named."""
    return replace(seen, trees=[one for one in seen.trees if one.tree.name in names]) if names else seen


def heat_lines(exchange: Exchange, seen: Outlook) -> list[str]:
    """A line for each cover that will stew, with the caution about clear film once a season."""
    hot = stewing(seen)
    lines = hot_lines(hot, exchange.style, seen)
    if any(one.clear_film for one in hot) and first_time(
        exchange.c, exchange.garden, "caution clear film", exchange.now
    ):
        lines.append(CLEAR_FILM)
    return lines
