"""Which nudges are due: acts of the plan + what was said and answered + now. Pure; the tick only asks.

The ladder of one ask: heads-up (days ahead, silent) -> today (by daylight) -> last call -> silence, or a stand-down
when the forecast recovers. An answer ends it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from itertools import groupby
from typing import Final
from zoneinfo import ZoneInfo

from rules.plan import Act
from rules.records import DeedKind


class Stage(StrEnum):
    """How far an ask has come."""

    HEADS_UP = "heads-up"
    TODAY = "today"
    LAST_CALL = "last-call"
    STAND_DOWN = "stand-down"
    BLIND = "blind"  # we cannot see the coming night
    ALL_WELL = "all-well"
    JOBS = "jobs"  # news of the year's jobs


class NudgeState(StrEnum):
    """What became of a nudge."""

    OPEN = "open"
    ANSWERED = "answered"
    STOOD_DOWN = "stood_down"
    EXPIRED = "expired"


# None of these has a source; they are our first try, to be changed by what growers say.
TODAY_LEAD: Final = timedelta(hours=9)  # at breakfast, for who leaves for work
OPEN_LEAD: Final = timedelta(hours=1)
LAST_CALL_LEAD: Final = timedelta(minutes=75)
HEADS_UP_DAYS: Final = 4
HEADS_UP_CHANCE: Final = 0.3
STAND_DOWN_FALL: Final = 0.5  # the chance must halve before we say "not needed": no flutter with each forecast
MOST_PER_NIGHT: Final = 3
COLD_JOBS: Final = (DeedKind.WRAPPED, DeedKind.CLOSED)  # only these have a dusk that must not be missed
SILENT_STAGES: Final = (Stage.HEADS_UP, Stage.STAND_DOWN, Stage.JOBS)
NEVER_RING: Final = (Stage.HEADS_UP, Stage.JOBS)
BLIND_AFTER: Final = timedelta(hours=24)


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
    def night(self) -> date:
        """The first of the nights it is for."""
        return min(act.night for act in self.acts)


@dataclass(frozen=True, kw_only=True)
class Said:
    """One nudge that went out before, as the logbook kept it."""

    key: str
    stage: Stage
    verb: DeedKind | None
    trees: tuple[str, ...]
    day: date
    opened_utc: datetime
    state: NudgeState = NudgeState.OPEN
    chance: float = 0.0
    night: date | None = None


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """Trees the grower cannot tend, or not before a time: nothing is asked for them until then."""

    trees: tuple[str, ...]
    noted_utc: datetime
    until_utc: datetime
    asks_again: bool  # "later" asks again, "can't" does not


@dataclass(frozen=True, kw_only=True)
class Nudge:
    """One message that is due now; `edits` names an earlier one it changes in place, `settles` those it ends."""

    key: str
    stage: Stage
    day: date
    expires_utc: datetime
    ask: Ask | None = None
    about: Said | None = None
    silent: bool = False
    edits: str | None = None
    trees: tuple[str, ...] = field(default=())
    settles: tuple[str, ...] = field(default=())


def asks(acts: Iterable[Act], zone: ZoneInfo) -> list[Ask]:
    """The acts gathered into one ask for each verb and day, earliest first."""

    def day(act: Act) -> date:
        return act.by_utc.astimezone(zone).date()

    ordered = sorted(acts, key=lambda act: (day(act), act.kind, act.by_utc, act.tree))
    groups = groupby(ordered, key=lambda act: (day(act), act.kind))
    return [Ask(verb=kind, day=when, acts=tuple(group)) for (when, kind), group in groups]


def nudges_due(
    wanted: Sequence[Ask],
    said: Sequence[Said],
    refusals: Sequence[Refusal],
    chance_now: Mapping[tuple[str, date], float],
    quiet: Quiet,
    now: datetime,
) -> list[Nudge]:
    """The nudges due at `now`, the most pressing first.

    Parameters
    ----------
    wanted
        What the plan asks for now.
    said
        Nudges of the last days, in any state.
    refusals
        What the grower cannot do, or not yet.
    chance_now
        Chance of harm by (tree, evening of the night) if all stays as it is.
    quiet
        The hours in which nothing is sent.
    now
        The present, aware.

    Returns
    -------
    list of Nudge
        Empty in quiet hours. The same call after the nudges were noted as said returns nothing.
    """
    if quiet.holds(now):
        return []
    first = _first_of_each_tree(wanted)
    due = [nudge for ask in first if (nudge := _step(ask, said, refusals, quiet, now))]
    due += _stand_downs(wanted, said, chance_now, quiet, now)
    order = {Stage.LAST_CALL: 0, Stage.TODAY: 1, Stage.STAND_DOWN: 2, Stage.HEADS_UP: 3}
    due.sort(key=lambda nudge: (order[nudge.stage], nudge.expires_utc))
    return _at_most_three(due, said, quiet.zone, now)


def _first_of_each_tree(wanted: Sequence[Ask]) -> list[Ask]:
    """The asks without the acts that come after another act at the same tree: first things first."""
    begun: set[str] = set()
    first = []
    for ask in sorted(wanted, key=lambda ask: ask.by_utc):
        acts = tuple(act for act in ask.acts if act.tree not in begun)
        begun |= {act.tree for act in acts}
        if acts:
            first.append(replace(ask, acts=acts))
    return first


def stage_times(ask: Ask, quiet: Quiet) -> dict[Stage, datetime]:
    """When the act-today message and the last call of an ask are due, moved out of the quiet hours, early not late.

    A message that breakfast would bring too late to act goes out the evening before.
    """
    is_morning = ask.verb in (DeedKind.VENTED, DeedKind.STRIPPED)
    today = ask.from_utc - OPEN_LEAD if is_morning else ask.by_utc - TODAY_LEAD
    last = ask.by_utc - LAST_CALL_LEAD
    if quiet.holds(today):
        awake = datetime.combine(today.astimezone(quiet.zone).date(), quiet.end, quiet.zone)
        today = awake if today <= awake <= last else quiet.before(today)
    return {Stage.TODAY: today, Stage.LAST_CALL: quiet.before(last)}


def _step(ask: Ask, said: Sequence[Said], refusals: Sequence[Refusal], quiet: Quiet, now: datetime) -> Nudge | None:
    open_acts = tuple(act for act in ask.acts if not _refused(act.tree, refusals, ask, now))
    if not open_acts or now > ask.by_utc:
        return None
    ask = Ask(verb=ask.verb, day=ask.day, acts=open_acts)
    stage = _stage(ask, quiet, now)
    if stage is None:
        return None
    if stage == Stage.HEADS_UP:
        return _heads_up(ask, said, now)
    earlier = [s for s in said if s.verb == ask.verb and s.day == ask.day and s.stage not in SILENT_STAGES]
    if stage == Stage.LAST_CALL and not _told_long_ago(earlier, now):
        stage = Stage.TODAY
    return _new_or_more(ask, stage, earlier, _asked_lately(ask, said))


def _asked_lately(ask: Ask, said: Sequence[Said]) -> set[str]:
    """Trees already asked for on an earlier day, whose night is still to come: not rung for again till then."""
    lately = [s for s in said if s.stage == Stage.TODAY and s.verb == ask.verb and s.state != NudgeState.STOOD_DOWN]
    lately = [s for s in lately if s.night is not None and s.night > s.day and s.night >= ask.day]
    waiting = {act.tree for act in ask.acts if act.night > ask.day}
    return waiting & {tree for s in lately for tree in s.trees}


def _heads_up(ask: Ask, said: Sequence[Said], now: datetime) -> Nudge | None:
    """One quiet message about a job for days; it is changed in place as trees join it or its day moves."""
    live = [
        s for s in said
        if s.stage == Stage.HEADS_UP and s.verb == ask.verb and s.state == NudgeState.OPEN
        and now - s.opened_utc < timedelta(days=HEADS_UP_DAYS)
    ]  # fmt: skip
    if any(set(ask.trees) <= set(s.trees) and s.day <= ask.day for s in live):
        return None
    count = sum(s.stage == Stage.HEADS_UP and s.verb == ask.verb and s.day == ask.day for s in said)
    return Nudge(
        key=f"{ask.verb}:{ask.day}:{Stage.HEADS_UP}:{count}",
        stage=Stage.HEADS_UP,
        day=ask.day,
        expires_utc=ask.by_utc,
        ask=ask,
        silent=True,
        edits=live[0].key if live else None,
        trees=ask.trees,
    )


def _stage(ask: Ask, quiet: Quiet, now: datetime) -> Stage | None:
    times = stage_times(ask, quiet)
    if now >= times[Stage.LAST_CALL] and ask.verb in COLD_JOBS and ask.night <= ask.day:
        return Stage.LAST_CALL
    if now >= times[Stage.TODAY]:
        return Stage.TODAY
    days_ahead = (ask.day - now.astimezone(quiet.zone).date()).days
    if ask.verb == DeedKind.WRAPPED and days_ahead <= HEADS_UP_DAYS and ask.chance >= HEADS_UP_CHANCE:
        return Stage.HEADS_UP
    return None


def _told_long_ago(earlier: Sequence[Said], now: datetime) -> bool:
    """Whether an act-today message went out long enough ago for a last call not to be a second ask at once."""
    return any(s.stage == Stage.TODAY and now - s.opened_utc > LAST_CALL_LEAD / 2 for s in earlier)


def _new_or_more(ask: Ask, stage: Stage, earlier: Sequence[Said], lately: set[str]) -> Nudge | None:
    """The ask for the trees that were not asked for at this stage yet."""
    same = [s for s in earlier if s.stage == stage]
    asked = {tree for s in same for tree in s.trees} | lately
    acts = tuple(act for act in ask.acts if act.tree not in asked)
    if not acts:
        return None
    return Nudge(
        key=f"{ask.verb}:{ask.day}:{stage}:{len(same)}",
        stage=stage,
        day=ask.day,
        expires_utc=ask.by_utc,
        ask=Ask(verb=ask.verb, day=ask.day, acts=acts),
        trees=tuple(act.tree for act in acts),
    )


def _refused(tree: str, refusals: Sequence[Refusal], ask: Ask, now: datetime) -> bool:
    for refusal in refusals:
        if tree in refusal.trees:
            in_time = refusal.until_utc < ask.by_utc or ask.night > ask.day
            if refusal.asks_again and now < refusal.until_utc and in_time:
                return True
            if not refusal.asks_again and refusal.noted_utc < ask.by_utc <= refusal.until_utc:
                return True
    return False


def _stand_downs(
    wanted: Sequence[Ask],
    said: Sequence[Said],
    chance_now: Mapping[tuple[str, date], float],
    quiet: Quiet,
    now: datetime,
) -> list[Nudge]:
    still = {(ask.verb, tree) for ask in wanted for tree in ask.trees}
    over: dict[tuple[DeedKind, date], list[Said]] = {}
    for nudge in said:
        if (
            nudge.state == NudgeState.OPEN
            and nudge.verb
            and nudge.night
            and now.astimezone(quiet.zone).date() <= nudge.day
        ):
            gone = not any((nudge.verb, tree) in still for tree in nudge.trees)
            risk = max((chance_now.get((tree, nudge.night), 1.0) for tree in nudge.trees), default=1.0)
            if gone and nudge.verb in COLD_JOBS and risk <= STAND_DOWN_FALL * nudge.chance:
                over.setdefault((nudge.verb, nudge.day), []).append(nudge)
    return [_stand_down(nudges, quiet.zone) for nudges in over.values()]


def _stand_down(nudges: Sequence[Said], zone: ZoneInfo) -> Nudge:
    last = max(nudges, key=lambda nudge: nudge.opened_utc)
    return Nudge(
        key=f"{last.key}:{Stage.STAND_DOWN}",
        stage=Stage.STAND_DOWN,
        day=last.day,
        expires_utc=datetime.combine(last.day + timedelta(days=1), time(12), zone),
        about=last,
        settles=tuple(nudge.key for nudge in nudges),
        edits=min(nudges, key=lambda nudge: nudge.opened_utc).key if last.stage == Stage.HEADS_UP else None,
        silent=last.stage == Stage.HEADS_UP,
        trees=last.trees,
    )


def _at_most_three(due: Sequence[Nudge], said: Sequence[Said], zone: ZoneInfo, now: datetime) -> list[Nudge]:
    """No more than three messages from noon to noon; what does not ring is not counted."""

    def evening(moment: datetime) -> date:
        return (moment.astimezone(zone) - timedelta(hours=12)).date()

    rung = [s for s in said if s.stage not in NEVER_RING and evening(s.opened_utc) == evening(now)]
    left = MOST_PER_NIGHT - len(rung)
    kept: list[Nudge] = []
    for nudge in due:
        if nudge.silent or left > 0:
            kept.append(nudge)
            left -= 0 if nudge.silent else 1
    return kept


def blind_nudge(
    age: timedelta | None, said: Sequence[Said], quiet: Quiet, now: datetime, at_risk: bool
) -> Nudge | None:
    """The message that we cannot see the coming night; once a day, in the afternoon, only where a tree is at risk.

    `age` is how old the newest forecast is; None when there is none.
    """
    local = now.astimezone(quiet.zone)
    if not at_risk or (age is not None and age < BLIND_AFTER) or local.hour < 12 or quiet.holds(now):
        return None
    if any(s.stage == Stage.BLIND and s.day == local.date() for s in said):
        return None
    expires = datetime.combine(local.date() + timedelta(days=1), time(6), quiet.zone)
    return Nudge(key=f"blind:{local.date()}", stage=Stage.BLIND, day=local.date(), expires_utc=expires)


def all_well_nudge(said: Sequence[Said], first_round: datetime, quiet: Quiet, now: datetime) -> Nudge | None:
    """The weekly word that all is well: seven days after anything was last said, at a quiet hour of the day."""
    local = now.astimezone(quiet.zone)
    last = max([s.opened_utc for s in said], default=first_round)
    if now - last < timedelta(days=7) or not 16 <= local.hour < 20 or quiet.holds(now):
        return None
    expires = now + timedelta(hours=12)
    return Nudge(
        key=f"all-well:{local.date()}", stage=Stage.ALL_WELL, day=local.date(), expires_utc=expires, silent=True
    )
