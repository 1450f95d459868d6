"""What is told of all but a few: "opened everything but the pom, whose lid is frozen" is of the others alone."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NamedTuple

from bot.replies.labels import label
from bot.replies.nouns import Ambiguous, Choice, Context, Meaning, NotUnderstood, Question, Reply, Understood
from bot.replies.words.marking import Marked
from bot.replies.words.spelling import deed_forms

SENTENCE_ENDS: Final = frozenset((".", ";", "!", "?"))
OF_ALL: Final = frozenset((
    "all", "everything", "lot", "them", "em", "everywhere", "every", "rest", "others", "figs", "lids", "tops", "caps",
    "three", "four", "five", "six", "seven", "eight",
))  # fmt: skip
EXCEPTS: Final = tuple(one.split() for one in (
    "apart from", "except for", "save for", "other than", "not counting", "but not", "and not", "just not", "but",
    "except", "excepting", "excluding", "bar", "minus", "without", "besides", "not",
))  # fmt: skip
ONLY: Final = frozenset(("only", "just"))
REMAINS: Final = frozenset(("left", "not", "missing", "remains", "remaining", "isn't", "wasn't", "outstanding", "to"))
WITHIN_LIST: Final = frozenset(("the", "my", "our", "and", "&", ",", "or", "nor", "fig", "one", "for"))


class LeftOut(NamedTuple):
    """The trees that are left out, the line without the words that leave them out, and these."""

    trees: frozenset[str]
    rest: Marked
    words: str


def left_out(line: Marked) -> LeftOut | None:
    """What a reply leaves out of all that it tells of; None where it leaves nothing out, or tells more of it."""
    for at in range(1, len(line.words)):
        named = _list_behind(line.words, at)
        end = named and _end_of_tail(line.words, named)
        if named and end and _is_of_all(line.words, at):
            trees = {tree for word in line.words[at:named] if word[0] == "@" for tree in line.tree_of(word).trees}
            kept = [*line.words[:at], *line.words[end:]]
            said = " ".join(word for word in line.words[at:end] if word[0] not in "@#%~")
            return LeftOut(frozenset(trees), replace(line, words=kept), said)
    return None


def _is_of_all(words: Sequence[str], at: int) -> bool:
    """Whether the sentence up to here speaks of all of them, and does not ask."""
    start = max((n for n in range(at) if words[n] in SENTENCE_ENDS), default=-1) + 1
    asks = next((word for word in words[at:] if word in SENTENCE_ENDS), "") == "?"
    return not asks and not OF_ALL.isdisjoint(words[start:at])


def _list_behind(words: Sequence[str], at: int) -> int:
    """Where a list of trees ends that words at a place leave out; 0 where none do."""
    for said in EXCEPTS:
        end = _list_end(words, at + len(said)) if list(words[at : at + len(said)]) == said else 0
        if end:
            return end
    end = _list_end(words, at + 1) if words[at] in ONLY else 0
    return end + 1 if end and words[end : end + 1] and words[end] in REMAINS else 0


def _list_end(words: Sequence[str], start: int) -> int:
    """Where trees that are listed from a place on end; 0 where none is."""
    end = start
    while end < len(words) and (words[end][0] == "@" or words[end] in WITHIN_LIST):
        end += 1
    trees = [n for n in range(start, end) if words[n][0] == "@"]
    return trees[-1] + 1 + (words[trees[-1] + 1 : trees[-1] + 2] in (["fig"], ["one"])) if trees else 0


def _end_of_tail(words: Sequence[str], named: int) -> int:
    """Where what is said of those left out ends, "whose lid is frozen"; 0 where it tells a deed, a time or a number."""
    end, last = named, named
    while end < len(words) and words[end] not in SENTENCE_ENDS:
        end += 1
        if (end == len(words) or words[end] in SENTENCE_ENDS | {","}) and _is_idle(words[last:end]):
            last = end
    tail = words[named:end]
    return last if last > named or not tail or tail[0] == "," else 0


def _is_idle(words: Sequence[str]) -> bool:
    return deed_forms().isdisjoint(words) and not any(word[0] in "@#%~" or word.isdigit() for word in words)


def without(trees: frozenset[str], reply: Reply, context: Context) -> Reply:
    """A reading without those left out, of what it tells or offers of several."""
    if isinstance(reply, Understood):
        return replace(reply, meanings=_few(trees, reply.meanings))
    ways = [_few(trees, choice.meanings) for choice in reply.choices]
    choices = tuple(Choice(label=label(way, context), meanings=way) for way in ways)
    if isinstance(reply, NotUnderstood):
        return replace(reply, choices=choices)
    return replace(reply, choices=choices, certain=_few(trees, reply.certain))


def _few(trees: frozenset[str], told: Sequence[Meaning]) -> tuple[Meaning, ...]:
    few = [tuple(tree for tree in one.trees if tree not in trees) for one in told]
    return tuple(replace(one, trees=left) if left else one for one, left in zip(told, few, strict=True))


def tells_deed(reply: Understood) -> bool:
    """Whether a reading tells a deed."""
    return any(one.is_deed for one in reply.meanings)


def notes_deed_of(trees: frozenset[str], reply: Reply) -> bool:
    """Whether a reading notes a deed of one of those left out."""
    if isinstance(reply, NotUnderstood):
        return False
    noted = reply.meanings if isinstance(reply, Understood) else reply.certain
    return any(one.is_deed and not trees.isdisjoint(one.trees) for one in noted)


def which_of_all(reply: Reply, line: Marked, context: Context) -> Reply:
    """A deed of several where words that are left out name a few of them: "all open but pom is frozen", of which?"""
    if not isinstance(reply, Understood) or not reply.unread:
        return reply
    told = {tree for one in reply.meanings if not one.is_deed for tree in one.trees}
    named = {tree for tree in line.trees_named if tree not in told}
    if not any(one.is_deed and 0 < len(named & set(one.trees)) < len(one.trees) for one in reply.meanings):
        return reply
    others = _few(frozenset(named), reply.meanings)
    those = tuple(replace(one, trees=tuple(t for t in one.trees if t in named) or one.trees) for one in reply.meanings)
    ways = [Choice(label=label(way, context), meanings=way) for way in (others, those, reply.meanings)]
    return Ambiguous(question=Question.WHICH_TREE, choices=tuple(ways), unread=reply.unread)
