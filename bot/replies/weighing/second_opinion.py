"""What is learned beside what was read: for a deed that was asked about, against one that its own words belie."""

import re
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from typing import Final

from bot.replies.assembling import done_or_not
from bot.replies.clause import clause_of
from bot.replies.covering import STOPS
from bot.replies.cues.deeds import DATES
from bot.replies.labels import label
from bot.replies.learned.asking import ASKS, BEYOND
from bot.replies.learned.clauses import (
    ALONE,
    ANOTHERS,
    AS_TOLD,
    DEEDS,
    OF_WHO_WRITES,
    PARTS,
    deed_chance,
    is_belied,
    is_deed_told,
    is_sure,
    kinds_told,
)
from bot.replies.learned.features import spoken_of
from bot.replies.learned.harm import is_gone, is_none_there, is_of_other_years
from bot.replies.learned.likely import ASKED, learned
from bot.replies.meanings.asked import read_question
from bot.replies.nouns import (
    REFUSALS,
    Ambiguous,
    Choice,
    Context,
    Meaning,
    NotUnderstood,
    Question,
    Reply,
    Understood,
    Verb,
)
from bot.replies.weighing.answered import answered
from bot.replies.weighing.likely_told import DATED, UNDONE, as_told, asked_of, lacks_time, likely_told, so_or_not
from bot.replies.words.marking import Marked
from rules.garden.condition import ConditionKind
from rules.garden.records import SightingKind

PLAINLY_UNDONE: Final = 0.95  # that nothing was done; it is noted as no deed, and the nudge stays open; no source
STANDS_OUT: Final = 0.6  # of a question's matter: nine of ten are right, on 160 of people who saw none learned from
LASTING: Final = frozenset((
    ConditionKind.MICE, ConditionKind.MOULD, ConditionKind.WET, ConditionKind.TORN, ConditionKind.SUNK,
))  # fmt: skip
DOUBTS: Final = (Question.DONE_OR_NOT, Question.SO_OR_NOT)
BY_HAND: Final = frozenset(("put", "pulled"))
STATES: Final = ("opened", "closed", "wrapped", "stripped")
SEVERAL: Final = frozenset(("all", "both", "everything", "them"))
PRESENT: Final = frozenset(("open", "opening"))
TOLD_OPEN: Final = frozenset(
    ("opened", "is", "are", "was", "were", "been", "be", "now", "both", "all", "wide", "since")
)
EXCEPTING: Final = frozenset((
    "but", "except", "bar", "minus", "besides", "apart", "excluding", "save", "without", "only",
))  # fmt: skip
SEEN_THEN: Final = frozenset(("saw", "seen", "noticed", "spotted", "found", "since", "discovered"))
DONE_AT: Final = re.compile(r"\b(?:did|done)(?: (?:it|that|them|so))?(?: (?:at|around|about))? #")
UNLEARNED: Final = frozenset((
    SightingKind.FIRST_BLOOM, SightingKind.FULL_BLOOM, SightingKind.PETALS_FALLEN, SightingKind.FRUIT_PEA_SIZE,
))  # fmt: skip
_UNDONE: Final = ("not_done", "cannot", "later", "unsure")
# What is learned that a reading of each kind may be of.
KINDS: Final[dict[Verb, tuple[str, ...]]] = {
    **{verb: DEEDS[verb] for verb in (Verb.CLOSED, Verb.VENTED, Verb.WRAPPED, Verb.STRIPPED, Verb.BLANKETED)},
    Verb.NOT_DONE: _UNDONE, Verb.CANNOT: _UNDONE, Verb.WILL_DO: ("later", "not_done", "cannot"),
    Verb.SETTINGS: (), Verb.SNOOZE: ("later", "cannot", "not_done", "free", "away"),
    Verb.READING: ("reading", "correction"), Verb.SIGHTING: ("buds", "leaves_off", "wood_alive", "wood_dead", "fruit"),
    Verb.STOCK: ("stock", "out_of"), Verb.AWAY: ("away", "free", "quiet", "back", "cannot", "later"),
    Verb.CONDITION: (
        "cap_off", "torn", "wet", "sunk", "mice", "mould", "snow_on", "branch_broken", "mended", "moved_in",
        "moved_out",
    ),
}  # fmt: skip


