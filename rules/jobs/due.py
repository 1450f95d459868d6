"""The jobs of a stretch of days: every rule asked, the grower's wishes and answers heeded, trees put together."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import groupby
from typing import Final

from rules.garden.supplies import needs
from rules.jobs.cautions import fits
from rules.jobs.facts import Facts, GardenFacts, GardenYear
from rules.jobs.nouns import Job, JobKind, JobMark, JobSettings, MarkState, Window, amount_of
from rules.jobs.rule import GardenRule, JobRule, TreeRule
from rules.jobs.seasons import autumn, covering, spring, water, winter
from rules.jobs.year import JobYear

RULES: Final[tuple[TreeRule | GardenRule, ...]] = (
    *autumn.RULES,
    *covering.RULES,
    *winter.RULES,
    *water.RULES,
    *spring.RULES,
)
ORDER: Final = {kind: place for place, kind in enumerate(JobKind)}
GARDEN_WIDE: Final = frozenset(rule.kind for rule in RULES if isinstance(rule, GardenRule))
HALF_A_YEAR: Final = timedelta(days=182)  # an answer is about the season it lies nearest to
TOLD_TOGETHER: Final = timedelta(days=14)  # the same job at other trees is told along; assumed, no source
LONGEST_DAYS: Final = 400


@dataclass(frozen=True, kw_only=True)
class _Found:
    """One window of one rule, with the trees it is for."""

    rule: JobRule
    window: Window
    trees: tuple[Facts, ...]


def jobs_due(garden: GardenFacts, first: date, last: date) -> list[Job]:
    """The jobs that can or must be done between two days, in the order in which they come.

    Within the forecast the plan and the nights ahead decide, beyond it past winters, and where none are known the
    calendar; `Job.basis` says which. Trees that need the same on the same days for the same reason share a job.

    Parameters
    ----------
    garden
        What is known of the garden today.
    first, last
        The days asked for, local, both in.

    Raises
    ------
    ValueError
        `last` before `first`, or more than 400 days after it.
    """
    if not 0 <= (last - first).days <= LONGEST_DAYS:
        raise ValueError(f"days due must run forward over at most {LONGEST_DAYS} days, got {first} to {last}")
    years = {year: _facts(garden, year) for year in _years(garden, first, last)}
    asked = [found for year, trees in years.items() for rule in RULES for found in _found(rule, garden, year, trees)]
    open_still = [left for found in asked if (left := _after_marks(found, garden)) is not None]
    in_turn = _in_turn(open_still, garden.today)
    shown = [found for found in in_turn if found.window.from_day <= last and found.window.by_day >= first]
    jobs = sorted((_job(group, garden) for group in _alike(shown)), key=lambda job: _place(job, first))
    return list(_with_supplies(jobs, garden))


def jobs_to_announce(garden: GardenFacts) -> list[Job]:
    """The jobs whose days of warning have begun and whose last day has not gone by.

    None for trees left bare on purpose alone: nobody is called to them, though they stand in `jobs_due`. Nor for what
    waits for a deed.
    """
    bare = {one.tree.name for one in garden.trees if one.tree.left_bare}
    longest = max(_lead_days(rule, garden) for rule in RULES)
    ahead = jobs_due(garden, garden.today, garden.today + timedelta(days=longest) + TOLD_TOGETHER)
    begun = [job for job in ahead if _warned_from(job) <= garden.today]
    told = [job for job in begun if not job.comes_with_wrap]  # who is to be wrapped now brings no other tree along
    begun += [job for job in ahead if job not in begun and comes_with(job, told, garden.today)]
    return [job for job in begun if not job.waits and not bare.issuperset(job.trees)]


def jobs_with_wrap(garden: GardenFacts, day: date, trees: Collection[str]) -> list[Job]:
    """What must be done at some of these trees before they are wrapped, where the plan asks for that on this day."""
    return [job for job in jobs_at(jobs_due(garden, day, day), trees) if job.comes_with_wrap]


def _warned_from(job: Job) -> date:
    return job.from_day - timedelta(days=job.lead_days)


def comes_with(job: Job, begun: Sequence[Job], today: date) -> bool:
    """Whether the same job has begun at other trees: then these are told with them, not a week later again."""
    same = [one for one in begun if one.kind is job.kind and one.reason is job.reason]
    others = bool(same) and not any(set(one.trees) & set(job.trees) for one in same)
    return others and _warned_from(job) <= today + TOLD_TOGETHER


def jobs_at(jobs: Iterable[Job], trees: Collection[str]) -> list[Job]:
    """What of these jobs is at some of their trees; an act of the plan and a job of the whole garden stay whole."""
    here = [(job, tuple(tree for tree in job.trees if tree in trees)) for job in jobs]
    return [_part(job, at) for job, at in here if at]


def _part(job: Job, trees: tuple[str, ...]) -> Job:
    if job.acts or job.kind in GARDEN_WIDE:
        return job
    return replace(job, trees=trees, minutes=job.minutes * len(trees) / len(job.trees))


def jobs_by_day(jobs: Iterable[Job], first: date) -> dict[date, list[Job]]:
    """Jobs under the first day on which they can be done, from `first` on, earliest day first."""
    days: dict[date, list[Job]] = {}
    for job in sorted(jobs, key=lambda job: _place(job, first)):
        days.setdefault(max(job.from_day, first), []).append(job)
    return days


def _place(job: Job, first: date) -> tuple[date, date, int, tuple[str, ...]]:
    return max(job.from_day, first), job.by_day, ORDER[job.kind], job.trees


def _years(garden: GardenFacts, first: date, last: date) -> list[JobYear]:
    """The years whose jobs may touch these days; late and early ones spill over midsummer."""
    days = [first - HALF_A_YEAR, first, last, last + HALF_A_YEAR]
    return sorted({garden.year_of(day) for day in days}, key=lambda year: year.start)


def _facts(garden: GardenFacts, year: JobYear) -> list[Facts]:
    return [Facts(garden=garden, one=one, year=year) for one in garden.trees]


def _found(
    rule: TreeRule | GardenRule, garden: GardenFacts, year: JobYear, trees_known: Sequence[Facts]
) -> Iterator[_Found]:
    if not _is_on(rule, garden):
        return
    if isinstance(rule, GardenRule):
        whole = GardenYear(garden=garden, year=year)
        if trees := tuple(rule.trees(whole)):
            yield from (_Found(rule=rule, window=window, trees=trees) for window in rule.when(whole))
        return
    for facts in trees_known:
        if rule.for_bare or not facts.tree.left_bare:
            yield from (_Found(rule=rule, window=window, trees=(facts,)) for window in rule.when(facts))


def _tuning(rule: JobRule, garden: GardenFacts) -> JobSettings:
    return garden.settings.get(rule.kind, JobSettings())


def _is_on(rule: JobRule, garden: GardenFacts) -> bool:
    on = _tuning(rule, garden).on
    return rule.on if on is None else on


def _lead_days(rule: JobRule, garden: GardenFacts) -> int:
    lead_days = _tuning(rule, garden).lead_days
    return rule.lead_days if lead_days is None else lead_days


def _after_marks(found: _Found, garden: GardenFacts) -> _Found | None:
    """What the grower's answers leave of a window; None when it is done, refused, or put off past its end."""
    for mark in garden.marks:
        if not _is_about(mark, found, garden):
            continue
        window = _after_mark(mark, found, garden)
        if window is None:
            return None
        found = replace(found, window=window)
    return found


