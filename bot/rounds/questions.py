"""Answers that write nothing: tonight, due, trees, why, and what else a grower may ask."""

from collections.abc import Callable, Mapping
from typing import Final

from bot.replies import Meaning, Verb
from bot.rounds.desk import Answer, Desk
from bot.wording import answers as say

NO_LOOK: Final = "I have not looked at the weather yet. Please ask again in a minute."


def _tonight(desk: Desk, _: Meaning) -> Answer:
    seen = desk.outlook()
    return Answer(text=say.tonight(seen, desk.style) if seen else NO_LOOK)


def _due(desk: Desk, _: Meaning) -> Answer:
    seen = desk.outlook()
    return Answer(text=say.due_week(seen, desk.style, desk.now) if seen else NO_LOOK)


def _trees(desk: Desk, _: Meaning) -> Answer:
    seen = desk.outlook()
    return Answer(text=say.tree_list(seen, desk.style) if seen else NO_LOOK)


def _why(desk: Desk, meaning: Meaning) -> Answer:
    seen = desk.outlook()
    if seen is None:
        return Answer(text=NO_LOOK)
    names = meaning.trees or tuple(act.tree for act in seen.acts[:1]) or tuple(one.tree.name for one in seen.trees[:1])
    return Answer(text="\n\n".join(say.why(seen.tree(name), seen, desk.style) for name in names))


def _help(_: Desk, __: Meaning) -> Answer:
    return Answer(text=say.HELP)


def _not_done(desk: Desk, meaning: Meaning) -> Answer:
    return Answer(text=say.not_done(meaning.trees, desk.outlook(), desk.style))


def _will_do(_: Desk, __: Meaning) -> Answer:
    return Answer(text="Good. Tell me when it is done.")


def _thanks(_: Desk, __: Meaning) -> Answer:
    return Answer(text="You are welcome.")


ANSWERS: Final[Mapping[Verb, Callable[[Desk, Meaning], Answer]]] = {
    Verb.TONIGHT: _tonight,
    Verb.DUE: _due,
    Verb.TREES: _trees,
    Verb.WHY: _why,
    Verb.HELP: _help,
    Verb.START: _help,
    Verb.NOT_DONE: _not_done,
    Verb.WILL_DO: _will_do,
    Verb.THANKS: _thanks,
}
