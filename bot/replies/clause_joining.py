"""The parts of a reply that belong together put back together."""

from dataclasses import replace
from itertools import zip_longest

from bot.replies.clause import Clause
from bot.replies.words.times import Moment
from bot.replies.words.vocabulary import TROUBLES


def joined_clauses(clauses: list[Clause]) -> list[Clause]:
    """Clauses without a word of their own joined to the clause they belong to."""
    settled: list[Clause] = []
    waiting: list[Clause] = []
    for clause, after in zip_longest(clauses, clauses[1:]):
        if clause.has_word:
            for earlier in waiting:
                _absorb(clause, earlier)
            waiting = []
            _settle_deed(settled, clause)
        elif settled and _belongs_behind(settled[-1], clause) and not _is_put_off_with(settled[-1], clause, after):
            _absorb(settled[-1], clause)
        elif settled and clause.moment and _lies_ahead(clause.moment) and not clause.has_targets:
            settled.append(_answering(settled[-1], clause))
        elif clause.has_targets and clause.moment and not clause.moment.is_today:
            if clause.joined_by == "and":
                for earlier in waiting:
                    _absorb(clause, earlier)
                waiting = []
            settled += [*waiting, _carried_on(settled, clause)]
            waiting = []
        elif clause.has_targets or clause.moment:
            waiting.append(clause)
        elif clause.unknown:
            _take_unknown(settled or waiting, clause) if settled or waiting else waiting.append(clause)
    return settled + _together(waiting)


def _is_put_off_with(before: Clause, clause: Clause, after: Clause | None) -> bool:
    """Whether a tree behind a comma goes with the next one: "1 done, 2 and 3 tomorrow" tells nothing of 2."""
    if after is None or after.has_word or after.joined_by != "and" or not after.has_targets:
        return False
    listed = clause.has_targets and clause.moment is None and clause.joined_by == ","
    return listed and _lies_ahead(after.moment) and not _tells_of_then(before, after)


def _settle_deed(settled: list[Clause], clause: Clause) -> None:
    """Add a clause; "opened and closed the porch" is one tree twice, "closed (cap only)" the same deed said again."""
    before = settled[-1] if settled else None
    puts_off = clause.is_promise or clause.is_reminder or clause.is_later
    says_which = clause.has_targets and clause.group != "them"
    if before and before.did and puts_off and before.excepted and not says_which:
        clause.named = [one for one in before.excepted if one.trees]  # "all closed except kaki, i'll do it tomorrow"
        clause.numbers, clause.group = list(before.excepted_numbers), None
    if before and before.did and clause.did:
        if not before.has_targets and clause.has_targets and clause.joined_by in ("and", "then"):
            _take_targets(before, clause)
        if before.did == clause.did and not clause.has_targets and not clause.moment and clause.temperature is None:
            return
    settled.append(clause)


def _take_targets(before: Clause, clause: Clause) -> None:
    before.named, before.numbers, before.group = clause.named, clause.numbers, clause.group
    before.excepted, before.excepted_numbers = clause.excepted, clause.excepted_numbers


def _carried_on(settled: list[Clause], clause: Clause) -> Clause:
    """The deed of the clause before goes on, if the time may lie behind: "closed porch at 3, wall at 4"."""
    if not settled or settled[-1].did is None or settled[-1].refusal:
        return clause
    before = settled[-1]
    if not before.named and not before.numbers:  # "done, wall tomorrow": all that was asked but the wall
        before.excepted.extend(clause.named)
        before.excepted_numbers.extend(clause.numbers)
    if _lies_ahead(clause.moment):
        return clause
    told = before.moment is not None and bool(before.moment.past)
    return replace(clause, did=before.did, is_bare_verb=before.is_bare_verb, is_unsure=not told)


def _take_unknown(before: list[Clause], clause: Clause) -> None:
    before[-1].unknown.extend(clause.unknown)
    before[-1].is_stray |= clause.is_stray and (clause.joined_by == "and" or any(w in TROUBLES for w in clause.unknown))


def _answering(before: Clause, clause: Clause) -> Clause:
    """A time alone, after a refusal, is about the same trees."""
    if before.refusal is None:
        return clause
    return replace(clause, named=before.named, numbers=before.numbers, group=before.group)


def _lies_ahead(moment: Moment | None) -> bool:
    return moment is not None and not moment.is_today and (moment.is_deliberate or moment.is_tonight or not moment.past)


def _together(waiting: list[Clause]) -> list[Clause]:
    for later in waiting[1:]:
        _absorb(waiting[0], later)
    return waiting[:1]


def _belongs_behind(before: Clause, clause: Clause) -> bool:
    ahead = clause.moment is not None and _lies_ahead(clause.moment)
    if clause.moment and before.moment and not before.moment.is_today:
        return False
    if clause.has_targets and clause.moment:
        told = before.did is not None and (_tells_of_then(before, clause) or not ahead)
        return clause.joined_by == "and" and told  # "… and kaki on monday"
    if clause.moment:
        return not ahead or before.is_reminder or before.is_later or before.is_promise or before.is_unsure_done
    if clause.excepted or clause.excepted_numbers:
        return True
    if clause.has_targets and before.sight is not None:
        return True  # "leaves dropped on the kaki and the wall"
    return clause.has_targets and (not before.targets_before_verb or bool(before.excepted))


def _tells_of_then(before: Clause, clause: Clause) -> bool:
    """Whether a deed told before was done on the day named after it: "wrapped porch and kaki on monday"."""
    told = clause.moment is not None and bool(clause.moment.told)
    return before.did is not None and not before.is_bare_verb and told


def _absorb(into: Clause, part: Clause) -> None:
    excepting = bool(into.excepted) and not part.excepted
    (into.excepted if excepting else into.named).extend(part.named)
    (into.excepted_numbers if excepting else into.numbers).extend(part.numbers)
    into.excepted.extend(part.excepted)
    into.excepted_numbers.extend(part.excepted_numbers)
    into.group = into.group if into.group not in (None, "them") else part.group or into.group
    into.moment = into.moment or part.moment
    into.unknown.extend(part.unknown)
    into.is_inside, into.is_lowest = into.is_inside or part.is_inside, into.is_lowest or part.is_lowest
    into.is_until = into.is_until or part.is_until