def second_opinion(reply: Reply, line: Marked, context: Context) -> Reply:
    """A reply as it was read, or as what is learned likely reads it.

    The latter where nobody could read it, or where its words surely tell something else than what was asked about:
    "somebody took the cap off the kaki" opened nothing. What was read and is belied by its words is asked about.
    """
    if isinstance(reply, NotUnderstood):
        return answered(line, context) or likely_told(line, context) or _asked_whole(line, context) or reply
    if isinstance(reply, Understood):
        return _unless_gone(reply, line, context) or _unless_belied(reply, line, context)
    if reply.question not in DOUBTS or reply.certain:
        return reply
    undone = [one for one in reply.choices if all(meaning.verb in REFUSALS for meaning in one.meanings)]
    chances = {one.matter: one.chance for one in kinds_told(line)}
    if undone and sum(chances.get(kind, 0.0) for kind in UNDONE) >= PLAINLY_UNDONE:
        return Understood(meanings=undone[0].meanings, unread=reply.unread)
    if _is_told_for_all_that(reply, line):
        return Understood(meanings=reply.choices[0].meanings, unread=reply.unread)
    if reply.question is Question.DONE_OR_NOT and _is_answered(reply, line, context):
        return Understood(meanings=reply.choices[0].meanings, unread=reply.unread)
    if not is_sure(line):
        return reply
    other = likely_told(line, context)
    return reply if other is None or isinstance(other, NotUnderstood) else other


def _asked_whole(line: Marked, context: Context) -> Understood | None:
    """What all words together ask, where they do and one matter stands out: an answer notes nothing."""
    spoken = spoken_of(line)
    if not line.words or learned().asks(spoken) < ASKS:
        return None
    best = learned().likely(ASKED, spoken)[0]
    if best.chance < STANDS_OUT or best.matter == BEYOND:
        return None
    way = read_question(clause_of(best.matter, (), line, 0, len(line.words), ""), context)
    return None if way is None else Understood(meanings=(way,))


def at_its_time(reply: Reply, line: Marked, context: Context) -> Reply:
    """What is asked about at the only time that was said, where its own clause lacks it: "which was at seven"."""
    times = {one.past or one.told for one in line.moments if (one.past or one.told) and not one.is_today}
    if isinstance(reply, NotUnderstood) or len(times) != 1 or len(line.moments) != 1:
        return reply
    at = min(times)[0]
    if isinstance(reply, Understood) and reply.unread and all(one.is_deed for one in reply.meanings):
        return _then_or_now(reply, at, line, context)
    if isinstance(reply, Understood):
        seen = all(one.verb in DATED for one in reply.meanings) and not SEEN_THEN.isdisjoint(line.words)
        return replace(reply, meanings=tuple(_dated(one, at) for one in reply.meanings)) if seen else reply
    if reply.certain:
        return reply
    choices = [tuple(_dated(one, at) for one in choice.meanings) for choice in reply.choices]
    return replace(reply, choices=tuple(Choice(label=label(way, context), meanings=way) for way in choices))


def _then_or_now(reply: Understood, at: datetime, line: Marked, context: Context) -> Reply:
    """A deed beside which an hour is left out, "opened them up, I did at ten": done then, or now?"""
    if not DONE_AT.search(" ".join(line.words)) or any(one.at_utc is not None for one in reply.meanings):
        return reply
    then = tuple(_dated(one, at) for one in reply.meanings)
    choices = tuple(Choice(label=label(way, context), meanings=way) for way in (then, reply.meanings))
    return Ambiguous(question=Question.WHICH_TIME, choices=choices, unread=reply.unread)


def _dated(told: Meaning, at: datetime) -> Meaning:
    dates = (told.is_deed or told.verb in DATED) and told.at_utc is None
    return replace(told, at_utc=at) if dates else told


def _is_told_for_all_that(reply: Ambiguous, line: Marked) -> bool:
    """Whether a deed that a nudge asks for is told all but certainly, of all trees named, and when, where that is said.

    Not of what a nudge asks nothing of, where the same words may be of the house: "wrapped the wall in insulation".
    """
    told = reply.choices[0].meanings
    verbs, trees = {one.verb for one in told}, {tree for one in told for tree in one.trees}
    if lacks_time(told, line):
        return False
    if len(verbs) != 1 or not all(one.ask_key for one in told) or not trees.issuperset(line.trees_named):
        return False
    if verbs == {Verb.VENTED} and not PRESENT.isdisjoint(line.words) and TOLD_OPEN.isdisjoint(line.words):
        return False  # "i open bench" may be to come
    of_ours = bool(line.trees) or not SEVERAL.isdisjoint(line.words)
    astray = PARTS | ANOTHERS | DATES
    if line.trees and len(trees) > 1 and not EXCEPTING.isdisjoint(line.words):
        return False  # "all open, only the pom stays as it is": one that is named may be left out
    return of_ours and astray.isdisjoint(line.words) and is_deed_told(verbs.pop(), line, 0, len(line.words), (), ALONE)


