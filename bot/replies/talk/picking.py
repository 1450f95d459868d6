"""A typed answer picks a choice offered."""

from typing import Final

from bot.replies.nouns import Choice, Context, Reply, Understood, Verb
from bot.replies.words.marking import Marked, marked
from bot.replies.words.normalising import normalised

_YES: Final = frozenset(["yes", "y", "yep", "yeah", "yup", "sure", "correct", "right", "keep"])
_NO: Final = frozenset(["no", "n", "nope", "nah"])
_FIRST: Final = {"first": 0, "second": 1, "third": 2, "last": -1}
_ALL: Final = frozenset(["both", "all"])
_SMALL: Final = frozenset((
    "the", "one", "it", "that", "is", "was", ",", ".", "!", "i", "mean", "meant", "please", "only", "just",
    "caps", "cap", "tops", "top", "lid",
))  # fmt: skip
STATES: Final = {
    "open": Verb.VENTED, "vented": Verb.VENTED, "opened": Verb.VENTED, "off": Verb.VENTED, "closed": Verb.CLOSED,
    "shut": Verb.CLOSED, "on": Verb.CLOSED, "wrapped": Verb.WRAPPED, "stripped": Verb.STRIPPED, "done": None,
}  # fmt: skip


def picked(text: str, context: Context) -> Reply | None:
    """The choice that a typed answer picks of those offered last; None where it picks none, or more than one."""
    if not context.offered:
        return None
    plain = normalised(text)
    for number, choice in enumerate(context.offered, start=1):
        if plain in (normalised(choice.label), str(number)):
            return Understood(meanings=choice.meanings)
    line = marked(text, context, keep_reserved=False)
    words = [word for word in line.words if word not in _SMALL]
    found = [choice for choice in context.offered if _fits(choice, words, line, context.offered)]
    return Understood(meanings=found[0].meanings) if words and len(found) == 1 else None


def _fits(choice: Choice, words: list[str], line: Marked, offered: tuple[Choice, ...]) -> bool:
    """Whether every word of the answer speaks of this choice."""
    return all(_fits_word(choice, word, line, offered) for word in words)


def _fits_word(choice: Choice, word: str, line: Marked, offered: tuple[Choice, ...]) -> bool:
    trees = {tree for meaning in choice.meanings for tree in meaning.trees}
    most = max(len({tree for meaning in one.meanings for tree in meaning.trees}) for one in offered)
    if word[0] == "@":
        named = line.tree_of(word).trees
        return bool(trees) and trees <= set(named)
    if word in _YES | _NO and any(one.meanings[0].verb is Verb.UNDO for one in offered):
        return False  # yes, it is noted, or yes, take it back?
    if word in _YES:
        kept = choice.meanings[0].is_deed or offered[-1].meanings[0].verb is Verb.NO
        return choice is offered[0] and kept and len(offered) == 2
    if word in _NO:
        return choice.meanings[0].verb in (Verb.NOT_DONE, Verb.NO)
    if word in _FIRST:
        return choice is offered[_FIRST[word]] if len(offered) > _FIRST[word] else False
    if word in _ALL:
        return len(trees) == most > 1
    if word in STATES:
        return any(m.is_deed and STATES[word] in (None, m.verb) for m in choice.meanings)
    return False
