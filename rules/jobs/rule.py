"""One rule of the year: when its job is wanted, and all that stays the same about it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from rules.jobs.facts import Facts, GardenYear
from rules.jobs.nouns import Caution, JobKind, Window


@dataclass(frozen=True, kw_only=True)
class JobRule:
    """What every rule says of its job.

    Parameters
    ----------
    kind
        The job.
    minutes, lead_days
        Minutes at one tree, or for the whole garden; days of warning before the first day. Assumed, no source, unless
        `source` says more.
    source
        Who says that the job is worth doing.
    cautions
        What it may warn of; those that do not fit the tree are left out.
    rests_days
        Days it is quiet once done; None for the rest of the season.
    for_bare
        Whether a tree left bare on purpose has it too: only what is looked at and written down.
    shops
        Whether it lists what the covers take.
    on
        Whether it is asked unless the garden file says otherwise.
    """

    kind: JobKind
    minutes: float
    lead_days: int
    source: str
    cautions: tuple[Caution, ...] = ()
    rests_days: int | None = None
    for_bare: bool = False
    shops: bool = False
    on: bool = True


@dataclass(frozen=True, kw_only=True)
class TreeRule(JobRule):
    """A rule that is asked tree by tree."""

    when: Callable[[Facts], Iterable[Window]]


@dataclass(frozen=True, kw_only=True)
class GardenRule(JobRule):
    """A rule that is asked once for all trees; `trees` are those it is for."""

    when: Callable[[GardenYear], Iterable[Window]]
    trees: Callable[[GardenYear], list[Facts]]
