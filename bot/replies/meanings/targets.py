"""Which trees, and which open ask, a clause speaks of."""

from dataclasses import dataclass, replace
from itertools import pairwise

from bot.replies.clause import COVERED, DONE, UNCOVERED, Clause
from bot.replies.nouns import Context, OpenAsk, UnreadableError, Verb
from bot.replies.words.names import Named
from rules.garden.cover import CoverState

MOST_CHOICES = 3
# The state a cover must be in for a deed to make sense; None (nobody has said) fits every deed.
_FROM_STATE = {
    Verb.WRAPPED: {CoverState.BARE, None},
    Verb.CLOSED: {CoverState.VENTED, None},
    Verb.VENTED: {CoverState.CLOSED, None},
    Verb.STRIPPED: {CoverState.VENTED, CoverState.CLOSED, None},
    Verb.BLANKETED: {CoverState.BARE, None},
}
_MAY_MEAN = {
    COVERED: (Verb.WRAPPED, Verb.CLOSED, Verb.BLANKETED),
    UNCOVERED: (Verb.VENTED, Verb.STRIPPED),
    DONE: (Verb.WRAPPED, Verb.CLOSED, Verb.VENTED, Verb.STRIPPED, Verb.BLANKETED),
}


@dataclass(frozen=True, kw_only=True)
class Target:
    """One way to read the trees of a clause."""

    trees: tuple[str, ...]
    ask: OpenAsk | None = None


def verbs_meant(did: str) -> tuple[Verb, ...]:
    """The deeds a word may stand for: one, except for "covered", "uncovered", "done"."""
    return _MAY_MEAN.get(did) or (Verb(did),)


def asks_for(did: str | None, context: Context) -> tuple[OpenAsk, ...]:
    """The asks a deed may answer, where none is open the last one too; all that are open when no deed is named."""
    if did is None:
        return context.asks
    asks = context.asks or ((context.lapsed,) if context.lapsed else ())
    return tuple(ask for ask in asks if ask.verb in verbs_meant(did))


def fitting(verbs: tuple[Verb, ...], context: Context, among: tuple[str, ...] | None = None) -> tuple[str, ...]:
    """The trees whose cover stands so that one of these deeds could be done."""
    return tuple(
        tree.name
        for tree in context.trees
        if tree.has_cover and (among is None or tree.name in among) and any(tree.state in _FROM_STATE[v] for v in verbs)
    )


def targets(clause: Clause, context: Context, asks: tuple[OpenAsk, ...], spoken: tuple[str, ...] = ()) -> list[Target]:
    """The ways to read which trees a clause means; one way is certain, none means it does not say.

    `asks` are those the clause may answer, `spoken` the trees of the clauses before it ("the rest tomorrow").

    Raises
    ------
    UnreadableError
        A number stands for no tree.
    """
    readings = _readings(clause, context, asks, spoken)
    left_out = _left_out(clause, context, asks)
    kept = [Target(trees=tuple(t for t in r.trees if t not in left_out), ask=r.ask) for r in readings]
    return [reading for reading in kept if reading.trees]


def _readings(clause: Clause, context: Context, asks: tuple[OpenAsk, ...], spoken: tuple[str, ...]) -> list[Target]:
    if clause.named or clause.numbers:
        return _named(clause, context, asks)
    if clause.group == "rest":
        return _rest(asks, spoken)
    if (clause.group == "them" or clause.tells == "left" or clause.has("lid")) and spoken:
        return [_with_ask(_in_order(list(spoken), context), asks)]
    if clause.group == "one" or _is_one_of_them(clause):
        asked = [Target(trees=(tree,), ask=ask) for ask in asks for tree in ask.trees]
        able = fitting(verbs_meant(clause.did), context) if clause.did else ()
        return asked or [Target(trees=(tree,)) for tree in able]
    tells = clause.tells == "did" or (clause.tells == "did?" and not {"again", "that's"}.isdisjoint(clause.words))
    if spoken and tells and clause.group is None:
        return [_with_ask(_in_order(list(spoken), context), asks)]  # "opened porch and closed again"
    of_one = clause.did in _OF_ONE and clause.group in (None, "them") and not _ITS.isdisjoint(clause.words)
    if of_one and len(asks) == 1:
        return [replace(one, ask=asks[0]) for one in offered(asks[0].trees)]  # "I have closed it", of two
    if len(asks) >= 1:
        whole = [ask for ask in asks if clause.group != "both" or len(ask.trees) == 2]
        return [Target(trees=ask.trees, ask=ask) for ask in whole]
    return _by_state(clause, context)


