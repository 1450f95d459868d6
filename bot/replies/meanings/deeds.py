"""What a clause about covers means: done, wished, promised, put off, refused; with its trees and its time."""

import re
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

from bot.replies.clause import COVERED, DONE, UNCOVERED, Clause
from bot.replies.grammar import grammar
from bot.replies.meanings.read import MOST_TREES, Meanings, Read
from bot.replies.meanings.targets import Target, asks_for, fitting, targets, verbs_meant
from bot.replies.meanings.when import at_times, dated, snoozed, waking
from bot.replies.nouns import Context, Meaning, Question, Verb
from rules.garden.condition import ConditionKind

VAGUE = (COVERED, UNCOVERED, DONE)


CAPS = {"cap_open": Verb.VENTED, "cap_shut": Verb.CLOSED}


def read_done(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """A deed told. A time that can only lie ahead, or lies far behind, is asked about."""
    did, moment = clause.did or DONE, clause.moment
    if (
        moment
        and (did == DONE or clause.tells == "did_or_later")
        and moment.future
        and not moment.is_tonight
        and not moment.past
        and not moment.told
    ):
        return read_put_off(clause, context, spoken)
    did = Verb.BLANKETED.value if _is_blanket_asked(did, clause, context) else did
    named = _deeds(clause, did, context, spoken)
    if not named:
        return Read(heard=did)
    if len(named) == 1 and not spoken and _is_found_open(named[0][0], clause):
        return _found_open(named, context)
    if len(named) == 1 and _is_cloth_unasked(named[0][0], clause):
        over = tuple(replace(named[0][0], verb=verb) for verb in (Verb.BLANKETED, Verb.WRAPPED))
        return Read(options=tuple((one,) for one in over), question=Question.WHICH_DEED)
    if len(named) == 1 and _is_unlikely(named[0][0], clause, context):
        return _done_or(Read(options=tuple(named)), Verb.NOT_DONE)
    if clause.tells == "left" and len(named) == 1 and (left := _left_as_it_was(named[0][0], context)):
        return Read(options=((left,),))
    if did in VAGUE and clause.group == "all" and not (clause.named or asks_for(did, context)) and len(named) == 1:
        return _done_or(Read(options=tuple(named)), Verb.NOT_DONE)  # "all good, all covered", unasked
    question = Question.WHICH_DEED if len({m.verb for (m, *_) in named}) > 1 else Question.WHICH_TREE
    if len(asks_for(did, context)) > 1:
        question = Question.WHICH_ASK
    return at_times(Read(options=tuple(named), question=question), clause, context)


def _is_found_open(deed: Meaning, clause: Clause) -> bool:
    """ "Kaki's lid is off", "bench is wide open": who did that, and when, is not said."""
    words = clause.words
    told = bool(_TOLD.intersection(words)) or any(word[0] in "#&" for word in words)
    of_lid = not grammar().words("LID").isdisjoint(words) and not _OFF.isdisjoint(words)
    stands = not _IS.isdisjoint(words) and (of_lid or "wide" in words)
    return deed.verb is Verb.VENTED and not deed.ask_key and stands and not told


def _found_open(named: list[Meanings], context: Context) -> Read:
    """Where it should be shut it is not shut; else opened by hand, or found so."""
    deed = named[0][0]
    shut = next((ask for ask in context.asks if ask.verb is Verb.CLOSED and set(deed.trees) <= set(ask.trees)), None)
    if shut is not None:
        return Read(options=((Meaning(verb=Verb.NOT_DONE, trees=deed.trees, ask_key=shut.key),),))
    off = Meaning(verb=Verb.CONDITION, trees=deed.trees, condition=ConditionKind.TOP_OPEN)
    return Read(options=(named[0], (off,)), question=Question.DONE_OR_NOT)


_SHOULD_BE = re.compile(
    r"\b(?:should|must|ought to) (?:all |both )?be (?:ok|okay|fine|good|done|all|closed|shut|open|wrapped)\b"
)


_IS, _OFF = frozenset(("is", "are", "'s", "it's", "they're")), frozenset(("off", "open"))


_TOLD = frozenset(("i", "we", "she", "he", "they", "now", "all", "both", "done", "again", "yes", "yep", "been"))


def _is_unlikely(deed: Meaning, clause: Clause, context: Context) -> bool:
    """Whether it is told of a tree without a top, of a blanket unasked, by numbers of two lists, or may be a plan."""
    bare = {tree.name for tree in context.trees if not tree.has_cover}
    of_a_top = deed.verb in (Verb.CLOSED, Verb.VENTED) and bool(bare.intersection(deed.trees))
    makeshift = deed.verb is Verb.WRAPPED and not deed.ask_key and not _MAKESHIFT.isdisjoint(clause.words)
    planned = any(pair in (("i", "open"), ("we", "open")) for pair in pairwise(clause.words))
    shown = {number for ask in context.asks for number in ask.numbered()}
    mixed = not shown.isdisjoint(clause.numbers) and not shown.issuperset(clause.numbers)
    return of_a_top or makeshift or planned or mixed


def _is_blanket_asked(did: str, clause: Clause, context: Context) -> bool:
    """ "Sheet on", "put a blanket over porch", where a blanket for the night is what was asked for there."""
    if did not in (Verb.WRAPPED, COVERED) or _CLOTH.isdisjoint(clause.words):
        return False
    named = {tree for one in clause.named for tree in one.trees}
    return any(ask.verb is Verb.BLANKETED and named <= set(ask.trees) for ask in context.asks)


def _is_cloth_unasked(deed: Meaning, clause: Clause) -> bool:
    """A sheet or blanket told of a tree for which none was asked: for the night, or the cover of the winter."""
    return deed.verb in (Verb.WRAPPED, Verb.BLANKETED) and not deed.ask_key and not _CLOTH.isdisjoint(clause.words)


_CLOTH = frozenset(("blanket", "blankets", "sheet", "sheets", "bedsheet", "bedsheets", "duvet", "duvets", "quilt"))
_MAKESHIFT = frozenset(("towel", "bucket", "tarp"))


def _left_as_it_was(deed: Meaning, context: Context) -> Meaning | None:
    """ "Left wall open", where it was asked to be shut: not done."""
    other = {Verb.VENTED: Verb.CLOSED, Verb.CLOSED: Verb.VENTED}.get(deed.verb)
    undone = next((ask for ask in context.asks if ask.verb is other and set(deed.trees) <= set(ask.trees)), None)
    return Meaning(verb=Verb.NOT_DONE, trees=deed.trees, ask_key=undone.key) if undone else None


def read_ok(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """ "Ok" is that it was read, or that it is done; with a time a promise."""
    if clause.moment and not clause.moment.is_today:
        return read_promise(clause, context, spoken)
    ask = context.asks[0] if len(context.asks) == 1 else None
    yes = Meaning(verb=Verb.YES, trees=ask.trees if ask else (), ask_key=ask.key if ask else None)
    return Read(options=((yes,),))


def read_wish(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """ "Close porch": a wish, a question or a deed in short; ahead of us it is put off, else asked about."""
    moment = clause.moment
    if moment and moment.future and not moment.is_tonight and not (clause.is_either_tense and moment.told):
        return read_put_off(clause, context, spoken)
    if moment and moment.is_tonight:
        return read_promise(clause, context, spoken)
    read = read_done(clause, context, spoken)
    if len(read.options) != 1 or not (clause.has_targets or asks_for(clause.did, context)):
        return read if clause.has_targets else Read(heard="whether it is done", answers_to=(read.options or ((),))[0])
    return _done_or(read, Verb.WILL_DO)


def read_done_or_later(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """ "Closed both after dinner": done after it, or to be done."""
    read = read_done(clause, context, spoken)
    if len(read.options) != 1:
        return read
    return Read(options=(read.options[0], snoozed(read.options[0], None)), question=Question.DONE_OR_NOT)


def asked_back(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """A deed that may have been told, or not, or of which trees: one tap settles it."""
    if clause.ways:
        told = [read_done(replace(clause, named=way, group=None), context, spoken).options for way in clause.ways]
        ways = Read(options=tuple(one[0] for one in told if len(one) == 1), question=Question.WHICH_TREE)
        return _done_or(ways, Verb.NOT_DONE) if len(ways.options) == 1 else ways
    read = read_done(clause, context, spoken)
    return _done_or(read, Verb.NOT_DONE) if len(read.options) == 1 else read


def _done_or(read: Read, verb: Verb) -> Read:
    """The deed, or what it would be instead."""
    first = read.options[0][0]
    if first.verb is verb:
        return read  # "porch is sitting there wide open": not done either way
    other = Meaning(verb=verb, trees=first.trees, ask_key=first.ask_key)
    return Read(options=(read.options[0], (other,)), question=Question.DONE_OR_NOT)


def _deeds(clause: Clause, did: str, context: Context, spoken: tuple[str, ...]) -> list[Meanings]:
    """The deed on each way to read its trees; what "done" means is what was asked, else what the covers allow."""
    asks = asks_for(did, context)
    if context.quoted and not asks and not clause.has_targets:
        return [(Meaning(verb=verb, trees=context.quoted.trees),) for verb in verbs_meant(did)[:1]]
    if clause.group == "rest" and not asks:
        asks = context.asks
    if did == DONE and not asks and not clause.has_targets:
        return []
    cap = next((verb for name, verb in CAPS.items() if clause.has(name)), None)
    found = [
        (*meant, *((Meaning(verb=cap, trees=target.trees),) if cap else ()))
        for target in targets(clause, context, asks, spoken)
        for meant in _verbs_on(target, did, context)
    ]
    return found[:MOST_TREES]


def _verbs_on(target: Target, did: str, context: Context) -> list[Meanings]:
    """The deed a word stands for at these trees; what was asked where it was, else what their covers allow."""
    verbs, ask = verbs_meant(did), target.ask
    if ask is None or ask.verb not in verbs:
        return [(Meaning(verb=verb, trees=target.trees),) for verb in _that_fit(verbs, target.trees, context)]
    if len(verbs) == 1:
        return [(Meaning(verb=ask.verb, trees=target.trees, ask_key=ask.key),)]
    asked = tuple(tree for tree in target.trees if tree in ask.trees)
    others = tuple(tree for tree in target.trees if tree not in ask.trees)
    answer = Meaning(verb=ask.verb, trees=asked, ask_key=ask.key)
    if not others:
        return [(answer,)]
    return [(answer, Meaning(verb=verb, trees=others)) for verb in _that_fit(verbs, others, context)]


def _that_fit(verbs: tuple[Verb, ...], trees: tuple[str, ...], context: Context) -> tuple[Verb, ...]:
    """Of several deeds those that all these covers allow; all where none does. Nobody means a blanket unasked."""
    if len(verbs) == 1:
        return verbs
    verbs = tuple(verb for verb in verbs if verb is not Verb.BLANKETED)
    return tuple(verb for verb in verbs if set(fitting((verb,), context, trees)) == set(trees)) or verbs


def _open_ended(verb: Verb, clause: Clause, context: Context, spoken: tuple[str, ...]) -> list[Meaning]:
    """A meaning that needs no deed, on each way to read its trees; with nothing named or asked, on none."""
    asks = asks_for(clause.did, context) or context.asks
    unnamed = clause.group in ("them", None) and not clause.named and not clause.numbers
    if unnamed and not asks and not (clause.group and spoken):
        return [Meaning(verb=verb)]
    ways = targets(replace(clause, did=None), context, asks, spoken)
    return [Meaning(verb=verb, trees=way.trees, ask_key=way.ask.key if way.ask else None) for way in ways]


def read_refusal(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """Not done, or not to be done."""
    verb = Verb.CANNOT if clause.tells == "cannot" else Verb.NOT_DONE
    ways = _open_ended(verb, clause, context, spoken)
    return Read(
        options=tuple((meaning,) for meaning in ways[:MOST_TREES]), question=_question(clause), heard="not done"
    )


def read_promise(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """A promise: with a time to come it puts off till then, else the nudge stays open."""
    moment = clause.moment
    if moment is not None and moment.future and not moment.is_tonight and not moment.is_today:
        return read_put_off(clause, context, spoken)
    if (moment is None or moment.is_today) and _SHOULD_BE.search(" ".join(clause.words)):
        return asked_back(replace(clause, tells="did"), context, spoken)  # "should be closed"
    ways = _open_ended(Verb.WILL_DO, clause, context, spoken)
    return Read(options=tuple((meaning,) for meaning in ways[:MOST_TREES]), question=_question(clause), heard="later")


def read_put_off(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """Later, with or without a time to ask again."""
    moment, ways = clause.moment, _open_ended(Verb.SNOOZE, clause, context, spoken)
    if (done := _done_then(clause, context, spoken)) is not None:
        return done
    ahead = moment.future if moment is not None else ()
    if moment is not None and (moment.past or moment.told) and not ahead:
        return Read()  # a time that was puts nothing off
    if moment is not None and (moment.is_today or moment.is_tonight) and not clause.has("lt") and not clause.did:
        return Read()  # "can't today", "porch tonight" put nothing off
    if moment is not None and moment.is_tonight and clause.did:
        return read_promise(clause, context, spoken)
    if not ahead:
        return Read(
            options=tuple((meaning,) for meaning in ways[:MOST_TREES]), question=_question(clause), heard="later"
        )
    until = waking(ahead, context)[0]
    if len(ways) == 1:
        return Read(options=((replace(ways[0], until_utc=until),),), heard="later")
    options = tuple((replace(meaning, until_utc=until),) for meaning in ways[:3])
    return Read(options=options, question=Question.WHICH_ASK, heard="later")


def _done_then(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read | None:
    """ "Porch 4:05, pom 4:15", said at half past four of what was asked: done then, or not?"""
    moment = clause.moment
    if (
        moment is None
        or not moment.past
        or clause.did
        or not clause.named
        or clause.has("lt")
        or len(context.asks) != 1
    ):
        return None
    named = {tree for one in clause.named for tree in one.trees}
    if context.now - moment.past[0] > A_SHORT_WHILE or not named <= set(context.asks[0].trees):
        return None
    deeds = _deeds(clause, context.asks[0].verb.value, context, spoken)
    return _done_or(Read(options=(dated(deeds[0], moment.past[0]),)), Verb.NOT_DONE) if len(deeds) == 1 else None


A_SHORT_WHILE = timedelta(hours=3)  # ago, that a bare hour beside a tree tells of; no source


def _question(clause: Clause) -> Question:
    return Question.WHICH_TREE if clause.named else Question.WHICH_ASK


def read_bare(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """Trees or numbers with nothing said of them."""
    if (done := _done_then(clause, context, spoken)) is not None:
        return done
    asks = context.asks
    confirms = (clause.numbers or clause.group in ("all", "both")) and not clause.named
    if confirms and len(asks) == 1 and _all_shown(clause, context):
        return read_done(replace(clause, did=DONE), context, spoken)
    return _about(clause, context, spoken) if clause.named or clause.group else Read()


def _all_shown(clause: Clause, context: Context) -> bool:
    return all(number in context.asks[0].numbered() for number in (*clause.numbers, *clause.excepted_numbers))


def _about(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """A tree and nothing else: what about it?"""
    named = {tree for one in clause.named for tree in one.trees}
    asks = tuple(ask for ask in context.asks if named & set(ask.trees)) or context.asks
    ways = targets(clause, context, asks, spoken)
    if not ways:
        return Read(heard="some trees")
    way = ways[0]
    if way.ask is not None and len(ways) > 1:
        options = [(Meaning(verb=way.ask.verb, trees=each.trees, ask_key=way.ask.key),) for each in ways[:3]]
    elif way.ask is not None and clause.named:
        verbs = (way.ask.verb, Verb.CANNOT, Verb.WHY)
        options = [(Meaning(verb=verb, trees=way.trees, ask_key=way.ask.key),) for verb in verbs]
    else:
        options = [(Meaning(verb=verb, trees=way.trees),) for verb in (Verb.TONIGHT, Verb.TREES, Verb.HOW_HARD)]
    return Read(options=tuple(options), question=Question.WHAT_ABOUT)
