"""What is said without an ask: that we cannot see, that a tree is lost, and now and then that all is well."""

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from typing import Final

from bot.nudges.nouns import DueNudge, PastNudge, Quiet, Stage

LIVES: Final = timedelta(days=3)  # of news that asks for nothing at once; no source
BLIND_AFTER: Final = timedelta(hours=24)  # no source: a night seen a day ago is not seen


def blind_nudge(
    age: timedelta | None, said: Sequence[PastNudge], quiet: Quiet, now: datetime, at_risk: bool
) -> DueNudge | None:
    """The message that we cannot see the coming night; once a day, in the afternoon, only where a tree is at risk.

    `age` is how old the newest forecast is; None when there is none.
    """
    local = now.astimezone(quiet.zone)
    if not at_risk or (age is not None and age < BLIND_AFTER) or local.hour < 12 or quiet.holds(now):
        return None
    if any(s.stage == Stage.BLIND and s.day == local.date() for s in said):
        return None
    expires = datetime.combine(local.date() + timedelta(days=1), time(6), quiet.zone)
    return DueNudge(key=f"blind:{local.date()}", stage=Stage.BLIND, day=local.date(), expires_utc=expires)


def lost_nudge(trees: Sequence[str], quiet: Quiet, now: datetime) -> DueNudge | None:
    """The quiet word that these trees are probably dead above ground; whoever calls knows who has not been told."""
    if not trees or quiet.holds(now):
        return None
    day = now.astimezone(quiet.zone).date()
    key = f"lost:{day}:{'+'.join(sorted(trees))}"
    return DueNudge(key=key, stage=Stage.LOST, day=day, expires_utc=now + LIVES, silent=True, trees=tuple(trees))


def all_well_nudge(said: Sequence[PastNudge], first_round: datetime, quiet: Quiet, now: datetime) -> DueNudge | None:
    """The weekly word that all is well: seven days after anything was last said, at a quiet hour of the day."""
    local = now.astimezone(quiet.zone)
    last = max([s.opened_utc for s in said], default=first_round)
    if now - last < timedelta(days=7) or not 16 <= local.hour < 20 or quiet.holds(now):
        return None
    expires = now + timedelta(hours=12)
    return DueNudge(
        key=f"all-well:{local.date()}", stage=Stage.ALL_WELL, day=local.date(), expires_utc=expires, silent=True
    )
