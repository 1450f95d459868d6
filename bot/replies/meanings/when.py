"""When what is told was done, or until when it is put off."""

from dataclasses import replace
from datetime import datetime

from bot.replies.clause import Clause
from bot.replies.grammar import ours
from bot.replies.meanings.read import Meanings, Read
from bot.replies.nouns import Context, Meaning, Question, Verb
from bot.replies.words.times import HALF_DAY, SMALL_HOURS


def at_times(read: Read, clause: Clause, context: Context) -> Read:
    """The deed's own time; a day named is the last such day. What lies ahead, or too far behind, is asked about."""
    moment, options = clause.moment, read.options
    if moment is None or moment.is_today or moment.is_tonight:
        return read
    by = _is_by(clause) and moment.future and not _was_today(clause, context)
    if by and len(options) == 1 and (was := moment.told or moment.past):
        return _done_or_later(dated(options[0], was[0]), options[0][0], moment.future[0])  # "kaki wrapped by friday"
    sure = not clause.is_either_tense
    if moment.told and (sure or not moment.future):
        return _on_that_day(read, waking(moment.told, context))
    if clause.tells == "did_or_later" and moment.future and moment.past and len(options) == 1:
        return _done_or_later(dated(options[0], moment.past[0]), options[0][0], moment.future[0])
    if moment.told and len(options) == 1:
        return _done_or_later(dated(options[0], moment.told[0]), options[0][0], moment.future[0])
    if moment.too_old:
        return Read(heard="a deed longer ago than a month", answers_to=options[0])
    if not moment.past:
        later = snoozed(options[0], moment.future[0]) if moment.future else ()
        return Read(options=(options[0], later), question=Question.DONE_OR_NOT) if later else read
    if len(moment.past) == 1 and moment.future and _is_far(moment.past[0], context):
        return _done_or_later(dated(options[0], moment.past[0]), options[0][0], moment.future[0])
    return _on_that_day(read, moment.past)


def waking(times: tuple[datetime, ...], context: Context) -> tuple[datetime, ...]:
    """Of the two halves of a day that in which people are up."""
    return tuple(at for at in times if at.astimezone(context.zone).hour >= SMALL_HOURS) or times


def _was_today(clause: Clause, context: Context) -> bool:
    """ "Shut by three", said at six: it was today and not again; not "by three, wall by seven", nor a promise."""
    today = context.local_now.date()

    def of_today(times: tuple[datetime, ...]) -> bool:
        return any(at.astimezone(context.zone).date() == today for at in times)

    was = all(of_today(one.past) and not of_today(one.future) for one in clause.marked.moments)
    return was and ours().words("PROMISES", "DOUBTS").isdisjoint(clause.marked.words)


def _is_by(clause: Clause) -> bool:
    words = clause.words
    return any(word == "by" and words[n + 1 : n + 2] and words[n + 1][0] == "#" for n, word in enumerate(words))


def _done_or_later(done: Meanings, deed: Meaning, until: datetime) -> Read:
    """Whether the deed lies behind, or is put off till then."""
    return Read(options=(done, snoozed((deed,), until)), question=Question.WHICH_TIME)


def _on_that_day(read: Read, times: tuple[datetime, ...]) -> Read:
    if len(read.options) == 1 and len(times) > 1:
        return Read(options=tuple(dated(read.options[0], at) for at in times[:3]), question=Question.WHICH_TIME)
    return replace(read, options=tuple(dated(option, times[0]) for option in read.options))


def _is_far(at: datetime, context: Context) -> bool:
    """Whether a bare clock time would be yesterday's, more than half a day ago."""
    same_day = at.astimezone(context.zone).date() == context.local_now.date()
    return not same_day and context.now - at > HALF_DAY


def dated(meanings: Meanings, at: datetime) -> Meanings:
    return tuple(replace(meaning, at_utc=at) for meaning in meanings)


def snoozed(meanings: Meanings, until: datetime | None) -> Meanings:
    return tuple(
        Meaning(verb=Verb.SNOOZE, trees=one.trees, ask_key=one.ask_key, until_utc=until) for one in meanings[:1]
    )
