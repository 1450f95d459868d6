"""What is said without an ask: that we cannot see, that a tree is lost, and now and then that all is well."""

from collections.abc import Collection, Sequence
from datetime import date, datetime, time, timedelta
from typing import Final

from bot.nudges.nouns import DueNudge, NudgeState, PastNudge, Quiet, Stage
from rules.garden.cover import CoverState
from rules.outlook.garden_outlook import Outlook
from rules.outlook.triage import is_cared_for
from rules.plan.changes.shut_at_once import TELLING_CHANCE
from rules.weather.hourly import tonight
from rules.wood.margins import Night, TreeMargins

LIVES: Final = timedelta(days=3)  # of news that asks for nothing at once; no source
OFFER_CHANCE: Final = 0.3  # of too cold a night from which a little thing is offered unasked; no source
OFFER_AGAIN: Final = timedelta(days=4)  # the same spell is not talked of each day; no source
ASKED: Final = (Stage.TODAY, Stage.LAST_CALL)
OFFER_LIVES: Final = timedelta(hours=8)
AFTER_SUNRISE: Final = timedelta(hours=1)
BEFORE_DUSK: Final = timedelta(hours=1)
WELL_AFTER: Final = timedelta(days=10)  # a word each week is a nag by February; no source
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


def at_risk_unasked(
    outlook: Outlook, said: Sequence[PastNudge], refused: Collection[str], quiet: Quiet, now: datetime
) -> list[TreeMargins]:
    """The trees at risk tonight for which nothing is asked and nothing was offered lately; none in the dark.

    `refused` are trees that cannot be tended tonight.
    """
    evening = tonight(now, quiet.zone)
    told = {tree for s in said if s.stage == Stage.OFFER and evening - s.day < OFFER_AGAIN for tree in s.trees}
    asked = asked_for(outlook, said, evening) | told | set(refused)
    cared = [one for one in outlook.trees if is_cared_for(one) and one.tree.name not in asked]
    found = [(one, one.night_of(evening)) for one in cared]
    found = [(one, night) for one, night in found if night.evening == evening and _is_day(night, now)]
    return [one for one, night in found if night.tissue[one.state_assumed].chance >= OFFER_CHANCE]


def asked_for(outlook: Outlook, said: Sequence[PastNudge], evening: date) -> set[str]:
    """The trees that an ask speaks of before a night, or will: no other message names them beside it."""
    stand = [s for s in said if s.stage in ASKED and s.day == evening and s.state is NudgeState.OPEN]
    return {act.tree for act in outlook.acts if act.night <= evening} | {tree for s in stand for tree in s.trees}


def at_risk_tonight(outlook: Outlook, evening: date, asked: Collection[str]) -> list[str]:
    """All trees but those asked for that a night threatens as they stand; none where work at no cover would help."""
    cared = [
        (one.tree.name, one.night_of(evening).tissue, one.state_assumed)
        for one in outlook.trees
        if is_cared_for(one) and one.tree.name not in asked
    ]
    found = [(name, tissue, tissue[state].chance) for name, tissue, state in cared]
    found = [one for one in found if one[2] >= OFFER_CHANCE]
    helps = any(chance - felt.chance >= TELLING_CHANCE for _, tissue, chance in found for felt in tissue.values())
    return [name for name, _, _ in found] if helps else []


def _is_day(night: Night, now: datetime) -> bool:
    """Whether there is daylight left to do something in, and breakfast is over."""
    if night.sunset_utc is None or night.sunrise_utc is None:
        return False
    return night.sunrise_utc + AFTER_SUNRISE <= now < night.sunset_utc - BEFORE_DUSK


def offer_nudge(trees: Sequence[str], text: str, quiet: Quiet, now: datetime) -> DueNudge | None:
    """The quiet offer of what helps these trees tonight."""
    if not trees or not text or quiet.holds(now):
        return None
    day = tonight(now, quiet.zone)
    key = f"offer:{day}:{'+'.join(sorted(trees))}"
    return DueNudge(
        key=key, stage=Stage.OFFER, day=day, expires_utc=now + OFFER_LIVES, silent=True, trees=tuple(trees), text=text
    )


def lost_nudge(trees: Sequence[str], quiet: Quiet, now: datetime) -> DueNudge | None:
    """The quiet word that these trees are probably dead above ground; whoever calls knows who has not been told."""
    if not trees or quiet.holds(now):
        return None
    day = now.astimezone(quiet.zone).date()
    key = f"lost:{day}:{'+'.join(sorted(trees))}"
    return DueNudge(key=key, stage=Stage.LOST, day=day, expires_utc=now + LIVES, silent=True, trees=tuple(trees))


def is_cold_ahead(outlook: Outlook) -> bool:
    """Whether anybody waits for a word of the cold: a cover is on, or it will freeze."""
    covered = any(one.tended and one.state_assumed is not CoverState.BARE for one in outlook.trees)
    return covered or any(night.air_c < 0.0 for one in outlook.trees for night in one.nights)


def all_well_nudge(said: Sequence[PastNudge], first_round: datetime, quiet: Quiet, now: datetime) -> DueNudge | None:
    """The word that all is well: ten days after anything was last said, at a quiet hour of the day."""
    local = now.astimezone(quiet.zone)
    last = max([s.opened_utc for s in said], default=first_round)
    if now - last < WELL_AFTER or not 16 <= local.hour < 20 or quiet.holds(now):
        return None
    expires = now + timedelta(hours=12)
    return DueNudge(
        key=f"all-well:{local.date()}", stage=Stage.ALL_WELL, day=local.date(), expires_utc=expires, silent=True
    )
