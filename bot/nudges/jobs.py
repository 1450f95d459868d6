"""When news of the year's jobs is due: gathered once a week, sooner only what would else come too late. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from typing import Final

from bot.nudges.nouns import DueNudge, Quiet, Stage
from rules.jobs import Job, JobMark, JobReason, MarkState

# None of these has a source; they are our first try, to be changed by what growers say.
GATHER_ON: Final = 5  # Saturday, when most people have time
FROM_HOUR: Final = 9
UNTIL_HOUR: Final = 19
ONCE_A_SEASON: Final = timedelta(days=182)
AGAIN_AFTER: Final = {
    JobReason.WIND_COMING: timedelta(days=14),
    JobReason.SNOW_FELL: timedelta(days=7),
    JobReason.WET_SNOW: timedelta(days=5),  # it presses harder, but who was told of snow looks at it anyway
}
# One piece of news, whatever came to be known of the weather since it was told.
SAME_NEWS: Final = {
    JobReason.RAIN_UNTOLD: JobReason.DRY_WINTER,
    JobReason.SNOW_UNTOLD: JobReason.SNOW_MAY_FALL,
    JobReason.WET_SNOW: JobReason.SNOW_FELL,
}
EACH_MONTH: Final = (JobReason.DRY_WINTER, JobReason.GNAWING)  # each of its windows is a job of its own
MONTHS_APART: Final = timedelta(days=14)  # but not told days after last month's, which was put off or forgotten
# Who was told of the wind before it came knows that it came; whether a month is dry is told when it has begun.
UNSAID: Final = (JobReason.WIND_PAST, JobReason.MAY_BE_DRY)
LIVES: Final = timedelta(days=7)


@dataclass(frozen=True, kw_only=True)
class Announced:
    """What was told of jobs: the day of each by its key, and the last days on which we looked and gathered."""

    told: Mapping[str, date] = field(default_factory=dict)
    looked: date | None = None
    gathered: date | None = None

    def after(self, jobs: Sequence[Job], today: date, *, is_busy: bool) -> "Announced":
        """What is on record once these were told today; what is too old to matter is left out."""
        kept = {key: day for key, day in self.told.items() if today - day < 2 * ONCE_A_SEASON}
        told = {**kept, **{_key(job, tree): today for job in jobs for tree in job.trees}}
        gathered = today if _is_gathering(self, today) and not is_busy else self.gathered
        return Announced(told=told, looked=today, gathered=gathered)


def is_time_to_look(announced: Announced, quiet: Quiet, now: datetime) -> bool:
    """Whether jobs may be told now: once a day, at a decent hour."""
    local = now.astimezone(quiet.zone)
    return announced.looked != local.date() and FROM_HOUR <= local.hour < UNTIL_HOUR and not quiet.holds(now)


def jobs_to_tell(
    jobs: Sequence[Job], announced: Announced, marks: Sequence[JobMark], today: date, *, is_busy: bool = False
) -> list[Job]:
    """The jobs worth a message today, the most pressing first; none on most days.

    Parameters
    ----------
    jobs
        From `jobs_to_announce`; the plan's acts among them have nudges of their own.
    announced, marks
        What was told before; what the grower answered.
    today
        The local date.
    is_busy
        Whether the cold asks for something already: then only what tomorrow would be too late for.

    Returns
    -------
    list of Job
        Each for the trees for which it was not told yet this season, or that asked to be told again.
    """
    apart = [job for job in jobs if not job.comes_with_wrap]  # the ask for the wrap, or its heads-up, tells those
    fresh = [left for job in apart if (left := _untold(job, announced, marks, today))]
    pressing = [job for job in fresh if _presses(job, marks, today)]
    if is_busy:
        return [job for job in fresh if job.by_day <= today + timedelta(days=1)]
    if not pressing and not _is_gathering(announced, today):
        return []
    return sorted(fresh, key=lambda job: (job not in pressing, job.by_day, job.from_day))


def jobs_nudge(jobs: Sequence[Job], quiet: Quiet, now: datetime) -> DueNudge:
    """The one quiet message of a day that tells these jobs."""
    today = now.astimezone(quiet.zone).date()
    last = min(max(job.by_day for job in jobs), today + LIVES)
    trees = tuple(dict.fromkeys(tree for job in jobs for tree in job.trees))
    expires = max(datetime.combine(last, time(UNTIL_HOUR), quiet.zone), now + timedelta(hours=1))
    return DueNudge(key=f"jobs:{today}", stage=Stage.JOBS, day=today, expires_utc=expires, silent=True, trees=trees)


def _key(job: Job, tree: str) -> str:
    reason = SAME_NEWS.get(job.reason, job.reason)
    window = f"|{job.by_day}" if reason in EACH_MONTH else ""
    return f"{job.kind}|{reason}|{tree}{window}"


def _is_gathering(announced: Announced, today: date) -> bool:
    """Whether it is the day of the week, or the first morning after one that was missed."""
    saturday = today - timedelta(days=(today.weekday() - GATHER_ON) % 7)
    return announced.gathered is None or announced.gathered < saturday


def _untold(job: Job, announced: Announced, marks: Sequence[JobMark], today: date) -> Job | None:
    if job.acts or job.reason in UNSAID:
        return None
    trees = tuple(tree for tree in job.trees if _is_untold(job, tree, announced, marks, today))
    if not trees:
        return None
    share = len(trees) / len(job.trees)
    return replace(job, trees=trees, minutes=job.minutes * share)


def _is_untold(job: Job, tree: str, announced: Announced, marks: Sequence[JobMark], today: date) -> bool:
    told = announced.told.get(_key(job, tree))
    if told is None:
        rests = today - _last_month(job, tree, announced) < MONTHS_APART
        return not rests and not any(until > today for until in _put_off(job, tree, marks))
    asked_again = [until for until in _put_off(job, tree, marks) if until > told]
    if asked_again:
        return max(asked_again) <= today
    return today - told >= AGAIN_AFTER.get(job.reason, ONCE_A_SEASON)


def _last_month(job: Job, tree: str, announced: Announced) -> date:
    """When the window before this one of a monthly job was told."""
    same = f"{job.kind}|{SAME_NEWS.get(job.reason, job.reason)}|{tree}|"
    return max((day for key, day in announced.told.items() if key.startswith(same)), default=date.min)


def _put_off(job: Job, tree: str, marks: Sequence[JobMark]) -> list[date]:
    own = [mark for mark in marks if mark.kind is job.kind and mark.tree in ("", tree)]
    return [mark.until for mark in own if mark.state is MarkState.PUT_OFF and mark.until]


def _presses(job: Job, marks: Sequence[JobMark], today: date) -> bool:
    """Whether next Saturday would be too late, or today is the day we promised to ask again."""
    ahead = (GATHER_ON - today.weekday()) % 7 or 7
    promised = any(today - LIVES < until <= today for tree in job.trees for until in _put_off(job, tree, marks))
    return job.by_day < today + timedelta(days=ahead) or promised
