"""Which nudges are due: acts of the plan + what was said and answered + now. Pure; the tick only asks.

The ladder of one ask: heads-up (days ahead, silent) -> today (by daylight) -> last call -> silence, or a stand-down
when the forecast recovers. An answer ends it. An ask for a night that will most likely do no harm never rings: it is
written once, silent, when there is no time left to wait for better news, and stands among what is due till then.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from bot.nudges.nouns import COLD_JOBS, Ask, Declined, DueNudge, NudgeState, PastNudge, Quiet, Stage
from bot.nudges.stand_downs import stand_downs
from rules.garden.records import DeedKind
from rules.plan.garden_plan import Reason

# None of these has a source; they are our first try, to be changed by what growers say.
TODAY_LEAD: Final = timedelta(hours=9)  # at breakfast, for who leaves for work
OPEN_LEAD: Final = timedelta(hours=1)
LAST_CALL_LEAD: Final = timedelta(minutes=75)
HEADS_UP_DAYS: Final = 4
HEADS_UP_CHANCE: Final = 0.3
UNHURRIED_DAYS: Final = 4
HEADS_UP_REST: Final = timedelta(days=1)
HEADS_UP_MORE: Final = 0.2  # by which the chance must have risen since a job was announced, to be announced again
MOST_PER_NIGHT: Final = 3
SILENT_STAGES: Final = (Stage.HEADS_UP, Stage.STAND_DOWN, Stage.JOBS, Stage.LOST)
NEVER_RING: Final = (Stage.HEADS_UP, Stage.JOBS, Stage.LOST)


def nudges_due(
    wanted: Sequence[Ask],
    said: Sequence[PastNudge],
    refusals: Sequence[Declined],
    chance_now: Mapping[tuple[str, date], float],
    quiet: Quiet,
    now: datetime,
    weighed: Callable[[], Collection[str]] = tuple,
) -> list[DueNudge]:
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
    weighed
        Gives the trees for which nothing is asked today only because it is not worth it.

    Returns
    -------
    list of DueNudge
        Empty in quiet hours. The same call after the nudges were noted as said returns nothing.
    """
    if quiet.holds(now):
        return []
    first = _first_of_each_tree(_without_second_ways(wanted, said))
    due = [nudge for ask in first if (nudge := _step(ask, said, refusals, quiet, now))]
    due += stand_downs(wanted, said, chance_now, quiet, now, weighed)
    order = {Stage.LAST_CALL: 0, Stage.TODAY: 1, Stage.STAND_DOWN: 2, Stage.HEADS_UP: 3}
    due.sort(key=lambda nudge: (order[nudge.stage], nudge.expires_utc))
    return _at_most_three(due, said, quiet.zone, now)


def _without_second_ways(wanted: Sequence[Ask], said: Sequence[PastNudge]) -> list[Ask]:
    """The asks without blankets over trees whose cover somebody was asked aloud today to put on: that stands."""
    asked = {
        (s.day, tree) for s in said
        if s.verb is DeedKind.WRAPPED and s.state == NudgeState.OPEN and _rang(s) for tree in s.trees
    }  # fmt: skip
    return [
        replace(ask, acts=acts) for ask in wanted
        if (acts := tuple(
            act for act in ask.acts if ask.verb is not DeedKind.BLANKETED or (ask.day, act.tree) not in asked
        ))
    ]  # fmt: skip


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


def _step(
    ask: Ask, said: Sequence[PastNudge], refusals: Sequence[Declined], quiet: Quiet, now: datetime
) -> DueNudge | None:
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
    if ask.unlikely:
        return None if ask.can_wait else _new_or_more(ask, Stage.TODAY, earlier, _asked_lately(ask, said))
    if stage == Stage.LAST_CALL and not _told_long_ago(earlier, now):
        stage = Stage.TODAY
    return _new_or_more(ask, stage, earlier, _asked_lately(ask, said))


def _asked_lately(ask: Ask, said: Sequence[PastNudge]) -> set[str]:
    """Trees already asked for on an earlier day, whose night is still to come: not rung for again till then.

    To open or uncover has no dusk that must not be missed: who did not go, or cannot, hears of it again after days.
    """
    if ask.verb not in COLD_JOBS and not any(act.reason is Reason.HOT for act in ask.acts):
        same = [s for s in said if s.stage == Stage.TODAY and s.verb == ask.verb]
        return {tree for s in same if 0 < (ask.day - s.day).days < UNHURRIED_DAYS for tree in s.trees}
    lately = [s for s in said if s.stage == Stage.TODAY and s.verb == ask.verb and s.state != NudgeState.STOOD_DOWN]
    lately = [s for s in lately if s.night is not None and s.night > s.day and s.night >= ask.day and _rang(s)]
    waiting = {act.tree for act in ask.acts if act.night > ask.day}
    return waiting & {tree for s in lately for tree in s.trees}


