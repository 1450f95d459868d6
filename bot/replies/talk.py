"""The memory of the talk: a typed answer picks a choice offered, a correction puts right what was told last."""

from dataclasses import replace
from typing import Final

from bot.replies.nouns import Ambiguous, Choice, Context, Meaning, Question, Reply, Understood, Verb
from bot.replies.words.marking import Marked, marked
from bot.replies.words.normalising import normalised

_YES: Final = frozenset(["yes", "y", "yep", "yeah", "yup", "sure", "correct", "right"])
_NO: Final = frozenset(["no", "n", "nope", "nah"])
_FIRST: Final = {"first": 0, "second": 1, "third": 2, "last": -1}
_ALL: Final = frozenset(["both", "all"])
_SMALL: Final = frozenset(
    [
        "the",
        "one",
        "it",
        "that",
        "is",
        "was",
        ",",
        ".",
        "!",
        "i",
        "mean",
        "meant",
        "please",
        "only",
        "just",
        "caps",
        "cap",
        "tops",
        "top",
        "lid",
    ]
)
_STATES: Final = {
    "open": Verb.VENTED, "vented": Verb.VENTED, "opened": Verb.VENTED, "off": Verb.VENTED, "closed": Verb.CLOSED,
    "shut": Verb.CLOSED, "on": Verb.CLOSED, "wrapped": Verb.WRAPPED, "stripped": Verb.STRIPPED, "done": None,
}  # fmt: skip
# "no wait, wall not porch", "it was B, not A", "wall too", "only wall"
_LEAD: Final = frozenset(
    [
        "no",
        "wait",
        "sorry",
        "oops",
        ",",
        ".",
        "i",
        "meant",
        "mean",
        "that",
        "it",
        "was",
        "is",
        "not",
        "and",
        "the",
        "one",
        "actually",
        "hang",
        "on",
        "correction",
        "rather",
        "instead",
    ]
)


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
        named = line.trees[int(word[1:])].trees
        return bool(trees) and trees <= set(named)
    if word in _YES:
        return choice is offered[0] and choice.meanings[0].is_deed and len(offered) == 2
    if word in _NO:
        return choice.meanings[0].verb is Verb.NOT_DONE
    if word in _FIRST:
        return choice is offered[_FIRST[word]] if len(offered) > _FIRST[word] else False
    if word in _ALL:
        return len(trees) == most > 1
    if word in _STATES:
        return any(m.is_deed and _STATES[word] in (None, m.verb) for m in choice.meanings)
    return False


def corrected(line: Marked, context: Context) -> Reply | None:
    """What was told last put right: its trees changed, one added, or all but one taken back."""
    deeds = [meaning for meaning in context.last_told if meaning.verb in _EDITED]
    named = [word for word in line.words if word[0] == "@"]
    if len(deeds) != 1 or not named or any(len(line.trees[int(word[1:])].trees) != 1 for word in named):
        return None
    last = deeds[0]
    words = [word for word in line.words if word[0] != "@"]
    trees = [line.trees[int(word[1:])].trees[0] for word in named]
    if words in (
        ["too"],
        ["as", "well"],
        ["and", "too"],
        ["also"],
        ["and"],
        ["the", "too"],
        ["and", "the"],
        ["and", "the", "too"],
    ):
        return Understood(meanings=(replace(last, trees=tuple(trees)),))
    if words and words[0] in ("only", "just") and set(words[1:]) <= _LEAD and set(trees) < set(last.trees):
        return _instead(last, tuple(trees))
    if not set(words) <= _LEAD or not {"not", "no", "wait", "sorry", "oops", "meant", "mean", "actually"} & set(words):
        return None
    denied = {
        tree
        for word, tree in zip(named, trees, strict=True)
        if line.words[line.words.index(word) - 1] in ("not", "the")
        and "not" in line.words[max(0, line.words.index(word) - 2) : line.words.index(word)]
    }
    meant = tuple(tree for tree in trees if tree not in denied)
    if not meant or (denied and not denied <= set(last.trees)) or (not denied and set(meant) == set(last.trees)):
        return None
    if not denied and len(last.trees) > 1:
        added = replace(last, trees=meant)
        options = ((added,), _instead(last, meant).meanings)
        labels = (f"{' and '.join(meant)} too", f"only {' and '.join(meant)}")
        return Ambiguous(
            question=Question.WHICH_TREE,
            choices=tuple(Choice(label=w, meanings=o) for w, o in zip(labels, options, strict=True)),
        )
    kept = tuple(tree for tree in last.trees if denied and tree not in denied)
    return _instead(last, (*kept, *meant))


_EDITED: Final = frozenset((Verb.WRAPPED, Verb.VENTED, Verb.CLOSED, Verb.STRIPPED, Verb.READING, Verb.PICKED))


def _instead(last: Meaning, trees: tuple[str, ...]) -> Understood:
    """The last record taken back, and the same told of other trees."""
    return Understood(meanings=(Meaning(verb=Verb.UNDO), replace(last, trees=tuple(dict.fromkeys(trees)))))
