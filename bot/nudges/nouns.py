"""The words of the nudge ladder: stages, quiet hours, asks, what was said, what is refused, what is due."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from itertools import groupby
from typing import Final
from zoneinfo import ZoneInfo

from rules.garden.records import DeedKind
from rules.plan.garden_plan import Act

# A night under this chance of harm is asked for without a ring: what weighs cost against loss would still go, a grower
# called out for nothing nineteen times of twenty stops listening. No source.
RINGS_FROM: Final = 1 / 20
COLD_JOBS: Final = (
    DeedKind.WRAPPED,
    DeedKind.CLOSED,
    DeedKind.BLANKETED,
)  # only these have a dusk that must not be missed


class Stage(StrEnum):
    """How far an ask has come."""

    HEADS_UP = "heads-up"
    TODAY = "today"
    LAST_CALL = "last-call"
    STAND_DOWN = "stand-down"
    WAKE = "wake"  # in the quiet hours, to who asked for it
    BLIND = "blind"  # we cannot see the coming night
    ALL_WELL = "all-well"
    JOBS = "jobs"  # news of the year's jobs
    OFFER = "offer"  # a little thing that helps a tree at risk for which nothing is asked
    LOST = "lost"  # a night probably killed a tree above ground


class NudgeState(StrEnum):
    """What became of a nudge."""

    OPEN = "open"
    ANSWERED = "answered"
    STOOD_DOWN = "stood_down"  # the forecast recovered
    EXPIRED = "expired"  # too late to act


@dataclass(frozen=True, kw_only=True)
class Quiet:
    """The hours in which nobody is woken, on the grower's clock; may run over midnight."""

    start: time
    end: time
    zone: ZoneInfo

    def holds(self, moment: datetime) -> bool:
        """Whether `moment` lies in the quiet hours."""
        clock = moment.astimezone(self.zone).time()
        if self.start <= self.end:
            return self.start <= clock < self.end
        return clock >= self.start or clock < self.end

    def next_start(self, moment: datetime) -> datetime:
        """When the quiet hours begin next after `moment`."""
        local = moment.astimezone(self.zone)
        days = (local.date(), local.date() + timedelta(days=1))
        starts = [datetime.combine(day, self.start, self.zone).astimezone(moment.tzinfo) for day in days]
        return next(start for start in starts if start > moment)

    def before(self, moment: datetime) -> datetime:
        """`moment`, or the last minute before the quiet hours it lies in: early, never late."""
        if not self.holds(moment):
            return moment
        local = moment.astimezone(self.zone)
        day = local.date() if local.time() >= self.start else local.date() - timedelta(days=1)
        return datetime.combine(day, self.start, self.zone).astimezone(moment.tzinfo) - timedelta(minutes=1)


@dataclass(frozen=True, kw_only=True)
class Ask:
    """One job on one day for all trees that need it."""

    verb: DeedKind
    day: date
    acts: tuple[Act, ...]

    @property
    def trees(self) -> tuple[str, ...]:
        """Names of the trees, in the order of the plan."""
        return tuple(act.tree for act in self.acts)

    @property
    def by_utc(self) -> datetime:
        """When to begin at the latest; the plan leaves time for all that is tended in the visit."""
        return min(act.by_utc for act in self.acts)

    @property
    def done_by_utc(self) -> datetime:
        """When all of it is done, if begun at the latest."""
        return self.by_utc + timedelta(minutes=self.minutes)

    @property
    def from_utc(self) -> datetime:
        """The start of that daylight."""
        return max(act.from_utc for act in self.acts)

    @property
    def minutes(self) -> float:
        """Working time of all of it."""
        return sum(act.minutes for act in self.acts)

    @property
    def chance(self) -> float:
        """Highest chance of harm among its trees if nothing is done."""
        return max(act.chance for act in self.acts)

    @property
    def unlikely(self) -> bool:
        """Whether it is against cold that will most likely do no harm, and no way its grower chose asks for it."""
        return self.verb in COLD_JOBS and self.chance < RINGS_FROM and not any(act.own_way for act in self.acts)

    @property
    def can_wait(self) -> bool:
        """Whether there is time for all of it later too, before its night."""
        return all(act.can_wait for act in self.acts)

    @property
    def night(self) -> date:
        """The first of the nights it is for."""
        return min(act.night for act in self.acts)


@dataclass(frozen=True, kw_only=True)
class PastNudge:
    """One nudge that went out before, as the logbook kept it."""

    key: str
    stage: Stage
    verb: DeedKind | None
    trees: tuple[str, ...]
    day: date
    opened_utc: datetime
    state: NudgeState = NudgeState.OPEN
    chance: float = 0.0  # the highest of its trees
    chances: Mapping[str, float] = field(default_factory=dict)
    night: date | None = None
    silent: bool = False


@dataclass(frozen=True, kw_only=True)
class Declined:
    """Trees the grower cannot tend, or not before a time: nothing is asked for them until then."""

    trees: tuple[str, ...]
    noted_utc: datetime
    until_utc: datetime
    asks_again: bool  # "later" asks again, "can't" does not


@dataclass(frozen=True, kw_only=True)
class DueNudge:
    """One message that is due now; `edits` names an earlier one it changes in place, `settles` those it ends.

    `text` is all it says, where it is known already; `lapsed` a stand-down though the night is as cold as was told.
    """

    key: str
    stage: Stage
    day: date
    expires_utc: datetime
    ask: Ask | None = None
    about: PastNudge | None = None
    silent: bool = False
    edits: str | None = None
    trees: tuple[str, ...] = field(default=())
    settles: tuple[str, ...] = field(default=())
    text: str = ""
    lapsed: bool = False


def asks(acts: Iterable[Act], zone: ZoneInfo) -> list[Ask]:
    """The acts gathered into one ask for each verb and day, earliest first."""

    def day(act: Act) -> date:
        return act.by_utc.astimezone(zone).date()

    ordered = sorted(acts, key=lambda act: (day(act), act.kind, act.by_utc, act.tree))
    groups = groupby(ordered, key=lambda act: (day(act), act.kind))
    return [Ask(verb=kind, day=when, acts=tuple(group)) for (when, kind), group in groups]
