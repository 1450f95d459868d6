"""Which tree is wrong, which is meant and which is right, where several are named in what is put right."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from bot.replies.clause import clause_of
from bot.replies.covering import LEFT_OVER
from bot.replies.meanings.left_over import is_mere_talk
from bot.replies.nouns import Meaning
from bot.replies.talk.picking import STATES
from bot.replies.words.marking import Marked
from bot.replies.words.spelling import deed_forms

Meanings = tuple[Meaning, ...]
STOPS: Final = frozenset((".", ",", ";", "!", ":", "-", "but", "?"))
WROTE: Final = frozenset(("wrote", "said", "told", "typed", "called"))
WRONG: Final = frozenset((
    "not", "wrong", "ignore", "disregard", "forget", "bin", "scratch", "scrap", "strike", "never", "mistaken",
))  # fmt: skip
RIGHT: Final = frozenset(("right", "yes", "yep", "ok", "okay", "fine", "correct", "stands", "true"))
TURNS: Final = WRONG - {"not", "never"} | {
    *("sorry", "oops", "whoops", "meant", "mean", "mistake", "correction", "instead", "opposite", "contrary", "error"),
    *("confuse", "confused", "mix", "mixed", "muddled", "actually", "lied", "nah"),
    "belongs",
}
BEGINS: Final = frozenset(("no", "wait", "hang"))
SMALL: Final = TURNS | RIGHT | WROTE | BEGINS | {
    *("no", "i", "we", "it", "that", "was", "is", "not", "and", "the", "my", "one", "on", "ah", "oh", "hmm", "you"),
    *("bad", "make", "should", "be", "have", "been", "cage", "tree", "thermometer", "at", "about", "like", "more"),
    *("they", "them", "were", "of", "those", "these", "this", "too", "also", "only", "just", "that's", "it's", "to"),
}  # fmt: skip
BARE: Final = {"bare", "naked", "unwrapped", "undone", "untouched"}


@dataclass(frozen=True, kw_only=True)
class Parts:
    """The trees by their parts in what is put right; `is_sure` where no other words are said."""

    wrong: tuple[str, ...] = ()
    meant: tuple[str, ...] = ()
    right: tuple[str, ...] = ()
    is_sure: bool = True


def parts_of(line: Marked, before: Sequence[str], last: Meanings) -> Parts | None:
    """The part of each tree that is named; None where a new deed is told, or one tree has two parts."""
    found: dict[str, str] = {}
    is_sure = True
    other = BARE | {word for word, verb in STATES.items() if verb not in (None, last[0].verb)}
    for start, end in pieces(line.words):
        words = line.words[start:end]
        marks = [n for n in range(start, end) if line.words[n][0] == "@"]
        own = {word for word, verb in STATES.items() if verb is last[0].verb}
        plain = all(word in SMALL | own | other or word[0] == "@" for word in words)
        if not marks:
            talk = clause_of(LEFT_OVER, (), line, start, end, "")
            is_sure &= plain or is_mere_talk(talk, line)
            if {"still", "stayed", "stays"} & set(words) and other & set(words) and found:
                found[list(found)[-1]] = "wrong"  # "wall I only looked at, it's still open"
            continue
        is_sure &= plain
        denied = [n for n in marks if _is_listed_behind_not(n, line.words)]
        again = denied if len(denied) > 1 else []
        for n in marks:
            part = "wrong" if n in denied else _part(n, (start, end), line, other)
            trees = line.tree_of(line.words[n]).trees
            if len(trees) > 1 and line.words[n - 1 : n] == ["wrong"]:
                continue  # "wrong fig. it was wall"
            if len(trees) != 1 or part is None:
                return None
            if part == "mixed":
                part = "wrong" if trees[0] in before else "meant"
            if part == "meant" and trees[0] in before:
                part = "right"
            if part == "wrong" and n in again and found.get(trees[0]) == "right":
                continue  # "it was wall and porch, not wall and bench"
            if found.setdefault(trees[0], part) != part and {found[trees[0]], part} != {"wrong", "right"}:
                return None
            found[trees[0]] = "wrong" if "wrong" in (found[trees[0]], part) else part
    if not {tree for tree, part in found.items() if part == "wrong"} <= set(before):
        return None
    of = {name: tuple(tree for tree, part in found.items() if part == name) for name in ("wrong", "meant", "right")}
    return Parts(wrong=of["wrong"], meant=of["meant"], right=of["right"], is_sure=is_sure)


def _is_listed_behind_not(at: int, words: Sequence[str]) -> bool:
    """ "Not wall and bench": both."""
    while at > 0 and (words[at - 1][0] == "@" or words[at - 1] in ("and", "the")):
        at -= 1
    return words[max(0, at - 1)] == "not"


def _part(at: int, piece: tuple[int, int], line: Marked, other: set[str]) -> str | None:
    """What one tree is in what is put right."""
    words = line.words[piece[0] : piece[1]]
    prev = line.words[max(piece[0], at - 3) : at]
    several = sum(word[0] == "@" for word in words) > 1
    if "not" in prev[-2:]:
        return "wrong"
    told = set(words)
    if "belongs" in told:
        return "wrong" if "belongs" in line.words[at : piece[1]] else "meant"
    if several and told & {"confuse", "confused", "mix", "mixed"}:
        return "mixed"
    if several and "not" in told:
        return "meant"
    if told & {"meant", "mean", "instead"} or {"it", "was"} <= told or {"that", "was"} <= told:
        return "meant"
    denies = told & WRONG or any(word.endswith("n't") for word in words)
    if denies or (told & WROTE and not told & RIGHT):
        return "wrong"
    if told & other:
        return "wrong" if "still" in told or not deed_forms() & set(line.words[piece[0] : at]) else None
    if told & RIGHT:
        return "right"
    return "meant" if deed_forms().isdisjoint(told) or "only" in told else None  # else a new deed


def pieces(words: Sequence[str]) -> Iterator[tuple[int, int]]:
    start = 0
    for n, word in enumerate([*words, "."]):
        if word in STOPS:
            if n > start:
                yield start, n
            start = n + 1
