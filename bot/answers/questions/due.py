"""Answers about the year's jobs: what is due this week or in a month, and what the covers take."""

import calendar
from collections.abc import Iterable
from datetime import date, timedelta
from typing import Final

from bot.answers.condition.little_things import offers
from bot.answers.exchange import NO_LOOK, Answer, Exchange
from bot.answers.questions.outlook import heat_lines, of_trees
from bot.replies import Meaning
from bot.rounds.job_facts import job_facts
from bot.wording.year.due import due_message, month_lines, week_lines, why_of_job
from bot.wording.year.supplies import needs_messages, shopping_messages
from rules.garden.cover import Cover, CoverState
from rules.garden.records import state_now
from rules.garden.supplies import needs
from rules.garden.tree import Standing, Tree
from rules.jobs import GardenFacts, Job, jobs_at, jobs_due, merged

WEEK: Final = timedelta(days=6)
A_SEASON: Final = timedelta(days=300)


def tell_due(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What is due in the coming week, or in a month, for all trees or for those named."""
    seen = exchange.outlook_anew()
    if seen is None:
        return [NO_LOOK]
    facts = job_facts(exchange.c, exchange.garden, seen, exchange.inputs(), exchange.records, exchange.now)
    if meaning.job is not None:
        return [Answer(text=why_of_job(_next(facts, meaning), meaning.job, exchange.style, exchange.now))]
    first, last = _days(facts.today, meaning.month)
    jobs = jobs_due(facts, first, last)
    jobs = jobs_at(jobs, meaning.trees) if meaning.trees else jobs
    bare = [one.tree.name for one in of_trees(seen, meaning.trees).trees if one.tree.left_bare]
    lines = month_lines if meaning.month else week_lines
    more = [] if meaning.month else [*offers(exchange, of_trees(seen, meaning.trees)), *heat_lines(exchange, seen)]
    return [Answer(text=due_message(jobs, seen, exchange.style, first, lines=lines, more=more, bare=bare))]


def _next(facts: GardenFacts, meaning: Meaning) -> Job | None:
    """The next job of the kind asked about, at the trees named; for all that need it then."""
    coming = [
        job
        for job in jobs_due(facts, facts.today, facts.today + A_SEASON)
        if job.kind is meaning.job and (not meaning.trees or set(meaning.trees) & set(job.trees))
    ]
    together = [job for job in coming if (job.reason, job.basis) == (coming[0].reason, coming[0].basis)]
    return merged([job for job in together if job.from_day <= max(coming[0].from_day, facts.today)]) if coming else None


def _days(today: date, month: int | None) -> tuple[date, date]:
    """The week from today, or what is left of the month that was asked for."""
    if month is None:
        return today, today + WEEK
    year = today.year + (month < today.month)
    last = date(year, month, calendar.monthrange(year, month)[1])
    return max(today, last.replace(day=1)), last


def tell_need(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What the covers of the trees named take; of those still to be covered where none is, with the shopping list."""
    covered = [tree for tree in exchange.garden.trees if tree.cover and not tree.left_bare]
    asked = [tree for tree in covered if tree.name in meaning.trees] if meaning.trees else covered
    if not asked:
        return [Answer(text="None of these has a cover that I know of.")]
    trees = asked if meaning.trees else [tree for tree in asked if _is_bare(exchange, tree)] or asked
    lines = needs(
        _covers(exchange, trees, potted=False), exchange.garden.shed, potted=_covers(exchange, trees, potted=True)
    )
    words = needs_messages if meaning.trees else shopping_messages
    return [Answer(text=text) for text in words([tree.name for tree in trees], lines, exchange.style)]


def _is_bare(exchange: Exchange, tree: Tree) -> bool:
    return state_now(exchange.records, tree.name, exchange.now) in (None, CoverState.BARE)


def _covers(exchange: Exchange, trees: Iterable[Tree], *, potted: bool) -> list[Cover]:
    found = [(tree, exchange.garden.cover_of(tree)) for tree in trees]
    return [cover for tree, cover in found if cover and (tree.standing is Standing.POT) == potted]
