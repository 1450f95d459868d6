"""What is due: the plan's acts and the year's jobs in one list by day, and the news of jobs to come."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Final

from bot.nudges import asks
from bot.wording.formats import Style, minutes, names, sentence
from bot.wording.nights import due_line, source_lines
from bot.wording.year.jobs import DOING, caution_words, job_line, job_reason, job_words, short_days, short_names
from bot.wording.year.supplies import piece_words
from rules.garden.supplies import to_buy
from rules.jobs import Caution, Job, JobKind, jobs_by_day, merged
from rules.outlook.garden_outlook import Outlook

Lines = Callable[[Sequence[Job], Outlook, Style], list[str]]
LONGEST_DUE: Final = 900  # letters of a week in one message; assumed, no source
LONGEST_MONTH: Final = 3500  # of a month, asked for as a whole; a message of Telegram holds 4096
LONGEST_NEWS: Final = 600
BOUGHT_NAMED: Final = 3  # things named in one line; the rest is in the shopping list


def due_message(
    jobs: Sequence[Job],
    outlook: Outlook,
    style: Style,
    first: date,
    *,
    lines: Lines,
    more: Sequence[str] = (),
    bare: Sequence[str] = (),
) -> str:
    """The jobs of some days in one message, what needs nothing, and whose forecast it rests on.

    Of what a phone cannot show the plan's acts and what ends first are told, the rest by its name.

    Parameters
    ----------
    jobs
        From `jobs_due`.
    outlook, style
        What the acts of the plan rest on, and the present; the grower's units.
    first
        The first of the days that were asked for.
    lines
        `week_lines` or `month_lines`.
    more
        What more there is to say of these days.
    bare
        Trees left bare on purpose, among those asked about.
    """
    by_day = [job for day in jobs_by_day(jobs, first).values() for job in day]
    named = {tree for job in jobs for tree in job.trees}
    idle = [name for name in bare if name not in named]
    ends = [*more, *([f"Nothing for {short_names(idle)}: left bare on purpose."] if idle else [])]
    ends += source_lines(outlook, style)
    longest = LONGEST_DUE if lines is week_lines else LONGEST_MONTH
    told = _that_fit(by_day, outlook, style, lines, longest - len("\n".join(ends)))
    untold = list(dict.fromkeys(DOING[job.kind] for job in by_day if job not in told))
    month = f"{first:%B}".lower()
    also = [f'Also due, for later: {names(untold)}. Say "due {month}" for all of them.'] if untold else []
    nothing = [] if more else ["Nothing is due."]
    return "\n".join([*(lines(told, outlook, style) or nothing), *also, *ends])


def _that_fit(jobs: Sequence[Job], outlook: Outlook, style: Style, lines: Lines, room: int) -> list[Job]:
    """As many of these jobs as a message has room for, in their order: acts of the plan before all else."""
    kept: list[Job] = []
    for job in sorted(jobs, key=lambda job: (not job.acts, job.by_day)):
        longer = [one for one in jobs if one in kept or one is job]
        if kept and len("\n".join(lines(longer, outlook, style))) > room:
            break
        kept = longer
    return kept


def week_lines(jobs: Sequence[Job], outlook: Outlook, style: Style) -> list[str]:
    """One line a job, by day; trees that need the same from the same day on share it, each with its last day."""
    today = outlook.now.astimezone(style.zone).date()
    groups = _groups(jobs, lambda job: max(job.from_day, today))
    return [line for group in groups for line in _week_lines(group, outlook, style)]


def month_lines(jobs: Sequence[Job], outlook: Outlook, style: Style) -> list[str]:
    """One line for all trees that need the same, each with its days; acts of the plan by their hours."""
    groups = _groups(jobs, lambda _: None)
    return [line for group in groups for line in _month_lines(group, outlook, style)]


def _groups(jobs: Sequence[Job], day: Callable[[Job], date | None]) -> list[list[Job]]:
    """Jobs of one kind for one reason from one day on, in the order in which the first of each comes."""
    alike: dict[tuple[object, ...], list[Job]] = {}
    for job in jobs:
        own = (job.acts,) if job.acts else ()
        alike.setdefault((job.kind, job.reason, job.basis, day(job), *own), []).append(job)
    return list(alike.values())


def _week_lines(group: Sequence[Job], outlook: Outlook, style: Style) -> list[str]:
    if len(group) == 1:
        return due_lines(group[0], outlook, style)
    now = outlook.now
    where = "; ".join(f"{short_names(job.trees)} until {style.day(job.by_day, now)}" for job in group)
    first = sentence(style.day(max(group[0].from_day, now.astimezone(style.zone).date()), now)).rstrip(".")
    return [f"{first}: {_together(group, where, style)}"]


def _month_lines(group: Sequence[Job], outlook: Outlook, style: Style) -> list[str]:
    if len(group) == 1:
        return due_lines(group[0], outlook, style)
    return [_line_of_all(group, style, lambda job: short_days(job, style))]


def _line_of_all(group: Sequence[Job], style: Style, days: Callable[[Job], str]) -> str:
    """Jobs of one kind and reason in one line: the trees with the same days together."""
    trees: dict[str, list[str]] = {}
    for job in group:
        trees.setdefault(days(job), []).extend(job.trees)
    where = "; ".join(f"{short_names(list(dict.fromkeys(named)))} {when}" for when, named in trees.items())
    return sentence(_together(group, where, style))


def _together(group: Sequence[Job], where: str, style: Style) -> str:
    """What is to be done at which trees, all their minutes, and why with the number that weighs most."""
    one = merged(group)
    what = job_words(replace(one, trees=())).rstrip()
    return f"{what} {where} ({minutes(one.minutes)} in all). {job_reason(one, style)}"


def due_lines(job: Job, outlook: Outlook, style: Style) -> list[str]:
    """One job: an act of the plan by its hours and temperatures, any other by its days; then what is to be bought."""
    by_hours = [due_line(ask, outlook, style, outlook.now) for ask in asks(job.acts, style.zone)]
    lines = by_hours or [job_line(job, style, outlook.now)]
    lines[-1] += _to_buy(job)
    return lines


def _to_buy(job: Job) -> str:
    """The first of what is to be bought for a job; empty where all is there."""
    bought = to_buy(job.supplies)
    named = ", ".join(piece_words(line.kind, line.buy) for line in bought[:BOUGHT_NAMED])
    return f" To buy: {named}{' and more' if len(bought) > BOUGHT_NAMED else ''}." if bought else ""


def why_of_job(job: Job | None, kind: JobKind, style: Style, now: datetime) -> str:
    """When the next job of a kind is due, why, and who says that it is worth doing."""
    if job is None:
        return f"Nothing more is due of that: {DOING[kind]}."
    return f"{job_line(job, style, now)}\nWho says so: {job.source}."


def jobs_news(
    jobs: Sequence[Job], unsaid: Sequence[Caution], style: Style, now: datetime
) -> tuple[str, list[Job], list[Caution]]:
    """One message of the jobs to come, with the cautions nobody heard yet; how many of them fit, and which cautions.

    What does not fit waits for the next message: a job is never told without its caution.
    """
    told = [*jobs[:1]]
    for job in jobs[1:]:
        if len(_news([*told, job], unsaid, style, now)) > LONGEST_NEWS:
            break
        told.append(job)
    return _news(told, unsaid, style, now), told, _cautions(told, unsaid)


def _news(jobs: Sequence[Job], unsaid: Sequence[Caution], style: Style, now: datetime) -> str:
    today = now.astimezone(style.zone).date()

    def days(job: Job) -> str:
        return f"until {style.short_date(job.by_day)}" if job.from_day <= today else short_days(job, style)

    groups = _groups(jobs, lambda _: None)
    lines = [
        _line_of_all(group, style, days) if len(group) > 1 else f"{job_line(group[0], style, now)}{_to_buy(group[0])}"
        for group in groups
    ]
    head = [] if len(lines) == 1 else ["Jobs ahead:"]
    return "\n".join([*head, *lines, *(caution_words(caution, style) for caution in _cautions(jobs, unsaid))])


def _cautions(jobs: Sequence[Job], unsaid: Sequence[Caution]) -> list[Caution]:
    meant = {caution for job in jobs for caution in job.cautions}
    return [caution for caution in unsaid if caution in meant]
