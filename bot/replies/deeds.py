"""What one clause means: a deed, a refusal, a promise, a later time; readings and sightings are in `readings`."""

from dataclasses import replace
from datetime import datetime

from bot.replies.clause import Clause
from bot.replies.measurements import Read, bare_number, read_sight, read_temperature, without_deed
from bot.replies.nouns import Context, Meaning, Question, Verb
from bot.replies.targets import Target, asks_for, fitting, targets, verbs_meant
from bot.replies.words.times import HALF_DAY, Moment
from bot.replies.words.vocabulary import DONE


def read_clause(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """The readings of one clause."""
    told = clause.did is not None and not clause.is_bare_verb and not clause.is_inside  # "inside the closed cover 3"
    if clause.temperature is not None and clause.refusal is None and told:
        return _both(read_deed(clause, context, spoken), read_temperature(clause, context, spoken))
    if clause.temperature is not None and clause.is_promise:
        return Read(heard="a temperature that is still to come")
    if clause.temperature is not None and clause.refusal is None:
        return read_temperature(clause, context, spoken)
    if clause.sight is not None:
        return read_sight(clause, context, spoken)
    if clause.refusal is not None:
        return _read_refusal(clause, context, spoken)
    if told and clause.is_later and not (clause.is_promise or clause.is_reminder or clause.is_until):
        return _read_told_later(clause, context, spoken)
    if clause.is_promise or clause.is_reminder or clause.is_later or clause.is_until:
        return _read_promise(clause, context, spoken)
    if clause.did is not None:
        return read_deed(clause, context, spoken)
    return _read_bare(clause, context, spoken)


def _read_told_later(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """ "Closed both after dinner": done after it, or to be done."""
    read = read_deed(clause, context, spoken)
    if len(read.options) != 1:
        return _read_promise(clause, context, spoken)
    put_off = tuple(_snoozed(meaning, None) for meaning in read.options[0])
    return Read(options=(read.options[0], put_off), question=Question.DONE_OR_NOT)


def _both(deed: Read, reading: Read) -> Read:
    if len(deed.options) == len(reading.options) == 1:
        return replace(deed, options=((*deed.options[0], *reading.options[0]),))
    return deed


def read_deed(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """The readings of a clause with a deed in it."""
    moment, did = clause.moment, clause.did or DONE
    if moment and _lies_ahead(moment, clause, did):
        return _read_promise(clause, context, spoken)
    if moment and moment.is_tonight and clause.is_bare_verb:
        return _read_promise(clause, context, spoken)
    named = _deeds(clause, did, context, spoken)
    if named and clause.is_bare_verb and did != DONE and not clause.has_targets and not asks_for(did, context):
        return Read(heard="whether it is done", answers_to=named[0])  # "wrap" alone, and nothing was asked
    if not named or (clause.unknown and (clause.is_stray or not clause.has_targets)):
        return Read(heard=did if not clause.unknown else f"{did}, but not '{' '.join(clause.unknown[:3])}'")
    question = Question.WHICH_DEED if len({m.verb for (m,) in named}) > 1 else Question.WHICH_TREE
    if len(asks_for(did, context)) > 1:
        question = Question.WHICH_ASK
    read = _at_times(Read(options=tuple(named), question=question), moment, context, sure=_is_told(clause, did))
    if clause.is_unsure and moment and moment.future and len(read.options) == 1:
        return _done_or_later(read.options[0], named[0][0], moment.future[0])
    return read


def _deeds(clause: Clause, did: str, context: Context, spoken: tuple[str, ...]) -> list[tuple[Meaning, ...]]:
    """The deed on each way to read its trees; what "done" means is what was asked, else what the covers allow."""
    asks = asks_for(did, context)
    if context.quoted and not asks and not clause.has_targets:
        return [(Meaning(verb=verb, trees=context.quoted.trees),) for verb in verbs_meant(did)[:1]]
    if clause.group == "rest" and not asks:
        asks = context.asks
    if did == DONE and not asks and not clause.has_targets:
        return []
    found: list[tuple[Meaning, ...]] = []
    for target in targets(clause, context, asks, spoken):
        found += [(meaning,) for meaning in _verbs_on(target, did, context)]
    return found[:3]


def _verbs_on(target: Target, did: str, context: Context) -> list[Meaning]:
    verbs = verbs_meant(did)
    if target.ask is not None and target.ask.verb in verbs:
        return [Meaning(verb=target.ask.verb, trees=target.trees, ask_key=target.ask.key)]
    if len(verbs) > 1:
        verbs = tuple(v for v in verbs if set(fitting((v,), context, target.trees)) == set(target.trees)) or verbs
    return [Meaning(verb=verb, trees=target.trees) for verb in verbs]


def _lies_ahead(moment: Moment, clause: Clause, did: str) -> bool:
    """Whether the time can only be one to come: "close porch on monday", "done at 6" said at four."""
    if not moment.future or moment.is_tonight:
        return False
    if clause.is_bare_verb:
        return not moment.past or bool(moment.told)
    return did == DONE and not moment.past and not moment.told


def _is_told(clause: Clause, did: str) -> bool:
    """Whether the words can only tell what lies behind; "open", "shut" and "done" may be wished as well."""
    return not clause.is_either_tense and did != DONE


def _at_times(read: Read, moment: Moment | None, context: Context, *, sure: bool) -> Read:
    """The deed's own time; a day named is the last such day. What lies ahead, or too far behind, is asked about."""
    if moment is None or moment.is_today or moment.is_tonight:
        return read
    if moment.told and (sure or not moment.future):
        return _on_that_day(read, moment.told)
    if moment.told and len(read.options) == 1:
        return _done_or_later(_dated(read.options[0], moment.told[0]), read.options[0][0], moment.future[0])
    if moment.too_old:
        return Read(heard="a deed longer ago than a month", answers_to=read.options[0])
    if not moment.past:
        put_off = tuple(_snoozed(m, moment.future[0]) for m in read.options[0]) if moment.future else ()
        return Read(options=(read.options[0], put_off), question=Question.DONE_OR_NOT) if put_off else read
    if len(moment.past) == 1 and moment.future and _is_far(moment.past[0], context):
        return _done_or_later(_dated(read.options[0], moment.past[0]), read.options[0][0], moment.future[0])
    return _on_that_day(read, moment.past)


def _done_or_later(done: tuple[Meaning, ...], deed: Meaning, until: datetime) -> Read:
    """Whether the deed lies behind, or is put off till then."""
    return Read(options=(done, (_snoozed(deed, until),)), question=Question.WHICH_TIME)


def _on_that_day(read: Read, times: tuple[datetime, ...]) -> Read:
    if len(read.options) == 1 and len(times) > 1:
        return Read(options=tuple(_dated(read.options[0], at) for at in times[:3]), question=Question.WHICH_TIME)
    return replace(read, options=tuple(_dated(option, times[0]) for option in read.options))


def _is_far(at: datetime, context: Context) -> bool:
    """Whether a bare clock time would be yesterday's, more than half a day ago."""
    same_day = at.astimezone(context.zone).date() == context.local_now.date()
    return not same_day and context.now - at > HALF_DAY


def _dated(meanings: tuple[Meaning, ...], at: datetime) -> tuple[Meaning, ...]:
    return tuple(replace(meaning, at_utc=at) for meaning in meanings)


def _snoozed(meaning: Meaning, until: datetime | None) -> Meaning:
    return Meaning(verb=Verb.SNOOZE, trees=meaning.trees, ask_key=meaning.ask_key, until_utc=until)


def _open_ended(verb: Verb, clause: Clause, context: Context, spoken: tuple[str, ...]) -> list[Meaning]:
    """A meaning that needs no deed, on each way to read its trees; with nothing named or asked, on none."""
    asks = asks_for(clause.did, context) or context.asks
    if not clause.has_targets and not asks:
        return [Meaning(verb=verb)]
    if clause.group in ("them", None) and not clause.named and not clause.numbers and not asks:
        return [Meaning(verb=verb)]
    ways = targets(without_deed(clause), context, asks, spoken)
    return [Meaning(verb=verb, trees=way.trees, ask_key=way.ask.key if way.ask else None) for way in ways]


def _read_refusal(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    moment = clause.moment
    if moment and moment.future and clause.is_until:
        return _read_promise(replace(clause, refusal=None), context, spoken)
    ways = _open_ended(clause.refusal or Verb.NOT_DONE, clause, context, spoken)
    return Read(options=tuple((meaning,) for meaning in ways[:3]), question=_question(clause), heard="not done")


def _read_promise(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """A promise without a time, or a time to ask again."""
    moment = clause.moment
    timed = moment is not None and bool(moment.future) and not (moment.is_tonight and (clause.is_promise or clause.did))
    waits = timed or clause.is_reminder or clause.is_later or clause.is_until
    ways = _open_ended(Verb.SNOOZE if waits else Verb.WILL_DO, clause, context, spoken)
    if not timed or moment is None:
        return Read(options=tuple((meaning,) for meaning in ways[:3]), question=_question(clause), heard="later")
    return _until(ways, moment)


def _until(ways: list[Meaning], moment: Moment) -> Read:
    if len(ways) == 1:
        options = tuple((replace(ways[0], until_utc=at),) for at in moment.future[:3])
        return Read(options=options, question=Question.WHICH_TIME, heard="later")
    return Read(
        options=tuple((replace(meaning, until_utc=moment.future[0]),) for meaning in ways[:3]),
        question=Question.WHICH_ASK,
        heard="later",
    )


def _question(clause: Clause) -> Question:
    return Question.WHICH_TREE if clause.named else Question.WHICH_ASK


def _read_bare(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """Trees, numbers or a time with nothing said of them."""
    moment = clause.moment
    if moment and moment.future and not moment.is_today:
        return _read_promise(clause, context, spoken)
    if clause.unknown or not clause.has_targets:
        return Read(heard=" ".join(clause.unknown[:3]))
    asks = context.asks
    confirms = clause.numbers or clause.group in ("all", "both")
    if confirms and not clause.named and len(asks) == 1 and _all_shown(clause, context):
        return read_deed(replace(clause, did=DONE), context, spoken)
    if clause.numbers and not clause.named:
        return bare_number(clause, context)
    return _about(clause, context, spoken)


def _all_shown(clause: Clause, context: Context) -> bool:
    return all(number in context.asks[0].numbered() for number in (*clause.numbers, *clause.excepted_numbers))


def _about(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """A tree and nothing else: what about it?"""
    asks = (
        tuple(ask for ask in context.asks if any(t in ask.trees for n in clause.named for t in n.trees)) or context.asks
    )
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
