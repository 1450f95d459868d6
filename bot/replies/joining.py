"""Clauses that complete each other: a time or a tree that stands apart, a promise of what was left out."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from bot.replies.clause import Clause
from bot.replies.grammar import grammar

READINGS: Final = frozenset(("reading", "number", "numbers"))


def joined(clauses: Sequence[Clause]) -> list[Clause]:
    """The clauses with the times and trees that stand apart behind them."""
    return _of_tree_alone(_at_times_aside(_without_apposed(_numbers_in_a_row(clauses))))


def _without_apposed(clauses: Sequence[Clause]) -> list[Clause]:
    """ "Wrapped the figs, all three, yesterday": how many there are tells nothing more; the time is of the deed."""
    kept: list[Clause] = []
    for clause in clauses:
        if kept and _is_apposed(clause, kept[-1]):
            kept[-1] = replace(kept[-1], end=clause.end)
        else:
            kept.append(clause)
    return kept


def _is_apposed(clause: Clause, before: Clause) -> bool:
    counts = clause.group in ("all", "both") and not (clause.named or clause.numbers or clause.excepted)
    moment = clause.moment
    was = moment is None or moment.is_today or bool((moment.past or moment.told) and before.moment is None)
    return counts and was and clause.tells in ("bare", "later") and before.tells == "did" and before.has_targets


def _numbers_in_a_row(clauses: Sequence[Clause]) -> list[Clause]:
    """ "Porch 28 wall 26": numbers of several trees, each named, are what a thermometer shows."""
    several = sum(one.tells == "number" and bool(one.named) for one in clauses) > 1
    return [replace(one, tells="numbers") if several and one.tells == "number" else one for one in clauses]


def of_those_before(clauses: list[Clause]) -> list[Clause]:
    """The clauses with what they leave unsaid taken from the one before."""
    for n, (one, before) in enumerate(zip(clauses[1:], clauses, strict=False), start=1):
        if one.tells in READINGS and before.tells in READINGS and one.moment is None:
            clauses[n] = replace(one, told_at=clauses[n - 1].moment)  # "readings at 6: porch -3, wall -4"
        if _was_then(one, before):
            clauses[n] = replace(one, told_at=before.moment)  # "moved the pot in at 6, it was -3 outside"
    told: list[Clause] = []
    for clause in clauses:
        last = told[-1] if told else None
        if last is not None and clause.tells == "cannot" and not clause.has_targets and _has_reason(last):
            continue  # "film tomorrow, too windy": why, and of no other tree
        told.append(_told_too(_of_left_out(clause, last), last))
    return told


def _was_then(reading: Clause, deed: Clause) -> bool:
    """Whether what a thermometer showed is of the hour of the deed before it, as no low of a night is."""
    of_deed = deed.tells in ("did", "moved") and deed.moment is not None and not deed.moment.is_today
    return (
        of_deed
        and reading.tells in READINGS
        and reading.moment is None
        and "was" in reading.words
        and (not reading.has("low"))
    )


def _at_times_aside(clauses: Sequence[Clause]) -> list[Clause]:
    """ "Later, about 6": a time that stands apart is of the clause beside it that has none."""
    kept = list(clauses)
    for n, aside in enumerate(clauses):
        if not _is_time_alone(aside):
            continue
        if n and kept[n - 1].moment is not None and kept[n - 1].moment == aside.moment:
            kept[n] = replace(aside, tells="aside")  # "this afternoon, about 4" is one time
        elif n and _lacks_time(kept[n - 1]):
            kept[n - 1], kept[n] = replace(kept[n - 1], end=aside.end), replace(aside, tells="aside")
        elif n + 1 < len(kept) and _lacks_time(kept[n + 1]):
            kept[n + 1], kept[n] = replace(kept[n + 1], start=aside.start), replace(aside, tells="aside")
    return kept


def _is_time_alone(clause: Clause) -> bool:
    """A time and nothing else, that may lie behind: "at 4"."""
    moment, others = clause.moment, [word for word in clause.words if word[0] != "#"]
    if moment is None or moment.is_today or not grammar().words("WHEN").issuperset(others):
        return False
    return clause.tells == "aside" or (clause.tells == "later" and bool(moment.past or moment.told))


def _lacks_time(clause: Clause) -> bool:
    return clause.tells in ("did", "later", "plan", "reading", "number") and clause.moment is None


def _of_tree_alone(clauses: Sequence[Clause]) -> list[Clause]:
    """ "Done, only porch": a deed of what was asked is of the tree that is named behind it, and of no other."""
    kept: list[Clause] = []
    for clause in clauses:
        before = kept[-1] if kept else None
        if before and before.tells in _OF_A_TREE and not before.has_targets and _names_trees(clause):
            kept[-1] = replace(
                before, named=clause.named, numbers=clause.numbers, group=clause.group, excepted=clause.excepted,
                excepted_numbers=clause.excepted_numbers,
            )  # fmt: skip
            continue
        if (
            before
            and before.tells == "did"
            and not before.has_targets
            and clause.tells == "not_done"
            and not clause.did
        ):
            kept[-1] = replace(before, excepted=clause.named)  # "wrapped. not wall"
        kept.append(clause)
    return kept


_OF_A_TREE: Final = frozenset(("did", "damage", "reading", "swelling", "dropped", "leafed", "yellow", "frozen_green"))


def _names_trees(clause: Clause) -> bool:
    return clause.tells == "bare" and bool(clause.named or clause.numbers) and clause.joined_by != "and"


def _has_reason(clause: Clause) -> bool:
    put_off = clause.tells in ("later", "plan", "not_done", "cannot", "did_or_later")
    return clause.tells == "half" or (clause.has_targets and put_off)


def _of_left_out(clause: Clause, before: Clause | None) -> Clause:
    """ "All closed except kaki, i'll do it tomorrow": the promise is of what was left out."""
    if before is None or not before.excepted or clause.tells not in ("plan", "later") or clause.named or clause.numbers:
        return clause
    return replace(clause, named=before.excepted, group=None)


def _told_too(clause: Clause, before: Clause | None) -> Clause:
    """ "Closed porch at 3 and wall at 4": a mere tree and a time that was are told as what stood before."""
    moment = clause.moment
    if before is None or before.did is None or clause.tells != "later" or clause.has("lt") or not clause.has_targets:
        return clause
    if moment is None or not (moment.past or moment.told):
        return clause
    first, then = (moments.past if moments else () for moments in (before.moment, moment))
    on_the_way = bool(first and then) and first[0] <= then[0]  # "kaki at 10, wall at 11"
    return replace(clause, tells="did" if on_the_way or clause.joined_by == "and" else "did_or_later", did=before.did)


def sharing(clause: Clause, after: Sequence[Clause]) -> Clause:
    """ "Wrapped and closed porch": the first deed has the trees of the second."""
    if clause.tells == "did" and not clause.has_targets and after and after[0].joined_by == "and":
        nearest = after[0]
        if (
            nearest.tells == "did"
            and nearest.start == clause.end + 1
            and nearest.has_targets
            and nearest.words[0][0] != "@"
        ):
            return replace(
                clause, named=nearest.named, numbers=nearest.numbers, group=nearest.group, excepted=nearest.excepted
            )
    return clause
