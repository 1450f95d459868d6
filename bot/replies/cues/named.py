"""Which trees and times a piece names."""

from collections.abc import Sequence
from typing import Final

from bot.replies.cues.pieces import Piece
from bot.replies.cues.spotting import Spotter
from bot.replies.grammar.recogniser import Kept
from bot.replies.words.times import Moment


def moments_of(piece: Piece, spotter: Spotter) -> list[Moment]:
    """The times that a piece names."""
    return [spotter.marked.moment_of(w) for w in spotter.words[piece.start : piece.end] if w[0] == "#"]


def groups_end(piece: Piece, spotter: Spotter) -> list[int]:
    """Where words for several trees end, where none is named; behind whoever they are said of, "shut both kids in"."""
    if trees_of(piece, spotter):
        return []
    ends = [end for name in ("GROUPED", "THOSE") for _, end, _ in spotter.spans(name, piece.start, piece.end)]
    people = {start: end for start, end, _ in spotter.spans("WHO_DID", piece.start, piece.end)}
    return [people.get(end, end - 1) + 1 for end in ends]


def trees_kept(piece: Piece, spotter: Spotter) -> list[Kept]:
    """The trees named, those left out, and words for several of them."""
    kept = [Kept("tree", n, n + 1) for n in trees_of(piece, spotter)]
    but = [one for span in spotter.spans("EXCEPT", piece.start, piece.end) for one in span[2] if one.name == "but"]
    groups = [one for span in spotter.spans("GROUPED", piece.start, piece.end) for one in span[2][:1]]
    return [*kept, *but, *groups]


def trees_of(piece: Piece, spotter: Spotter) -> list[int]:
    """Where a piece names trees."""
    return [n for n in spotter.trees if piece.start <= n < piece.end]


def names_of(piece: Piece, spotter: Spotter) -> set[str]:
    """The trees that a piece names."""
    marked = spotter.marked
    return {tree for n in trees_of(piece, spotter) for tree in marked.tree_of(marked.words[n]).trees}


def is_bare_place(piece: Piece, spotter: Spotter) -> bool:
    """Whether a tree is named by a place alone, "the wall", and nothing says that a tree is meant."""
    by_place = spotter.marked.named_in_part(names_of(piece, spotter))
    words = spotter.words
    one = any(words[n + 1 : n + 2] == ["one"] for n in trees_of(piece, spotter))  # "the bench one"
    return bool(by_place) and not (one or spotter.has(piece.start, piece.end, "TREEISH", "COVERS", "FILL", "LIDS"))


def first_list(marks: Sequence[int], words: Sequence[str]) -> list[int]:
    """The trees of the first list: "kaki lid gone with the wind pom still good" is of the kaki."""
    kept = list(marks[:1])
    for at in marks[1:]:
        if set(words[kept[-1] + 1 : at]) - LISTING:
            break
        kept.append(at)
    return kept


LISTING: Final = frozenset((",", "and", "the", "fig", "my", "also", "&", "plus", "one", "both"))


def times_kept(words: Sequence[str], piece: Piece) -> list[Kept]:
    """The times named."""
    return [Kept("when", n, n + 1) for n in range(piece.start, piece.end) if words[n][0] == "#"]
