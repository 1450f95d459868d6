"""What a grower says of the year's jobs becomes a record: done, put off, not wanted; by word, by button, by "done"."""

import json
import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from typing import Final

from bot.answers.exchange import Answer, Exchange, undo_button
from bot.answers.noting import close_messages, settle_by, source_of
from bot.logbook import Note, Nudge, NudgeState, note_entry, nudge_by_id, nudge_by_key, nudge_of_message, open_nudges
from bot.nudges import Stage
from bot.replies import Ambiguous, Choice, Meaning, Question, Reply, Understood, Verb
from bot.rounds.job_facts import job_facts
from bot.rounds.jobs_news import LOOKS, shows_what_died
from bot.wording.dead_wood import FOUND, ask_found
from bot.wording.year.jobs import BECAME, DOING, noted_mark
from rules.garden.condition import ConditionKind, ConditionTold, CoverCondition
from rules.jobs import Job, JobKind, JobMark, MarkState, jobs_due

ASK_AGAIN: Final = timedelta(days=7)  # "later" without a day; assumed, no source
A_SEASON: Final = timedelta(days=300)
BUTTONS: Final = (MarkState.DONE, MarkState.PUT_OFF, MarkState.REFUSED)
MOST_CHOICES: Final = 3
_END: Final = r"(?: it| that| this| now| all)?[ ,.!]*$"
_ALONE: Final = {
    state: re.compile(rf"^(?:ok(?:ay)? |yes |, )*(?:{words}){_END}", re.IGNORECASE)
    for state, words in {
        MarkState.DONE: "all done|done|did|finished|completed?|👍|✅",
        MarkState.PUT_OFF: "(?:ask (?:me )?(?:again )?|remind me )?(?:later|not now|another day)",
        MarkState.REFUSED: "skip|no need|not needed|not this (?:year|season)",
    }.items()
}


# What a job done puts right at a cover, and whether it was amiss.
PUTS_RIGHT: Final[Mapping[JobKind, tuple[ConditionKind, Callable[[CoverCondition], bool]]]] = {
    JobKind.SNOW: (ConditionKind.SNOW_ON, lambda condition: condition.snow_on_m > 0),
    JobKind.FILL: (ConditionKind.SUNK, lambda condition: condition.sunk_to_m is not None),
}