def _is_answered(reply: Ambiguous, line: Marked, context: Context) -> bool:
    """Whether the deed asked about is what words of a person's own tell of the nudge, all but certainly as a whole."""
    told = answered(line, context)
    if told is None or tuple(told.meanings) != tuple(reply.choices[0].meanings):
        return False
    return deed_chance(told.meanings[0].verb, line) >= ALONE


def _unless_belied(reply: Understood, line: Marked, context: Context) -> Reply:
    """What was read, or in one tap that, what it rather tells, or neither; of what notes nothing what it rather tells.

    What is also told of other trees may hide it: "closed porch, not wall".
    """
    asked = any(one.ask_key for one in reply.meanings)
    others = set(line.trees_named) - {tree for one in reply.meanings for tree in one.trees}
    known = all(one.verb in KINDS and one.sight not in UNLEARNED for one in reply.meanings)
    kinds = {kind for one in reply.meanings for kind in KINDS.get(one.verb, ())}
    of_people = all(one.verb is Verb.AWAY for one in reply.meanings)
    rather = is_belied(kinds, line, asked=asked, left=bool(reply.unread)) if known and (of_people or not others) else ""
    if known and (_wavers_after(reply, line) or (reply.unread and is_of_other_years(line.words))):
        rather = rather or "unsure"
    if not rather or (rather in OF_WHO_WRITES and line.trees):  # "pulled the soil back" is of a tree
        return reply
    if all(one.verb in REFUSALS | {Verb.SETTINGS} for one in reply.meanings):
        stands = rather in STATES and not any(rather in DEEDS.get(ask.verb, ()) for ask in context.asks)
        return reply if stands else _rather(rather, line, context) or reply  # "the lid is wide open": not closed
    is_deed = any(one.is_deed for one in reply.meanings)
    if is_deed and rather == "mended" and not BY_HAND.isdisjoint(line.words):
        return reply  # "put the straw back on wall" is both; "film back on" may be a tear that is taped
    doubt = done_or_not(reply.meanings, context) if is_deed else so_or_not(reply.meanings, context)
    other = as_told(line, context).options[:1] if rather in AS_TOLD else ()
    ways = [Choice(label=label(way, context), meanings=way) for way in other if way != reply.meanings]
    return replace(doubt, choices=(*doubt.choices[:1], *ways, *doubt.choices[1:]), unread=reply.unread)


def _unless_gone(reply: Understood, line: Marked, context: Context) -> Reply | None:
    """Whether what befell a cover is over, stands, or neither, where one sentence says that it is gone or not there."""
    told = [one for one in reply.meanings if one.condition in LASTING and not one.is_over]
    gone, none = is_gone(line.words), is_none_there(line.words)
    if len(told) != len(reply.meanings) or "." in line.words[:-1] or not (gone or none):
        return None
    over = [tuple(replace(one, is_over=True) for one in told)] if gone else []
    ways = [*over, reply.meanings, (Meaning(verb=Verb.NO),)]
    choices = tuple(Choice(label=label(way, context), meanings=way) for way in ways)
    return Ambiguous(question=Question.SO_OR_NOT, choices=choices, unread=reply.unread)


def _wavers_after(reply: Understood, line: Marked) -> bool:
    """ "A green tip on the porch! or it's moss": what was seen, and beside it what else it may be."""
    seen = any(one.verb in (Verb.SIGHTING, Verb.CONDITION) for one in reply.meanings) and bool(reply.unread)
    return seen and any(word in STOPS and after == "or" for word, after in pairwise(line.words))


def _rather(kind: str, line: Marked, context: Context) -> Reply | None:
    """What words tell in which no more than a refusal or a promise was read: whether it is done, where they waver."""
    asked = next((ask for ask in context.asks if set(line.trees_named) <= set(ask.trees)), None)
    if kind == "unsure" and asked is not None:
        return done_or_not((Meaning(verb=asked.verb, trees=asked_of(asked, line), ask_key=asked.key),), context)
    return likely_told(line, context)