def _is_about(mark: JobMark, found: _Found, garden: GardenFacts) -> bool:
    if mark.kind is not found.rule.kind or abs(_day(mark, garden) - found.window.from_day) > HALF_A_YEAR:
        return False
    return isinstance(found.rule, GardenRule) or mark.tree in ("", found.trees[0].tree.name)


def _day(mark: JobMark, garden: GardenFacts) -> date:
    return mark.at_utc.astimezone(garden.site.zone).date()


def _after_mark(mark: JobMark, found: _Found, garden: GardenFacts) -> Window | None:
    rests, window = found.rule.rests_days, found.window
    if mark.state is MarkState.PUT_OFF and mark.until is not None:
        return _put_off(window, mark.until, may_stretch=rests is None)
    if rests is None or (mark.state is MarkState.REFUSED and rests > 0):
        return None
    return _put_off(window, _day(mark, garden) + timedelta(days=max(rests, 1)), may_stretch=False)


def _put_off(window: Window, until: date, *, may_stretch: bool) -> Window | None:
    """The window from a later day on; what comes once a season is still asked on that day when its end has passed."""
    if until > window.by_day and not may_stretch:
        return None
    return replace(window, from_day=max(window.from_day, until), by_day=max(window.by_day, until))


def _in_turn(found: Sequence[_Found], today: date) -> list[_Found]:
    """What comes again is asked for once at a time: the next window waits as if the one before it were done first."""
    turns: list[_Found] = []
    last: dict[tuple[JobRule, tuple[str, ...]], date] = {}
    for one in sorted(found, key=lambda one: one.window.from_day):
        key = (one.rule, tuple(facts.tree.name for facts in one.trees))
        rests = timedelta(days=one.rule.rests_days or 0)
        if one.window.by_day >= today and rests:
            window = _put_off(one.window, last[key] + rests, may_stretch=False) if key in last else one.window
            if window is None:
                continue
            one = replace(one, window=window)
            last[key] = max(window.from_day, today)
        turns.append(one)
    return turns


