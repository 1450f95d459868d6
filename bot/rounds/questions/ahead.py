"""Answers that the last look ahead holds ready: tonight, due, trees, how hard. Nothing is reckoned anew."""

import json
from dataclasses import replace
from datetime import datetime
from typing import Final

from bot.logbook import note_state, read_state
from bot.replies import Meaning, Verb
from bot.rounds.desk import Answer, Desk
from bot.wording import answers as say
from bot.wording.hardness import how_hard, tree_list, tree_states
from bot.wording.overheating import CLEAR_FILM, hot_lines, stewing
from rules.outlook import Outlook

NO_LOOK: Final = Answer(text="I have not looked at the weather yet. Please ask again in a minute.")


def _tonight(desk: Desk, meaning: Meaning) -> Answer:
    seen = desk.outlook()
    if seen is None:
        return NO_LOOK
    asked = of_trees(seen, meaning.trees)
    return Answer(text=_with_heat(desk, asked, say.tonight(asked, desk.style)))


def _due(desk: Desk, _: Meaning) -> Answer:
    seen = desk.outlook()
    return Answer(text=_with_heat(desk, seen, say.due_week(seen, desk.style, desk.now))) if seen else NO_LOOK


def _trees(desk: Desk, meaning: Meaning) -> Answer:
    seen = desk.outlook()
    if seen is None:
        return NO_LOOK
    if meaning.trees:
        asked = of_trees(seen, meaning.trees).trees
        return Answer(text=tree_states(asked, desk.records.deeds, desk.style, desk.now))
    return Answer(text=tree_list(seen, desk.style))


def _how_hard(desk: Desk, meaning: Meaning) -> Answer:
    seen = desk.outlook()
    if seen is None:
        return NO_LOOK
    if not meaning.trees:
        return Answer(text=tree_list(seen, desk.style))
    return Answer(text="\n\n".join(how_hard(seen.tree(name), desk.style) for name in meaning.trees))


def of_trees(seen: Outlook, names: tuple[str, ...]) -> Outlook:
    """The same outlook of some trees only; of all where none is named."""
    return replace(seen, trees=[one for one in seen.trees if one.tree.name in names]) if names else seen


def _with_heat(desk: Desk, seen: Outlook, text: str) -> str:
    """The text, and a line for covers that will stew, with the caution about clear film once a season."""
    hot = stewing(seen)
    lines = [text, *hot_lines(hot, desk.style, seen)]
    if any(one.clear_film for one in hot) and _first_time(desk, "caution clear film", desk.now):
        lines.append(CLEAR_FILM)
    return "\n".join(lines)


def _first_time(desk: Desk, name: str, now: datetime) -> bool:
    """Whether something is said for the first time since July."""
    local = now.astimezone(desk.garden.site.zone)
    name = f"{name} {local.year if local.month >= 7 else local.year - 1}"
    if read_state(desk.c, desk.garden.name, name) is not None:
        return False
    note_state(desk.c, desk.garden.name, name, json.dumps(True))
    return True


AHEAD: Final = {Verb.TONIGHT: _tonight, Verb.DUE: _due, Verb.TREES: _trees, Verb.HOW_HARD: _how_hard}