def _is_one_of_them(clause: Clause) -> bool:
    """ "The left one": one, and which we cannot tell."""
    words = clause.words
    return any(a in _WHICH and b == "one" for a, b in pairwise(words))


_OF_ONE, _ITS = frozenset(verb.value for verb in _FROM_STATE), frozenset(("it", "it's"))
_WHICH = frozenset(
    ("left", "right", "big", "bigger", "small", "smaller", "tall", "old", "young", "near", "far", "front", "back")
)


def _named(clause: Clause, context: Context, asks: tuple[OpenAsk, ...]) -> list[Target]:
    certain = [tree for number in clause.numbers for tree in (tree_of_number(number, context, asks),)]
    open_names = [named for named in clause.named if named.is_open]
    for named in clause.named:
        certain += () if named.is_open else _group_members(named, clause, context, asks)
    if not open_names and "both" in clause.words and len(set(certain)) > 2:
        return []  # "both figs" of three
    if not open_names:
        return [_with_ask(_in_order(certain, context), asks)]
    options = _narrowed(open_names[0], clause, context, asks)
    return [_with_ask(_in_order([*certain, option], context), asks) for option in options]


def _group_members(named: Named, clause: Clause, context: Context, asks: tuple[OpenAsk, ...]) -> tuple[str, ...]:
    """ "The figs" are those of the ask, else those whose covers stand so that it could be done, else all."""
    if not named.is_group:
        return named.trees
    asked = tuple(tree for tree in named.trees if any(tree in ask.trees for ask in asks))
    able = fitting(verbs_meant(clause.did), context, named.trees) if clause.did else ()
    return asked or able or named.trees


def _narrowed(named: Named, clause: Clause, context: Context, asks: tuple[OpenAsk, ...]) -> tuple[str, ...]:
    asked = tuple(tree for tree in named.trees if any(tree in ask.trees for ask in asks))
    able = fitting(verbs_meant(clause.did), context, named.trees) if clause.did else ()
    return asked or able or named.trees


def _in_order(trees: list[str], context: Context) -> tuple[str, ...]:
    return tuple(tree.name for tree in context.trees if tree.name in trees)


def _with_ask(trees: tuple[str, ...], asks: tuple[OpenAsk, ...]) -> Target:
    answered = next((ask for ask in asks if any(tree in ask.trees for tree in trees)), None)
    return Target(trees=trees, ask=answered)


def tree_of_number(number: int, context: Context, asks: tuple[OpenAsk, ...]) -> str:
    """The tree a number stands for: in the only ask that shows it, else in the list of trees."""
    shown = [ask.numbered()[number] for ask in asks if number in ask.numbered()]
    if len(asks) == 1 and shown:
        return shown[0]
    listed = [tree.name for tree in context.trees if tree.number == number]
    if not listed:
        raise UnreadableError(f"no tree has the number {number}")
    return listed[0]


def _left_out(clause: Clause, context: Context, asks: tuple[OpenAsk, ...]) -> set[str]:
    numbered = {tree_of_number(number, context, asks) for number in clause.excepted_numbers}
    return numbered | {tree for named in clause.excepted for tree in named.trees}


def _rest(asks: tuple[OpenAsk, ...], spoken: tuple[str, ...]) -> list[Target]:
    left = [Target(trees=tuple(t for t in ask.trees if t not in spoken), ask=ask) for ask in asks]
    return [target for target in left if target.trees]


def _by_state(clause: Clause, context: Context) -> list[Target]:
    """With nothing asked, the covers that stand so that the deed could be done."""
    if clause.did is None:
        return [Target(trees=tuple(tree.name for tree in context.trees))] if clause.group == "all" else []
    able = fitting(verbs_meant(clause.did), context)
    if clause.group == "both" and len(able) < 2:
        return []  # two were done, and one at most could be
    if clause.group == "all" or (clause.group == "both" and len(able) == 2):
        return [Target(trees=able)] if able else []
    return offered(able)


def offered(trees: tuple[str, ...]) -> list[Target]:
    """One tree after another, and all of them, as far as three choices go."""
    if len(trees) <= 1:
        return [Target(trees=trees)] if trees else []
    return [*(Target(trees=(tree,)) for tree in trees[: MOST_CHOICES - 1]), Target(trees=trees)]