def _alike(found: Sequence[_Found]) -> Iterator[list[_Found]]:
    def key(one: _Found) -> tuple[int, date, date, str, str, bool]:
        window = one.window
        return ORDER[one.rule.kind], window.from_day, window.by_day, window.reason, window.basis, window.waits

    for _, group in groupby(sorted(found, key=key), key=key):
        yield list(group)


def _job(group: Sequence[_Found], garden: GardenFacts) -> Job:
    rule, window = group[0].rule, group[0].window
    trees = [facts for one in group for facts in one.trees]
    return Job(
        kind=rule.kind,
        trees=tuple(facts.tree.name for facts in trees),
        from_day=window.from_day,
        by_day=window.by_day,
        minutes=sum(_minutes(one, garden) for one in group),
        lead_days=_lead_days(rule, garden),
        reason=window.reason,
        amount=amount_of(window.reason, [one.window.amount for one in group]),
        basis=window.basis,
        cautions=tuple(c for c in rule.cautions if any(fits(c, facts) for facts in trees)),
        source=rule.source,
        acts=tuple(one.window.act for one in group if one.window.act),
        waits=window.waits,
    )


def _minutes(one: _Found, garden: GardenFacts) -> float:
    """The grower's own minutes, else the plan's, else the cover's for wrapping, else the rule's."""
    own = _tuning(one.rule, garden).minutes
    if own is not None:
        return own
    if one.window.act is not None:
        return one.window.act.minutes
    cover = one.trees[0].cover
    if one.rule.kind is JobKind.WRAP and cover is not None:
        return cover.minutes_to_wrap + cover.minutes_to_close
    return one.rule.minutes


def _with_supplies(jobs: Sequence[Job], garden: GardenFacts) -> Iterator[Job]:
    """The jobs with what they take; each wrapping finds in the shed what those before it have left."""
    shops = {rule.kind for rule in RULES if rule.shops}
    shed = garden.shed
    for job in jobs:
        if job.kind not in shops:
            yield job
            continue
        trees = [facts for facts in _trees_of(job, garden) if facts.waits_for_cover]
        ground = [facts.cover for facts in trees if facts.cover and not facts.in_pot]
        potted = [facts.cover for facts in trees if facts.cover and facts.in_pot]
        lines = tuple(needs(ground, shed if job.kind is JobKind.WRAP else garden.shed, potted=potted))
        if job.kind is JobKind.WRAP:
            left = {line.kind: max(0.0, line.have - line.amount) / line.piece for line in lines}
            shed = shed.model_copy(update={"have": {**shed.have, **left}})
        yield replace(job, supplies=lines)


def _trees_of(job: Job, garden: GardenFacts) -> list[Facts]:
    year = garden.year_of(job.by_day)
    return [Facts(garden=garden, one=one, year=year) for one in garden.trees if one.tree.name in job.trees]
