"""How many are done or left, of those that a nudge asks for, and not which: the grower is asked which one it is."""

import re
from typing import Final

from bot.replies.labels import label
from bot.replies.nouns import Ambiguous, Choice, Context, Meaning, OpenAsk, Question
from bot.replies.words.amounts import number_of
from bot.replies.words.normalising import normalised

_N: Final = r"(one|two|three|four|five|six|\d)"
_OF: Final = r"(?: (?:of|out of) (?:the |those |them |your |my )?(?:one|two|three|four|five|six|\d|them|those))?"
LEFT: Final = re.compile(  # "all but one", "one to go", "one down two to go"
    rf"^(?:done |closed |shut |ok |so )*(?:(?:all|everything) (?:but|except|bar) {_N}"
    rf"|(?:{_N} down ,? ?(?:and )?)?{_N} (?:more )?(?:to go|left|still to do|still to go|remaining))(?: [.!])?$"
)
DONE: Final = re.compile(  # "three of your four are shut", "did 4 of the 5", "task 1 of 2 complete"
    rf"^(?:i |we )?(?:task |did |closed |shut |opened |wrapped |stripped |uncovered |buttoned up |got )*{_N}{_OF}"
    r"(?: (?:are|is))?(?: (?:done|down|shut|closed|open|opened|wrapped|covered|stripped|off|complete))?(?: [.!])?$"
)


def counted_only(text: str, context: Context) -> Ambiguous | None:
    """Which one is left, or done, where a reply says no more than how many; None where it says more, or needs not."""
    ask = context.asks[0] if len(context.asks) == 1 else None
    left = _left(normalised(text), ask) if ask is not None else None
    if ask is None or left is None:
        return None
    if left == 1:
        return _which(ask, [tuple(tree for tree in ask.trees if tree != one) for one in ask.trees], context)
    return _which(ask, [(one,) for one in ask.trees], context) if left == len(ask.trees) - 1 else None


def _left(plain: str, ask: OpenAsk) -> int | None:
    """How many of those asked for are still to do; None where nothing like that is said."""
    found = LEFT.match(plain)
    if found:
        return int(number_of(found[1] or found[3]))
    found = DONE.match(plain)
    counts = found is not None and (" of " in plain or " down" in plain)
    left = len(ask.trees) - int(number_of(found[1])) if found and counts else 0
    return left if 0 < left < len(ask.trees) else None


def _which(ask: OpenAsk, ways: list[tuple[str, ...]], context: Context) -> Ambiguous:
    told = [(Meaning(verb=ask.verb, trees=trees, ask_key=ask.key),) for trees in ways]
    choices = tuple(Choice(label=label(way, context), meanings=way) for way in told)
    return Ambiguous(question=Question.WHICH_TREE, choices=choices)
