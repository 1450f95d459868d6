"""Stand-downs: what need not be done after all, said once."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from bot.nudges.nouns import COLD_JOBS, Ask, DueNudge, NudgeState, PastNudge, Quiet, Stage
from rules.garden.records import DeedKind

STAND_DOWN_FALL: Final = 0.5  # the chance must halve before we say "not needed": no flutter; no source


def stand_downs(
    wanted: Sequence[Ask],
    said: Sequence[PastNudge],
    chance_now: Mapping[tuple[str, date], float],
    quiet: Quiet,
    now: datetime,
) -> list[DueNudge]:
    still = {(ask.verb, tree) for ask in wanted for tree in ask.trees}
    over: dict[tuple[DeedKind, date], list[PastNudge]] = {}
    for nudge in said:
        if (
            nudge.state == NudgeState.OPEN
            and nudge.verb
            and nudge.night
            and now.astimezone(quiet.zone).date() <= nudge.day
        ):
            gone = not any((nudge.verb, tree) in still for tree in nudge.trees)
            risk = max((chance_now.get((tree, nudge.night), 1.0) for tree in nudge.trees), default=1.0)
            milder = risk <= STAND_DOWN_FALL * nudge.chance
            if gone and nudge.verb in COLD_JOBS and (milder or _lapsed(nudge, said, now.astimezone(quiet.zone).date())):
                over.setdefault((nudge.verb, nudge.day), []).append(nudge)
    return [_stand_down(nudges, quiet.zone) for nudges in over.values()]


def _lapsed(nudge: PastNudge, said: Sequence[PastNudge], today: date) -> bool:
    """Whether a job was announced for today, is as needed as ever, and was never asked for: that must not go unsaid."""
    asked = [s for s in said if s.stage in (Stage.TODAY, Stage.LAST_CALL) and s.verb == nudge.verb]
    rung = any(set(nudge.trees) & set(s.trees) for s in asked if s.opened_utc >= nudge.opened_utc)
    return nudge.stage == Stage.HEADS_UP and nudge.day == today and not rung


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
