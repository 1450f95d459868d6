"""News of the year's jobs: at most one quiet message a day, written with what it told."""

import json
from collections.abc import Callable, Sequence
from datetime import date, datetime
from typing import Any

from bot.logbook import Connection, Nudge, note_state, nudge_by_key, nudges_since, open_nudge, open_nudges, read_state
from bot.messages import Button
from bot.nudges import SILENT_STAGES, Announced, DueNudge, is_time_to_look, jobs_nudge, jobs_to_tell
from bot.replies import Verb, button_data
from bot.rounds.inputs import quiet_of, style_of
from bot.rounds.nudge_writing import send_to_all
from bot.rounds.presence import away_days, listeners
from bot.rounds.said_once import note_said, unsaid
from bot.settings import Garden
from bot.wording.dead_wood import FOUND
from bot.wording.year.due import jobs_news
from rules.jobs import Caution, GardenFacts, Job, JobKind, jobs_to_announce

STATE = "jobs told"
LATER = "Later"
LABELS = ("Done", LATER, "Skip")  # in the order of the answers to them
LOOKS = (JobKind.SCRATCH_TEST, JobKind.MEASURE_DIEBACK)


def write_jobs_news(
    c: Connection, garden: Garden, round_id: int | None, now: datetime, facts: Callable[[], GardenFacts]
) -> list[DueNudge]:
    """The message of the jobs that came due for telling, written; empty at most looks, and while nobody is there."""
    announced = _announced(c, garden)
    if not is_time_to_look(announced, quiet_of(garden), now) or not listeners(c, garden.name, now):
        return []
    known = facts()
    if any(first <= known.today <= last for first, last in away_days(c, garden.name, garden.site.zone, now)):
        return []
    is_busy = _is_busy(c, garden, now)
    jobs = jobs_to_tell(jobs_to_announce(known), announced, known.marks, known.today, is_busy=is_busy)
    if not jobs:
        _note_announced(c, garden, announced.after([], known.today, is_busy=is_busy))
        return []
    text, told, cautions = jobs_news(jobs, unsaid(c, garden, Caution, now), style_of(garden), now)
    _note_announced(c, garden, announced.after(told, known.today, is_busy=is_busy))
    note_said(c, garden, cautions, now)
    return [_written(c, garden, told, text, round_id, now)]


def _is_busy(c: Connection, garden: Garden, now: datetime) -> bool:
    """Whether the cold asks for something, or something rang today: what can wait is not laid on top of it."""
    midnight = now.astimezone(garden.site.zone).replace(hour=0, minute=0, second=0, microsecond=0)
    rang = any(nudge.stage not in SILENT_STAGES for nudge in nudges_since(c, garden.name, midnight))
    return rang or any(nudge.ask for nudge in open_nudges(c, garden.name))


def _written(
    c: Connection, garden: Garden, jobs: list[Job], text: str, round_id: int | None, now: datetime
) -> DueNudge:
    due = jobs_nudge(jobs, quiet_of(garden), now)
    key = f"{garden.name}/{due.key}"
    told: dict[str, list[str]] = {}
    for job in jobs:  # one kind is one job to answer for, whatever the days of its trees
        told.setdefault(job.kind, []).extend(tree for tree in job.trees if tree not in told.get(job.kind, []))
    numbers = json.dumps({"jobs": list(told.items())})
    row = Nudge(
        key=key,
        garden=garden.name,
        stage=due.stage,
        ask="",
        trees=due.trees,
        night=due.day,
        opened_utc=now,
        expires_utc=due.expires_utc,
        numbers=numbers,
        round_id=round_id,
    )
    if open_nudge(c, row):
        kept = nudge_by_key(c, key)
        number = kept.nudge_id if kept and len(told) == 1 else None
        send_to_all(c, garden, due, key, text, _buttons(number, *next(iter(told.items()))), now)
    return due


def _buttons(nudge_id: int | None, kind: str, trees: list[str]) -> tuple[Button, ...]:
    """A job alone can be answered by a tap; of several it must be said which. Of a look at one tree, what it showed."""
    if nudge_id is None:
        return ()
    labels = [*(label for label, _ in FOUND), LATER] if shows_what_died(JobKind(kind), trees) else LABELS
    return tuple(Button(label=label, data=button_data(Verb.JOB, f"j{nudge_id}", i)) for i, label in enumerate(labels))


def shows_what_died(kind: JobKind, trees: Sequence[str]) -> bool:
    """Whether the answer to a job is what was found dead, at one tree: of several a tap would say too much."""
    return kind in LOOKS and len(trees) == 1


def _announced(c: Connection, garden: Garden) -> Announced:
    kept: dict[str, Any] = json.loads(read_state(c, garden.name, STATE) or "{}")
    days = {name: date.fromisoformat(kept[name]) for name in ("looked", "gathered") if kept.get(name)}
    return Announced(told={key: date.fromisoformat(day) for key, day in kept.get("told", {}).items()}, **days)


def _note_announced(c: Connection, garden: Garden, announced: Announced) -> None:
    days = {name: day.isoformat() for name in ("looked", "gathered") if (day := getattr(announced, name))}
    told = {key: day.isoformat() for key, day in announced.told.items()}
    note_state(c, garden.name, STATE, json.dumps({**days, "told": told}))
