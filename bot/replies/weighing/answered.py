"""Whether words of a person's own answer a nudge: of which trees what it asks for is done, and of which it is not."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from bot.replies.covering import JOINS, STOPS
from bot.replies.cues.deeds import DATES
from bot.replies.grammar import ours
from bot.replies.learned.clauses import (
    ANOTHERS,
    DEEDS,
    HANGING,
    HARMLESS,
    PARTS,
    TELLS,
    USED_TO,
    deed_told,
    is_of_another,
    kinds_told,
    undoes_itself,
)
from bot.replies.learned.features import spoken_of
from bot.replies.learned.harm import is_of_other_years
from bot.replies.learned.likely import learned
from bot.replies.meanings.deeds import read_done
from bot.replies.meanings.read import Meanings
from bot.replies.nouns import Context, Meaning, OpenAsk, Understood, Verb
from bot.replies.weighing.likely_told import UNDONE, lacks_time
from bot.replies.words.marking import Marked

ANSWERS: Final = (
    0.7  # that what is asked for was told: of 970 sentences that tell no such deed one passes, of a writer left out
)
ASIDE: Final = 0.5  # that a sentence beside it which names nothing of ours is talk, or nothing likelier; no source
ALL_OF_THEM: Final = frozenset((
    "all", "both", "everything", "them", "em", "lids", "tops", "caps", "covers", "trees", "hats",
))  # fmt: skip
ASKS_WHO: Final = frozenset(("who", "whose", "why", "what", "which", "when", "where", "how", "has", "have", "whether"))
ENDS: Final = frozenset((".", ";", "!"))
NEVER_SURE: Final = ("DENIES", "WAVERS", "JOKES", "UNDOES", "ASTRAY")
Part = tuple[int, int]  # the first word and the one behind the last


def answered(line: Marked, context: Context) -> Understood | None:
    """What is done and what is not of the nudge that words likely answer, where nothing in them doubts it."""
    asks = [ask for ask in context.asks if set(line.trees_named) <= set(ask.trees)]
    if len(asks) != 1 or "?" in line.words or line.words[:1] == [] or line.words[0] in ASKS_WHO:
        return None
    parts = [part for part in _parts(line) if not _is_aside(part, line)]
    told = [_told(asks[0], part, line, context) for part in parts]
    found = [one for way in told if way for one in way]
    trees = [tree for one in found for tree in one.trees]
    if not all(told) or not any(one.is_deed for one in found) or len(trees) != len(set(trees)):
        return None
    return Understood(meanings=tuple(found))


def _parts(line: Marked) -> Iterator[Part]:
    """The sentences of a reply, and of each the runs of words that name a tree each: "the kaki, but the pom"."""
    ends = [-1, *(n for n, word in enumerate(line.words) if word in ENDS), len(line.words)]
    for before, end in pairwise(ends):
        if before + 1 < end:
            yield from pairwise([before + 1, *_cuts(line.words, before + 1, end), end])


def _cuts(words: Sequence[str], start: int, end: int) -> Iterator[int]:
    """Where a run of words that names the next tree is set apart by more than an "and" from what is told before."""
    trees = [n for n in range(start, end) if words[n][0] == "@"]
    for before, at in pairwise(trees):
        apart = [n for n in range(before + 1, at) if words[n] in STOPS | JOINS]
        if apart and any(words[n] not in STOPS | JOINS | {"the", "fig", "one"} for n in range(before + 1, at)):
            yield apart[-1] + 1


def _is_aside(part: Part, line: Marked) -> bool:
    """Whether a sentence beside what is told names nothing of ours: "juniper supervised from a chair"."""
    words = line.words[slice(*part)]
    whole = part == (0, len(line.words))
    if whole or any(word[0] in "@%#~" or word.isdigit() for word in words):
        return False
    best = next(iter(kinds_told(line, *part)), None)
    doubts = not (ours().words(*NEVER_SURE) - HARMLESS).isdisjoint(words)
    return best is not None and not doubts and (best.matter in ("talk", "fine") or best.chance < ASIDE)


def _told(ask: OpenAsk, part: Part, line: Marked, context: Context) -> Meanings:
    """What one part of a reply tells of the trees that it names; nothing where that is not sure."""
    named = tuple(dict.fromkeys(tree for tree in ask.trees if tree in _named(part, line)))
    trees = named or _all_of(ask, line, part)
    chances = dict(kinds_told(line, *part))
    if not trees or learned().asks(spoken_of(line, *part)) > TELLS:
        return ()
    if named and sum(chances.get(kind, 0.0) for kind in UNDONE) >= ANSWERS:
        return (Meaning(verb=Verb.NOT_DONE, trees=named, ask_key=ask.key),)
    doubted = _doubted(part, line) or undoes_itself(ask.verb, line.words[slice(*part)])
    if sum(chances.get(kind, 0.0) for kind in DEEDS.get(ask.verb, ())) < ANSWERS or doubted:
        return ()
    read = read_done(deed_told(ask.verb, line, *part), context, ()).options
    whole = len(read) == 1 and {tree for one in read[0] for tree in one.trees} == set(trees)
    return read[0] if whole and not (part == (0, len(line.words)) and lacks_time(read[0], line)) else ()


def _named(part: Part, line: Marked) -> set[str]:
    return {tree for n in range(*part) if line.words[n][0] == "@" for tree in line.trees[int(line.words[n][1:])].trees}


def _doubted(part: Part, line: Marked) -> bool:
    """Whether words beside a deed doubt it, or may tell its time, its share or its trees in a way nobody reads."""
    words = line.words[slice(*part)]
    doubts = (ours().words(*NEVER_SURE) - HARMLESS) | PARTS | ANOTHERS | DATES | USED_TO
    apart = is_of_another(line, *part) or is_of_other_years(words) or words[0] in HANGING
    numbered = any(word.isdigit() and len(word) > 1 for word in words)
    several_times = sum(word[0] == "#" for word in words) > 1
    return apart or numbered or several_times or not doubts.isdisjoint(words)


def _all_of(ask: OpenAsk, line: Marked, part: Part) -> tuple[str, ...]:
    """All that a nudge asks for, where no tree is named: there is one, or words name more than one."""
    if line.trees_named:
        return ()
    return ask.trees if len(ask.trees) == 1 or not ALL_OF_THEM.isdisjoint(line.words[slice(*part)]) else ()
