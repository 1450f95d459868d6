"""Pieces that complete each other: trees, times and deeds that stand apart from what is told of them."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import combinations, pairwise
from typing import Final

from bot.replies.clause import DONE, Clause
from bot.replies.cues.deeds import BECAUSE, UNSURE
from bot.replies.cues.spotting import Spotter
from bot.replies.cues.told import ASK, TALK
from bot.replies.meanings.targets import MOST_CHOICES, verbs_meant
from bot.replies.nouns import Context
from bot.replies.words.names import Named
from bot.replies.words.times import Moment


def completed(clauses: list[Clause]) -> list[Clause]:
    """The clauses with the trees, times and deeds that stand apart from them."""
    kept: list[Clause] = []
    for n, one in enumerate(_clefts(clauses)):
        before = next((c for c in reversed(kept) if c.tells != TALK), None)
        if before is not None and before.tells in ("did", ASK) and _only_some(one, before):
            kept[kept.index(before)] = replace(before, named=one.named)
        elif one.tells == "bare" and one.group and not one.named:
            if before is not None and before.tells in ("did", ASK) and not before.named:
                kept[kept.index(before)] = replace(before, group=one.group)  # "shut them, all three"
        elif (
            one.tells == "bare" and before is not None and before.tells not in ("bare", "did", ASK) and not before.named
        ):
            kept[kept.index(before)] = replace(before, named=one.named)
        elif one.tells == "bare" and n + 1 < len(clauses) and not clauses[n + 1].named and clauses[n + 1].tells != TALK:
            clauses[n + 1] = replace(clauses[n + 1], named=one.named)
        elif (
            before is not None
            and not _comes_later(one, clauses[n - 1])
            and _goes_on(one, before, clauses[n + 1 : n + 2])
        ):
            if before.moment is None and "and" in (*one.words, one.joined_by) and _lies_behind(one):
                kept[kept.index(before)] = replace(before, told_at=one.moment)  # "opened porch, wall and bench at 11"
            kept.append(replace(_same_deed(one, before), told_at=before.moment if "after" in one.words else None))
        elif (
            is_time_alone(one)
            and before is not None
            and before.tells in ("did", ASK, "moved", "reading")
            and (
                not before.moment
                or before.moment.is_today
                or (before.tells != "reading" and is_about_then(one, before))
            )
        ):
            kept[kept.index(before)] = replace(before, told_at=_near(one.moment, before.moment))
        elif before is not None and before.tells == one.tells == "did" and one.did == DONE and not one.named:
            near = before.moment is None or before.moment.is_today
            kept[kept.index(before)] = replace(before, told_at=one.moment if near else before.told_at)
        else:
            kept.append(_spoken_before(one, kept))
    return kept


def _comes_later(one: Clause, before: Clause) -> bool:
    """ "… taking a hot drink then the kaki": more lies between it and what is done."""
    return list(one.words[:1]) == ["then"] and before.tells == TALK


def _clefts(clauses: list[Clause]) -> list[Clause]:
    """ "It was porch and bench I closed" is of those; what was told of that deed before falls away."""
    for n, (before, one) in enumerate(pairwise(clauses), start=1):
        cleft = (
            before.tells == TALK
            and list(before.words[:2]) == ["it", "was"]
            and before.named
            and before.end == one.start
        )
        if cleft and one.tells in ("did", ASK) and not one.has_targets:
            clauses[n] = replace(one, tells=ASK, named=before.named)
            clauses[: n - 1] = [replace(c, tells=TALK) if c.did == one.did else c for c in clauses[: n - 1]]
    return clauses


def _only_some(one: Clause, before: Clause) -> bool:
    """ "Opened the figs, or rather only porch and wall": of those told of, these and no others."""
    words = {word for word in one.words if word[0] not in "@,"}
    some = bool(one.named) and set(one.trees_named) < set(before.trees_named)
    return some and bool(words & {"only", "just", "rather"}) and words <= _ONLY_SOME


_ONLY_SOME: Final = frozenset(("or", "rather", "only", "just", "well", "and", "the", "no", "i", "mean", "actually"))


def _goes_on(one: Clause, before: Clause, after: Sequence[Clause]) -> bool:
    """Whether trees alone are told of as the deed before them: not "closed pom, wall one i couldn't find the lid"."""
    joins = one.joined_by in (",", "and") or one.words[:1] == ["then"]
    listed = one.tells == "bare" and joins and before.tells == "did"
    return listed and not (after and after[0].start == one.end and not after[0].joined_by)


def _spoken_before(one: Clause, clauses: Sequence[Clause]) -> Clause:
    """What is told of the trees that the words before it speak of: "the kaki straw reeks, it's all fuzz"."""
    if one.tells == "cannot" and not (one.has_targets or one.joined_by) and clauses:
        return replace(one, named=clauses[-1].named)  # "I'm opening kaki it's stuck I can't shift it"
    if one.tells not in (*_FOUND, "did", ASK) or one.has_targets:
        return one
    if one.did == "wrapped" and not one.group and any(c.did == "stripped" for c in clauses):
        return replace(one, tells=TALK)  # "stripped porch, straw bagged"
    if one.joined_by == ":" and clauses and clauses[-1].tells == TALK and clauses[-1].words[0][0] != "@":
        return replace(one, tells=TALK)  # "fridge: open"
    if one.tells in _FOUND and one.joined_by in _REASONS and clauses and len(clauses[-1].trees_named) == 1:
        return replace(one, named=clauses[-1].named)  # "bench I left shut cos the straw is wet"
    if one.tells in ("did", ASK) and one.group is None and _speaks_of_one(one):
        last = [word for word in one.marked.words[: one.start] if word[0] == "@"]
        return replace(one, named=(one.marked.tree_of(last[-1]),)) if last else one
    if one.tells in _FOUND and any(c.tells == TALK and NOT_AIR & set(c.words) for c in clauses):
        return one  # "the soil reads 8; this morning 6"
    marks = dict.fromkeys(word for c in clauses if c.tells == TALK for word in c.words if word[0] == "@")
    if any(c.named for c in clauses if c.tells != TALK):
        return one
    named = tuple(one.marked.tree_of(mark) for mark in marks)
    if one.tells in _FOUND:
        return replace(one, named=named) if len(named) == 1 and (one.joined_by != "." or "there" in one.words) else one
    return replace(one, named=named, tells=ASK) if named else one


def _speaks_of_one(one: Clause) -> bool:
    """ "… I'm leaving that one open": of the tree named last, not of all that were spoken of."""
    return any(a in ("that", "this") and b == "one" for a, b in pairwise(one.words))


NOT_AIR: Final = frozenset(
    ("soil", "ground", "compost", "water", "oven", "fridge", "freezer", "room")
)  # no tree's cold
_REASONS: Final = BECAUSE | {"since", "as"}
_FOUND: Final = ("reading", "damage", "damage?", "swelling", "leafed", "dropped", "yellow", "frozen_green")


def _same_deed(one: Clause, before: Clause) -> Clause:
    """ "Undressed kaki at 10, pomegranate at 11": the deed goes on; at a time to come it is put off."""
    moment = one.moment
    if moment is not None and not (moment.past or moment.told or moment.is_today):
        return replace(one, tells="later")
    return replace(one, tells="did", did=before.did, kept=(*before.kept[:1], *one.kept))


def _lies_behind(one: Clause) -> bool:
    return one.moment is not None and bool(one.moment.past or one.moment.told)


def counted(clauses: list[Clause], spotter: Spotter, context: Context) -> list[Clause]:
    """ "Closed two of them": of the trees asked about each two, or the two of which nothing else is said."""
    return [_of_some(one, clauses, spotter, context) if one.tells == ASK and not one.named else one for one in clauses]


def _of_some(one: Clause, clauses: Sequence[Clause], spotter: Spotter, context: Context) -> Clause:
    spans = spotter.spans("SOME_OF", one.start, one.end)
    many = next((n for start, _, _ in spans if (n := COUNTS.get(one.marked.words[start], 0))), 0)
    asks = [ask for ask in context.asks if one.did and ask.verb in verbs_meant(one.did)]
    other = {tree for clause in clauses if clause is not one for tree in clause.trees_named}
    left = [tree for ask in asks[:1] for tree in ask.trees if tree not in other]
    if not many or not asks or many >= len(asks[0].trees) or many > len(left):
        return one
    ways = tuple(tuple(Named(trees=(tree,)) for tree in way) for way in combinations(left, many))[:MOST_CHOICES]
    doubts = [span for cue in UNSURE for span in spotter.spans(cue, one.start, one.end)]
    if len(ways) == 1 and all(spotter.is_covered(span, spans) for span in doubts):
        return replace(one, tells="did", named=ways[0], group=None)
    return replace(one, ways=ways)


COUNTS: Final = {"one": 1, "1": 1, "two": 2, "2": 2, "couple": 2, "three": 3, "3": 3, "four": 4, "4": 4}


def is_time_alone(one: Clause) -> bool:
    """Whether it is a time of another hour and small words, no more."""
    others = {word for word in one.words if word[0] != "#"}
    return one.tells == TALK and one.moment is not None and not one.moment.is_today and others <= _AT


def is_about_then(one: Clause, before: Clause) -> bool:
    """Whether a second time says more nearly what the first said: "last evening, 7ish"."""
    times = [moment.past or moment.told for moment in (one.moment, before.moment) if moment is not None]
    return len(times) == 2 and all(times) and min(abs(a - times[1][0]) for a in times[0]) <= A_PART_OF_DAY


def _near(moment: Moment | None, said: Moment | None) -> Moment | None:
    """Of the times of a moment those about the time that was said before."""
    if moment is None or said is None or said.is_today:
        return moment
    first = (said.past or said.told)[0]
    near = tuple(at for at in moment.past or moment.told if abs(at - first) <= A_PART_OF_DAY)
    return replace(moment, past=near, future=(), told=())


A_PART_OF_DAY: Final = timedelta(hours=3)  # no source
_AT: Final = frozenset((
    "went", "was", "that", "it", "is", "circa", "about", "around", "at", "like", "so", "then", "it's", "that's", "on",
    "in", "the", "by", "me", "us", "i", "this", "roughly", "since", "already", "of", "maybe", "must",
    "have", "been", "ish",
))  # fmt: skip


def last_absence(clauses: list[Clause]) -> list[Clause]:
    """ "Off for a week, leaving Friday, back the Friday after" is one absence: till the last of those days."""
    ends = {n: max(m.future[0] for m in _of(one) if m.future) for n, one in enumerate(clauses) if one.tells == "away"}
    last = max(ends, key=lambda n: ends[n], default=None)
    return [one for n, one in enumerate(clauses) if n not in ends or n == last]


def _of(one: Clause) -> list[Moment]:
    return [one.marked.moment_of(word) for word in one.words if word[0] == "#"]
