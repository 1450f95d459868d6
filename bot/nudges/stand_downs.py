"""Stand-downs: what need not be done after all, or is not asked for any more, said once.

What was asked for aloud stands for its day unless the night is clearly milder: whoever has it on the list for the
afternoon is not told at noon that a hair's breadth speaks against it.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from bot.nudges.nouns import COLD_JOBS, Ask, DueNudge, NudgeState, PastNudge, Quiet, Stage
from rules.garden.records import DeedKind

STAND_DOWN_FALL: Final = 0.5  # the chance must halve before we say "not needed": no flutter; no source
HARMLESS: Final = (
    0.1  # and fall to this where it was asked for aloud: at two in ten nobody calls a night safe; no source
)


def stand_downs(
    wanted: Sequence[Ask],
    said: Sequence[PastNudge],
    chance_now: Mapping[tuple[str, date], float],
    quiet: Quiet,
    now: datetime,
    weighed: Callable[[], Collection[str]],
) -> list[DueNudge]:
    """What was asked or announced and is not wanted any more, once: the night is milder, or the plan thinks again.

    Thinking again it takes back only what was announced or written without a ring.

    `weighed` gives the trees at which work today is possible and was not refused: only of those it is sure that what
    is not asked for is not worth it.
    """
    today = now.astimezone(quiet.zone).date()
    found = []
    for nudges in _gone(wanted, said, today):
        latest = {tree: nudge for nudge in sorted(nudges, key=lambda one: one.opened_utc) for tree in nudge.trees}
        stands = {tree: nudge for tree, nudge in latest.items() if not _is_milder(nudge, tree, chance_now)}
        lapsed = tuple(tree for tree, nudge in stands.items() if _is_lapsed(nudge, tree, said, today, weighed))
        if lapsed:
            found.append(replace(_stand_down(nudges, quiet.zone), trees=lapsed, lapsed=True, silent=True))
        elif not stands:
            found.append(_stand_down(nudges, quiet.zone))
    return found


def _gone(wanted: Sequence[Ask], said: Sequence[PastNudge], today: date) -> list[list[PastNudge]]:
    """The open asks of which nothing is wanted any more, together those of one job and day."""
    still = {(ask.verb, tree) for ask in wanted for tree in ask.trees}
    still |= {(DeedKind.WRAPPED, tree) for verb, tree in still if verb is DeedKind.BLANKETED}  # it is as cold as told
    over: dict[tuple[DeedKind, date], list[PastNudge]] = {}
    for nudge in said:
        gone = nudge.night and today <= nudge.day and not any((nudge.verb, tree) in still for tree in nudge.trees)
        if gone and nudge.state == NudgeState.OPEN and nudge.verb in COLD_JOBS:
            over.setdefault((nudge.verb, nudge.day), []).append(nudge)
    return list(over.values())


def _is_milder(nudge: PastNudge, tree: str, chance_now: Mapping[tuple[str, date], float]) -> bool:
    risk = chance_now.get((tree, nudge.night or nudge.day), 1.0)
    is_harmless = risk <= HARMLESS or nudge.silent
    return is_harmless and risk <= STAND_DOWN_FALL * nudge.chances.get(tree, nudge.chance)


def _is_lapsed(
    nudge: PastNudge, tree: str, said: Sequence[PastNudge], today: date, weighed: Callable[[], Collection[str]]
) -> bool:
    """Whether a tree as much at risk as was told is not asked for all the same: that must not go unsaid.

    Announced for today it lapses if it was never asked for; asked for without a ring, if the plan weighed it.
    """
    if nudge.day != today or nudge.stage is not Stage.HEADS_UP:
        return nudge.day == today and nudge.silent and tree in weighed()
    asked = [s for s in said if s.stage in (Stage.TODAY, Stage.LAST_CALL) and s.verb == nudge.verb]
    return not any(tree in s.trees for s in asked if s.opened_utc >= nudge.opened_utc)


def _stand_down(nudges: Sequence[PastNudge], zone: ZoneInfo) -> DueNudge:
    last = max(nudges, key=lambda nudge: nudge.opened_utc)
    unrung = last.stage == Stage.HEADS_UP or last.silent
    return DueNudge(
        key=f"{last.key}:{Stage.STAND_DOWN}",
        stage=Stage.STAND_DOWN,
        day=last.day,
        expires_utc=datetime.combine(last.day + timedelta(days=1), time(12), zone),
        about=last,
        settles=tuple(nudge.key for nudge in nudges),
        edits=min(nudges, key=lambda nudge: nudge.opened_utc).key if unrung else None,
        silent=unrung,
        trees=last.trees,
    )