def mark_jobs(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What one reply says of one job, noted for each tree it names; the message that asked for it is settled."""
    if meaning.job is None or meaning.mark is None:
        raise ValueError("an answer to a job needs the job and what became of it")
    until = _until(exchange, meaning) if meaning.mark is MarkState.PUT_OFF else None
    at = min(meaning.at_utc or exchange.now, exchange.now)
    marks = [
        JobMark(kind=meaning.job, tree=tree, state=meaning.mark, at_utc=at, until=until)
        for tree in meaning.trees or ("",)
    ]
    for mark in marks:
        note_entry(exchange.c, source_of(exchange), mark)
    _put_right(exchange, marks)
    _settle(exchange, marks)
    text = noted_mark(marks[0], exchange.style, exchange.now, meaning.trees)
    if meaning.job is JobKind.SCRATCH_TEST and meaning.text:
        text = f"{text} {_found_under_the_bark(exchange, meaning)}"
    if meaning.job in LOOKS and meaning.mark is MarkState.DONE and meaning.text not in SOUND_BARK:
        text = f"{text} {ask_found(meaning.trees or (exchange.garden.trees[0].name,))}"
    return [Answer(text=text, buttons=(undo_button(exchange),))]


def _found_under_the_bark(exchange: Exchange, meaning: Meaning) -> str:
    """What a scratch showed, kept in the words it was told in, for each tree."""
    for tree in meaning.trees or ("",):
        note = Note(tree=tree, text=exchange.incoming.text.strip(), at_utc=exchange.now)
        note_entry(exchange.c, source_of(exchange), note)
    return f"Under the bark {meaning.text}: kept as a note."


SOUND_BARK: Final = ("green", "alive")  # where it is, nothing is asked further


def _put_right(exchange: Exchange, marks: Sequence[JobMark]) -> None:
    """What a job done puts right at a cover is so from then on: snow taken off, fill topped up."""
    named = {mark.tree for mark in marks}
    for tree in [tree for tree in exchange.garden.trees if named == {""} or tree.name in named]:
        cover = exchange.covers.get(tree.name)
        told = PUTS_RIGHT.get(marks[0].kind)
        if marks[0].state is MarkState.DONE and cover is not None and told is not None and told[1](cover.condition):
            over = ConditionTold(tree=tree.name, kind=told[0], at_utc=marks[0].at_utc, is_over=True)
            note_entry(exchange.c, source_of(exchange), over)


def settle_looks(exchange: Exchange, trees: Sequence[str]) -> None:
    """What was found dead, or not, answers the news that asked for a look."""
    marks = [
        JobMark(kind=kind, tree=tree, state=MarkState.DONE, at_utc=exchange.now) for kind in LOOKS for tree in trees
    ]
    _settle(exchange, marks)


def _until(exchange: Exchange, meaning: Meaning) -> date:
    """The day to ask again: the one that was said, or a week on; not after the job's last day, nor before its first."""
    today = exchange.today
    tomorrow = today + timedelta(days=1)
    if meaning.until_utc is not None:
        return max(tomorrow, meaning.until_utc.astimezone(exchange.garden.site.zone).date())
    job = _next(exchange, meaning, today)
    week = today + ASK_AGAIN
    return max(tomorrow, min(week, job.by_day), job.from_day) if job else week


def _next(exchange: Exchange, meaning: Meaning, today: date) -> Job | None:
    """The next such job at one of the trees meant; None where none comes, or where there is nothing to reckon from."""
    seen = exchange.outlook()
    if seen is None:
        return None
    facts = job_facts(exchange.c, exchange.garden, seen, exchange.inputs(), exchange.records, exchange.now)
    coming = [job for job in jobs_due(facts, today, today + A_SEASON) if job.kind is meaning.job]
    return next((job for job in coming if not meaning.trees or set(meaning.trees) & set(job.trees)), None)


def _settle(exchange: Exchange, marks: Sequence[JobMark]) -> None:
    """Settle the open news of jobs that are all answered for now, and say so in the message itself."""
    for nudge in open_nudges(exchange.c, exchange.garden.name):
        if nudge.stage != Stage.JOBS or not all(_is_marked(job, marks) for job in jobs_of(nudge)):
            continue
        if settle_by(exchange, nudge):
            asked = ", ".join(dict.fromkeys(DOING[kind] for kind, _ in jobs_of(nudge)))
            close_messages(exchange, nudge, asked, f"{BECAME[marks[0].state]}, says {exchange.incoming.person}")


def _is_marked(job: tuple[JobKind, tuple[str, ...]], marks: Sequence[JobMark]) -> bool:
    kind, trees = job
    marked = {mark.tree for mark in marks if mark.kind is kind}
    return bool(marked) and ("" in marked or set(trees) <= marked)


def jobs_of(nudge: Nudge) -> list[tuple[JobKind, tuple[str, ...]]]:
    """The jobs a message of news named, each with its trees."""
    return [(JobKind(kind), tuple(trees)) for kind, trees in json.loads(nudge.numbers).get("jobs", [])]


def tapped_on_news(exchange: Exchange, nudge_id: int, button: int) -> Meaning | None:
    """What a tap on Done, Later or Skip means; None for one that is settled, or none of ours."""
    nudge = nudge_by_id(exchange.c, exchange.garden.name, nudge_id)
    if nudge is None or nudge.stage != Stage.JOBS or nudge.state is not NudgeState.OPEN:
        return None
    jobs = jobs_of(nudge)
    if len(jobs) != 1:
        return None
    (kind, trees), *_ = jobs
    if shows_what_died(kind, trees):
        return _found(kind, trees, button)
    return _meaning(kind, trees, BUTTONS[button]) if button < len(BUTTONS) else None


def _found(kind: JobKind, trees: tuple[str, ...], button: int) -> Meaning | None:
    """What a tap says was found dead; the button after the last of these is for later."""
    if button < len(FOUND):
        return Meaning(verb=Verb.DIEBACK, trees=trees, share=FOUND[button][1])
    return _meaning(kind, trees, MarkState.PUT_OFF) if button == len(FOUND) else None


def answer_to_news(exchange: Exchange, text: str) -> Reply | None:
    """A bare "done", "later" or "skip" in answer to news of jobs; with several of them, a question. None: no such."""
    state = next((state for state, pattern in _ALONE.items() if pattern.match(text.strip())), None)
    nudge = _news_answered(exchange) if state else None
    jobs = jobs_of(nudge) if nudge else []
    if state is None or not jobs:
        return None
    meanings = [_meaning(kind, trees, state) for kind, trees in jobs]
    if len(jobs) == 1:
        return Understood(meanings=tuple(meanings))
    choices = [Choice(label=DOING[kind], meanings=(one,)) for (kind, _), one in zip(jobs, meanings, strict=True)]
    return Ambiguous(
        question=Question.WHICH_ASK,
        choices=(*choices[:MOST_CHOICES], Choice(label="all of them", meanings=tuple(meanings))),
    )


def _news_answered(exchange: Exchange) -> Nudge | None:
    """The news a reply quotes, or the last one where nothing else waits for an answer."""
    if exchange.incoming.quoted_id is not None:
        key = nudge_of_message(exchange.c, exchange.incoming.chat_id, exchange.incoming.quoted_id)
        quoted = nudge_by_key(exchange.c, key) if key else None
        return quoted if quoted and quoted.stage == Stage.JOBS else None
    waiting = open_nudges(exchange.c, exchange.garden.name)
    if any(nudge.ask for nudge in waiting):
        return None
    return next((nudge for nudge in reversed(waiting) if nudge.stage == Stage.JOBS), None)


def _meaning(kind: JobKind, trees: tuple[str, ...], state: MarkState) -> Meaning:
    if kind is JobKind.STRIP and state is MarkState.DONE:
        return Meaning(verb=Verb.STRIPPED, trees=trees)  # the covers' own jobs are deeds
    return Meaning(verb=Verb.JOB, job=kind, mark=state, trees=trees)
