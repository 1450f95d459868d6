"""A reply cut into pieces that say one thing each: at stops, at joining words, and where the next deed begins."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from bot.replies import covering
from bot.replies.cues.spotting import Span, Spotter

STOPS: Final = covering.STOPS | {"?"}
TURNS: Final = frozenset((
    "but", "then", "so", "though", "although", "while", "whilst", "whereas", "which", "because", "cos", "cuz", "plus",
))  # fmt: skip
SPEAKERS: Final = frozenset((
    "i", "i'm", "im", "i've", "ive", "i'll", "i'd", "we", "we've", "we're", "we'll", "she", "he", "they", "it's", "it",
    "there's", "theres", "that's", "thats", "there", "she's", "he's", "they're", "theyre",
))  # fmt: skip
LEADING: Final = frozenset((  # behind one of these a speaker begins no piece of his own
    "when", "if", "once", "before", "after", "because", "cos", "as", "that", "which", "what", "where", "until", "till",
    "why", "how", "who", "while", "since", "do", "did", "can", "should", "shall", "could", "may", "must", "will", "am",
    "are", "is", "was", "were", "have", "has", "does", "would", "unless", "think", "thought", "hope", "reckon", "guess",
    "sure", "to", "on", "of", "for", "with", "in", "at", "by", "did", "done", "shut", "close", "closed", "opened",
    "wrapped", "put", "got", "took", "moved", "brought", "and", "or", "not", "out", "around", "inside", "under", "over",
    "just", "been", "though", "than", "like", "from", "said", "says", "either", "all", "both", "now", "then", "so",
    "leave", "leaving", "left", "kept", "keeping",
))  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Piece:
    """Words `start` to `end` of a reply, the word or sign before them, and whether a question mark follows."""

    start: int
    end: int
    joined_by: str = ""
    is_asked: bool = False


def pieces(spotter: Spotter) -> list[Piece]:
    """The pieces of a reply, in their order."""
    cut = [_without_and(one, spotter.words) for one in _cut(spotter)]
    found = _merged([one for one in cut if one.end > one.start], spotter)
    return [part for one in found for part in _deed_by_deed(one, spotter)]


def _without_and(one: Piece, words: Sequence[str]) -> Piece:
    led = one.end > one.start and words[one.start] == "and"
    return replace(one, start=one.start + 1) if led else one


def _cut(spotter: Spotter) -> list[Piece]:
    words, found, start, joined_by = spotter.words, [], 0, ""
    for n, word in enumerate(words):
        if word in STOPS:
            topic = word == "?" and _is_topic(words[start:n])  # "bench? already closed"
            found.append(Piece(start=start, end=n, joined_by=joined_by, is_asked=_asked(words, n) and not topic))
            start, joined_by = n + 1, ":" if topic else word
        elif n > start and (_leaves(words, n) or _turns(words, start, n)):
            found.append(Piece(start=start, end=n, joined_by=joined_by))
            start, joined_by = n + (word == "and"), word
        elif n > start and word == "if" and words[n + 1 : n + 2] in (["you"], ["you're"]):
            found.append(Piece(start=start, end=n, joined_by=joined_by))
            start, joined_by = n, "."  # "if you're asking about porch … if you're asking about wall …"
        elif n > start and word == "not" and _contrasts(words, start, n):
            found.append(Piece(start=start, end=n, joined_by=joined_by))
            start, joined_by = n, "but"
        elif n > start and (at := _new_subject(words, start, n)) > start:
            found.append(Piece(start=start, end=at, joined_by=joined_by))
            start, joined_by = at, ""
    return [*found, Piece(start=start, end=len(words), joined_by=joined_by)]


def _is_topic(words: Sequence[str]) -> bool:
    return words[-1:] != [] and words[-1][0] == "@" and all(word in ("the", "and", "my") for word in words[:-1])


def _new_subject(words: Sequence[str], start: int, at: int) -> int:
    """Where what is said of something else begins before word `at`; the start where nothing does.

    "… the wall I didn't get to", "… kaki is next": a tree put first begins with its article.
    """
    word, before = words[at], words[at - 1]
    speaks = word in SPEAKERS and before not in LEADING and before[0] not in "&#"
    speaks &= word not in ("it", "there") or words[at + 1 : at + 2] == [] or words[at + 1] in ACTS
    tree = at - 1 - (before in ("one", "fig"))
    named = tree >= start and words[tree][0] == "@"
    if not named or not (speaks or word in OF_A_TREE):
        return at if speaks else start
    tree -= tree > start and words[tree - 1] in ("the", "my", "our")
    led = words[tree - 1] if tree > start else ""
    if led == "and" and speaks and _lacks_object(words, at):
        return tree - 1
    listed = (
        (led in LEADING and not (led == "and" and "is" in words[start:tree]))
        or led in (",", "&", "also", "plus", "well")
        or not any(one[0] in "@#" for one in words[start:tree])
    )
    return (at if speaks and tree > start else start) if listed else tree


def _lacks_object(words: Sequence[str], at: int) -> bool:
    """ "Closed kaki and the wall i do tomorrow": what he does is of the tree before him."""
    verb = at if words[at] in ("i'll", "we'll") else at + 1
    behind = words[verb + 1 : verb + 2]
    return (
        words[verb : verb + 1] != []
        and words[verb] in OF_WHAT
        and (not behind or behind[0][0] in "#.,;!" or behind[0] in IDLE)
    )


OF_WHAT: Final = frozenset((
    "do", "did", "didn't", "couldn't", "can't", "won't", "will", "haven't", "left", "leave", "forgot", "skipped",
    "i'll", "we'll",
))  # fmt: skip
IDLE: Final = frozenset(("do", "get", "later", "after", "when", "once", "for", "at", "on", "by", "not", "then", "as"))
ACTS: Final = frozenset((
    "is", "was", "has", "had", "looks", "looked", "feels", "felt", "did", "didn't", "does", "doesn't", "got", "took",
    "will", "won't", "would", "needs", "can", "can't", "isn't", "wasn't", "went", "came", "fell", "blew", "says",
    "said", "reads", "read", "'s", "should", "might", "are", "were", "seems", "keeps", "still", "just", "all", "be",
))  # fmt: skip
OF_A_TREE: Final = frozenset(("is", "was", "can", "has", "needs", "will", "gets", "stays", "still", "won't", "not"))


def runs_on(piece: Piece, words: Sequence[str]) -> bool:
    """Whether the next deed follows with nothing between."""
    after = words[piece.end : piece.end + 1]
    return bool(after) and after[0] not in STOPS | TURNS | SPEAKERS | {"and"}


def _asked(words: Sequence[str], at: int) -> bool:
    return words[at] == "?" or words[at : at + 2] == ["!", "?"]


def _goes_on(words: Sequence[str], at: int) -> bool:
    """Whether behind "and" the list of trees goes on."""
    behind = [
        word for word in words[at : at + 3] if word not in ("the", "my", "also", "then", "a", "our", "now", "that")
    ]
    return bool(behind) and (behind[0][0] in "@%~" or behind[0].isdigit() or behind[0] in ("rest", "others", "other"))


def _turns(words: Sequence[str], start: int, at: int) -> bool:
    """Whether a joining word begins something else, and goes not on with a list of trees."""
    lists = _goes_on(words, at + 1) and _has_list(words[start:at])
    return words[at] in TURNS | {"and"} and not lists and not _excepts(words, start, at)


def _excepts(words: Sequence[str], start: int, at: int) -> bool:
    """ "Opened everything but the pom, whose lid is frozen": behind "but" stand trees and no more before the stop."""
    end = next((n for n in range(at, len(words)) if words[n] in STOPS), len(words))
    trees = [word for word in words[at + 1 : end] if word not in ("the", "my", "our", "for", "and", "fig", "one", "&")]
    of_all = not ALL_OF_THEM.isdisjoint(words[start:at])
    return words[at] == "but" and of_all and bool(trees) and all(word[0] == "@" for word in trees)


def _has_list(words: Sequence[str]) -> bool:
    """Whether words may be the beginning of a list: "while the kettle boiled" is not."""
    return any(word[0] in "@%~" or word.isdigit() or word in SAID_OF for word in words) or len(words) < 2


ALL_OF_THEM: Final = frozenset(("all", "everything", "both", "them", "em", "every", "rest", "others"))
SAID_OF: Final = frozenset(("those", "them", "both", "these"))


def _contrasts(words: Sequence[str], start: int, at: int) -> bool:
    """ "Closed porch not wall": told of one tree, denied of another."""
    behind = [word for word in words[at + 1 : at + 4] if word not in ("the", "my", "our", "yet")]
    return any(word[0] == "@" for word in words[start:at]) and behind[:1] != [] and behind[0][0] == "@"


def _leaves(words: Sequence[str], at: int) -> bool:
    """Whether a tree is said to be left as it is."""
    left = words[at] in ("left", "leaving", "kept", "keeping")
    return (
        left
        and words[at - 1] not in ("and", "i", "we", "have", "i've")
        and any(w[0] == "@" for w in words[at + 1 : at + 3])
    )


def _merged(found: Sequence[Piece], spotter: Spotter) -> list[Piece]:
    """Lists of trees as one piece with what is said of them: "closed porch, wall and kaki"."""
    kept: list[Piece] = []
    for n, one in enumerate(found):
        before = kept[-1] if kept else None
        if before is not None and _continues(before, one, found[n + 1 : n + 2], spotter):
            kept[-1] = replace(before, end=one.end, is_asked=one.is_asked)
        else:
            kept.append(one)
    return kept


def _continues(before: Piece, one: Piece, after: Sequence[Piece], spotter: Spotter) -> bool:
    if one.joined_by not in (",", "and", ":", "-", ""):
        return False
    if _is_list(before, spotter):
        return _is_list(one, spotter) or spotter.words[one.start][0] == "@" or spotter.deeds(one.start, one.end) != []
    last = spotter.words[before.end - 1]
    ahead = (
        bool(after) and after[0].joined_by in (",", "") and _is_list(one, spotter) and not _is_list(after[0], spotter)
    )
    return _is_list(one, spotter) and (last[0] == "@" or last in ("fig", "one", "figs")) and not ahead


def _is_list(one: Piece, spotter: Spotter) -> bool:
    """Whether it is trees and nothing else."""
    words = spotter.words[one.start : one.end]
    small = ("the", "my", "our", "and", "also", "too", "fig", "one", ",", "both", "all", "figs", "as", "well", "n")
    return any(word[0] == "@" for word in words) and all(word[0] == "@" or word in small for word in words)


def _deed_by_deed(one: Piece, spotter: Spotter) -> list[Piece]:
    """ "Porch shut wall open": a piece for each deed with the trees it is said of."""
    marks = [(n, n + 1, "tree") for n in range(one.start, one.end) if spotter.words[n][0] == "@"]
    order = sorted([*marks, *_told_once(spotter.states(one.start, one.end), [start for start, _, _ in marks])])
    kinds = [kind for _, _, kind in order]
    if "deed" not in kinds or (kinds.count("deed") < 2 and (kinds[0] == "deed" or kinds[-1] == "deed")):
        return [one]
    leads = order[0][2]
    edges = [one.start]
    for (_, ended, before), (at, _, kind) in pairwise(order):
        if kind == before == "deed":
            edges.append(_back_over_when(at, ended, spotter))
        elif kind == leads == "deed":
            edges.append(_back_over(at, spotter))
        elif kind == leads and before != leads:
            edges.append(ended)
    edges.append(one.end)
    parts = [Piece(start=a, end=b) for a, b in pairwise(edges) if b > a]
    parts[0] = replace(parts[0], joined_by=one.joined_by)
    return [*parts[:-1], replace(parts[-1], is_asked=one.is_asked)]


def _told_once(states: Sequence[Span], trees: Sequence[int]) -> list[tuple[int, int, str]]:
    """The deeds, without one that is said again: "closed closed kaki", "cracked the porch lid open"."""
    again = {one[0] for one, after in pairwise(states) if one[1] == after[0] and _said(one) == _said(after)}
    last = states[-2:]
    ends = len(last) == 2 and _said(last[0]) == _said(last[1]) and not any(n >= last[1][1] for n in trees)
    again |= {last[1][0]} if ends and any(last[0][1] <= n < last[1][0] for n in trees) else set()
    return [(start, end, "deed") for start, end, _ in states if start not in again]


def _said(one: Span) -> str:
    return one[2][0].name if one[2] else ""


def _back_over(at: int, spotter: Spotter) -> int:
    """The small words before a deed are its own."""
    while at > 0 and spotter.words[at - 1] in SMALL:
        at -= 1
    return at


def _back_over_when(at: int, ended: int, spotter: Spotter) -> int:
    """ "Opened at noon and at 5 closed": the time before the second deed is its own where the first has one."""
    times = [n for n in range(ended, at) if spotter.words[n][0] == "#"]
    back = times[-1] if len(times) > 1 else at
    return _back_over(back, spotter)


SMALL: Final = frozenset((
    "the", "my", "and", "i", "we", "then", "also", "now", "put", "have", "not", "n't", "still", "just", "is", "are",
    "'s", "at", "again",
))  # fmt: skip