def _heads_up(ask: Ask, said: Sequence[PastNudge], now: datetime) -> DueNudge | None:
    """One quiet message about a job for days; it is changed in place as trees join it or its day moves.

    Called off and as likely as before a few days later it is no news: the word of the day itself will come.
    """
    live = [
        s for s in said
        if s.stage == Stage.HEADS_UP and s.verb == ask.verb and s.state == NudgeState.OPEN
        and now - s.opened_utc < timedelta(days=HEADS_UP_DAYS)
    ]  # fmt: skip
    if any(set(ask.trees) <= set(s.trees) and s.day <= ask.day for s in live):
        return None
    rung = [s for s in said if s.verb == ask.verb and _rang(s) and now - s.opened_utc < HEADS_UP_REST]
    if set(ask.trees) <= {tree for s in rung for tree in s.trees}:
        return None  # who was asked today and did not go knows of it
    told = [s for s in said if s.stage == Stage.HEADS_UP and s.verb == ask.verb]
    if not live and all(any(tree in s.trees and not _more_likely(ask, s) for s in told) for tree in ask.trees):
        return None
    count = sum(s.stage == Stage.HEADS_UP and s.verb == ask.verb and s.day == ask.day for s in said)
    return DueNudge(
        key=f"{ask.verb}:{ask.day}:{Stage.HEADS_UP}:{count}",
        stage=Stage.HEADS_UP,
        day=ask.day,
        expires_utc=ask.by_utc,
        ask=ask,
        silent=True,
        edits=live[0].key if live else None,
        trees=ask.trees,
    )


def _more_likely(ask: Ask, told: PastNudge) -> bool:
    return ask.chance >= told.chance + HEADS_UP_MORE


def _stage(ask: Ask, quiet: Quiet, now: datetime) -> Stage | None:
    times = stage_times(ask, quiet)
    if now >= times[Stage.LAST_CALL] and ask.verb in COLD_JOBS and ask.night <= ask.day:
        return Stage.LAST_CALL
    if now >= times[Stage.TODAY]:
        return Stage.TODAY
    days_ahead = (ask.day - now.astimezone(quiet.zone).date()).days
    if ask.verb == DeedKind.WRAPPED and 1 <= days_ahead <= HEADS_UP_DAYS and ask.chance >= HEADS_UP_CHANCE:
        return Stage.HEADS_UP
    return None


def _told_long_ago(earlier: Sequence[PastNudge], now: datetime) -> bool:
    """Whether an act-today message went out long enough ago for a last call not to be a second ask at once."""
    return any(s.stage == Stage.TODAY and now - s.opened_utc > LAST_CALL_LEAD / 2 for s in earlier)


def _new_or_more(ask: Ask, stage: Stage, earlier: Sequence[PastNudge], lately: set[str]) -> DueNudge | None:
    """The ask for the trees that were not asked for at this stage yet."""
    same = [s for s in earlier if s.stage == stage]
    heard = [s for s in same if _rang(s) or ask.unlikely]
    asked = {tree for s in heard for tree in s.trees} | lately
    acts = tuple(act for act in ask.acts if act.tree not in asked)
    if not acts:
        return None
    return DueNudge(
        key=f"{ask.verb}:{ask.day}:{stage}:{len(same)}",
        stage=stage,
        day=ask.day,
        expires_utc=ask.by_utc,
        ask=Ask(verb=ask.verb, day=ask.day, acts=acts),
        silent=ask.unlikely,
        trees=tuple(act.tree for act in acts),
    )


def _rang(nudge: PastNudge) -> bool:
    return nudge.stage not in NEVER_RING and not nudge.silent


def _refused(tree: str, refusals: Sequence[Declined], ask: Ask, now: datetime) -> bool:
    for refusal in refusals:
        if tree in refusal.trees:
            in_time = refusal.until_utc < ask.by_utc or ask.night > ask.day
            if refusal.asks_again and now < refusal.until_utc and in_time:
                return True
            if not refusal.asks_again and refusal.noted_utc < ask.by_utc <= refusal.until_utc:
                return True
    return False


def _at_most_three(due: Sequence[DueNudge], said: Sequence[PastNudge], zone: ZoneInfo, now: datetime) -> list[DueNudge]:
    """No more than three messages from noon to noon; what does not ring is not counted."""

    def evening(moment: datetime) -> date:
        return (moment.astimezone(zone) - timedelta(hours=12)).date()

    rung = [s for s in said if _rang(s) and evening(s.opened_utc) == evening(now)]
    left = MOST_PER_NIGHT - len(rung)
    kept: list[DueNudge] = []
    for nudge in due:
        if nudge.silent or left > 0:
            kept.append(nudge)
            left -= 0 if nudge.silent else 1
    return kept
