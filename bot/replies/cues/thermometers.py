"""What thermometers showed, told in one breath: each number with its tree, its side of the cover and its time."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import pairwise
from typing import Final

from bot.replies.clause import Clause, clause_of
from bot.replies.covering import JOINS, STOPS
from bot.replies.cues.spotting import Spotter
from bot.replies.cues.told import TALK
from bot.replies.grammar import ours
from bot.replies.grammar.recogniser import Kept
from bot.replies.words.marking import Marked
from bot.replies.words.names import Named
from bot.replies.words.spelling import deed_forms
from bot.replies.words.times import HALF_DAY, Moment

KNOWN: Final = ("R", "PLACE", "INSIDE_OF", "OUTSIDE", "SHOWN", "GROUPED", "COVERS", "JOINER", "LOOKED", "WITH_LID")
BARS: Final = ("FORECAST", "SUPPOSED", "DOUBTED", "OTHERS", "JOKED", "NOT_AIR", "CORRECTED", "OTHER_NIGHT", "DENIED")
SIDES: Final = ("INSIDE_OF", "OUTSIDE")


@dataclass(frozen=True, kw_only=True)
class Chunk:
    """Words between two stops, where its numbers stand, and the word before it."""

    start: int
    end: int
    numbers: tuple[int, ...]
    joined_by: str


@dataclass(frozen=True, kw_only=True)
class Shown:
    """One number with all that is said of it."""

    at: int
    trees: tuple[int, ...] = ()
    side: str = ""
    low: tuple[Kept, ...] = ()
    moment: Moment | None = None


def thermometers(marked: Marked) -> list[Clause]:
    """The readings of a reply that tells of nothing else, and the talk beside them; empty where it tells otherwise."""
    if "?" in marked.words or not _numbers(marked.words, 0, len(marked.words)):
        return []
    spotter = Spotter(marked)
    chunks = _chunks(spotter)
    ours_ = [one for one in chunks if _is_known(one, spotter)]
    if not any(one.numbers for one in ours_) or _is_barred(chunks, ours_, spotter):
        return []
    if not spotter.trees and sum(len(one.numbers) for one in ours_) < 2:
        return []  # of no tree it may be a fever
    shown = _inherited(_with_sides(ours_, spotter), ours_, spotter)
    if shown is None or len({(one.trees, one.side, one.moment) for one in shown}) < len(shown):
        return []
    talk = [clause_of(TALK, (), marked, one.start, one.end, ".") for one in chunks if one not in ours_]
    return sorted([*(_clause(one, shown, marked) for one in shown), *talk], key=lambda one: one.start)


def _chunks(spotter: Spotter) -> list[Chunk]:
    """Cut at stops, at joining words that are no part of "min and max", and before "when I did the school run"."""
    words, found, start, joined_by = spotter.words, [], 0, ""
    within = {n for a, b, _ in spotter.spans("THERM", 0, len(words)) for n in range(a, b)}
    for n in range(len(words) + 1):
        stops = n == len(words) or (words[n] in STOPS | JOINS and n not in within)
        begins = (
            not stops and words[n] in _WHEN and words[n + 1 : n + 2] != [] and words[n + 1] in ours().words("SUBJECT")
        )
        if (stops or begins) and n > start:
            found.append(Chunk(start=start, end=n, numbers=_numbers(words, start, n), joined_by=joined_by))
        if stops or begins:
            start, joined_by = (n, "when") if begins else (n + 1, words[n] if n < len(words) else "")
    return found


_WHEN: Final = frozenset(("when", "while", "as", "before", "after"))


def _numbers(words: Sequence[str], start: int, end: int) -> tuple[int, ...]:
    return tuple(n for n in range(start, end) if words[n][0] == "%" or words[n].isdigit())


def _is_known(chunk: Chunk, spotter: Spotter) -> bool:
    known = set(chunk.numbers) | {n for n in range(chunk.start, chunk.end) if spotter.words[n][0] in "@#"}
    known |= {n for cue in KNOWN for a, b, _ in spotter.spans(cue, chunk.start, chunk.end) for n in range(a, b)}
    told = chunk.numbers or any(spotter.words[n][0] in "@#" for n in range(chunk.start, chunk.end))
    told = told or spotter.has(chunk.start, chunk.end, *SIDES)
    return bool(told) and all(n in known for n in range(chunk.start, chunk.end))


def _is_barred(chunks: Sequence[Chunk], readings: Sequence[Chunk], spotter: Spotter) -> bool:
    """Whether a word forbids that what is read is noted, or something else may be told beside it."""
    if any(spotter.has(one.start, one.end, *BARS) for one in readings):
        return True
    return any(one not in readings and not _is_talk(one, spotter) for one in chunks)


def _is_talk(chunk: Chunk, spotter: Spotter) -> bool:
    """Whether words beside readings tell nothing of them: not "but is in the sun", nor "on the lawn"."""
    words = spotter.words[chunk.start : chunk.end]
    at = chunk.start, chunk.end
    unread = spotter.has(*at, "NOT_LOOKED") and not chunk.numbers
    harmless = spotter.has(*at, "NOT_DENYING")
    if unread and not any(word[0] in "%~" for word in words):
        return True  # "forgot to look at kaki"
    doubts = ours().words(
        "DOUBTS", "JOKES", "CORRECTS", "SUPPOSES", "PROMISES", "BEFALLS", *(() if harmless else ("DENIES",))
    )
    marks = any(word[0] in "%~" or word.isdigit() or word[0] == "@" for word in words)
    hangs = chunk.joined_by in ("but", "so") or words[0] in _HANGING or words[0] in ours().words("FINITE")
    return not (marks or hangs or doubts.intersection(words) or deed_forms().intersection(words)) and not spotter.has(
        *at, "NOT_AIR", "SUNLIT"
    )


_HANGING: Final = frozenset(
    ("in", "on", "at", "under", "by", "near", "inside", "outside", "below", "above", "or", "though", "although", "if")
)


def _with_sides(chunks: Sequence[Chunk], spotter: Spotter) -> list[Shown]:
    """The numbers of all chunks, each with the tree, the side and the time of its own chunk."""
    found: list[Shown] = []
    for chunk in chunks:
        trees = _each_of(chunk, [n for n in spotter.trees if chunk.start <= n < chunk.end])
        spans = _sides(chunk, spotter)
        sides = _each_of(chunk, [a for a, _ in spans])
        times = [n for n in range(chunk.start, chunk.end) if spotter.words[n][0] == "#"]
        whens = _each_of(chunk, times)
        lows = [Kept("low", a, b) for a, b, _ in spotter.spans("LOWW", chunk.start, chunk.end)][:1]
        for n, at in enumerate(chunk.numbers):
            when = sorted(whens[at] or times, key=lambda n: _moment(n, spotter).is_today)
            found.append(
                Shown(
                    at=at, trees=tuple(trees[at]), side=next((dict(spans)[a] for a in sides[at]), ""),
                    low=tuple(lows) if n == 0 else (),
                    moment=_moment(when[0], spotter) if when else None,
                )
            )  # fmt: skip
    return found


def _sides(chunk: Chunk, spotter: Spotter) -> list[tuple[int, str]]:
    """Where it is said on which side of a cover a thermometer hung: "31 in" too."""
    spans = [(a, cue) for cue in SIDES for a, _, _ in spotter.spans(cue, chunk.start, chunk.end)]
    behind = [n + 1 for n in chunk.numbers if spotter.words[n + 1 : n + 2] == ["in"]]
    ends = [n for n in behind if n + 1 == chunk.end or spotter.words[n + 1][0] in "#%"]
    return sorted({*spans, *((n, "INSIDE_OF") for n in ends)})


def _moment(at: int, spotter: Spotter) -> Moment:
    return spotter.marked.moment_of(spotter.words[at])


def _each_of(chunk: Chunk, marks: Sequence[int]) -> dict[int, list[int]]:
    """Which marks are of which number: those before it where the first stands before the first, else those behind."""
    if len(chunk.numbers) < 2 or not marks:
        return {at: list(marks) for at in chunk.numbers}
    only_between = chunk.numbers[0] < marks[0] and marks[-1] < chunk.numbers[-1]
    leads = marks[0] < chunk.numbers[0] or (only_between and chunk.numbers[-1] == chunk.end - 1)
    edges = [chunk.start, *chunk.numbers] if leads else [*chunk.numbers, chunk.end]
    between = list(pairwise(edges))
    return {at: [n for n in marks if a <= n < b] for at, (a, b) in zip(chunk.numbers, between, strict=True)}


def _inherited(shown: list[Shown], chunks: Sequence[Chunk], spotter: Spotter) -> list[Shown] | None:
    """The numbers with what stands apart from them, before all or behind all; None where it is not certain whose it is.

    "18 outside, 29 inside the porch cage" is of one tree; "inside bench −1, wall −3" leaves open where the last was.
    """
    first, last = shown[0].at, shown[-1].at
    apart = [one for one in chunks if not one.numbers]
    if any(first < one.start < last for one in apart if any(one.start <= n < one.end for n in spotter.trees)):
        return None
    whole = [n for one in apart for n in spotter.trees if one.start <= n < one.end]
    of_all = tuple(whole) if len(whole) == 1 else ()
    if len(whole) > 1 or (whole and any(one.trees for one in shown)):
        return None
    sole = {spotter.words[one.trees[0]] for one in shown if one.trees} if not of_all else set()
    kept: list[Shown] = []
    for one in shown:
        trees = one.trees or of_all or (_sole(shown) if len(sole) == 1 else ())
        kept.append(replace(one, trees=trees))
    beside = {cue for one in apart for cue in SIDES if spotter.has(one.start, one.end, cue)}
    if beside:
        if len(beside) > 1 or any(one.side for one in kept):
            return None
        kept = [replace(one, side="".join(beside)) for one in kept]  # "porch 28, wall 26, all inside"
    inside = [one for one in kept if one.side == "INSIDE_OF"]
    bare = [one for one in kept if not one.side]
    if inside and any(all(one.trees != other.trees for other in inside) for one in bare):
        return None
    if any(len(one.trees) > 1 for one in kept):
        return None
    lows = [Kept("low", a, b) for one in apart for a, b, _ in spotter.spans("LOWW", one.start, one.end)][:1]
    nightly = [one.moment is not None and not one.moment.is_today for one in kept]
    kept = [
        replace(one, low=one.low or tuple(lows)) if night else one for one, night in zip(kept, nightly, strict=True)
    ]  # "lows inside wall: sat night 8, sun night 14"
    return _dated(_lows(kept), apart, spotter)


def _sole(shown: Sequence[Shown]) -> tuple[int, ...]:
    return next(one.trees for one in shown if one.trees)


def _lows(shown: list[Shown]) -> list[Shown]:
    """ "Low −3 wall, −4 kaki": both; not what stands there now, nor what the other side of the cover had."""
    kept = shown[:1]
    for one in shown[1:]:
        goes_on = kept[-1].low and one.side == kept[-1].side and not (one.moment and one.moment.is_today)
        kept.append(replace(one, low=one.low or kept[-1].low) if goes_on else one)
    return kept


def _dated(shown: list[Shown], apart: Sequence[Chunk], spotter: Spotter) -> list[Shown]:
    """A time said once is of all."""
    words = spotter.words
    set_apart = [_moment(n, spotter) for one in apart for n in range(one.start, one.end) if words[n][0] == "#"]
    said = [*{id(one.moment): one.moment for one in shown if one.moment}.values(), *set_apart]
    whole = said[0] if len(said) == 1 and not said[0].is_today else None
    if len(said) == len(set_apart) == 2:
        whole = _both(said[0], said[1])
    return [replace(one, moment=one.moment or whole) for one in shown]


def _both(first: Moment, second: Moment) -> Moment | None:
    """ "From this morning …, around 7": the second nearest to the first."""
    day = (first.past or first.told)[:1]
    either = [one - half for one in second.past for half in (timedelta(), HALF_DAY)]
    hours = sorted(either, key=lambda one: abs(one - day[0])) if day else ()
    return Moment(past=tuple(hours[:1])) if hours else None


def _clause(one: Shown, shown: Sequence[Shown], marked: Marked) -> Clause:
    named: tuple[Named, ...] = tuple(marked.tree_of(marked.words[n]) for n in one.trees)
    is_marked = marked.words[one.at][0] == "%"
    kept = [*one.low, Kept("temp" if is_marked else "num", one.at, one.at + 1)]
    kept += [Kept("inside" if one.side == "INSIDE_OF" else "therm", one.at, one.at + 1)] if one.side else []
    tells = "reading" if is_marked else "numbers" if len(shown) > 1 and named else "number"
    read = clause_of(tells, tuple(kept), marked, one.at, one.at + 1, ",")
    return replace(read, named=named, told_at=one.moment)
