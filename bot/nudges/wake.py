"""Waking somebody who asked for it: only in the quiet hours, only for the worst, once a night. Pure."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

from bot.nudges.nouns import Ask, Declined, DueNudge, PastNudge, Quiet, Stage
from rules.garden.records import DeedKind
from rules.plan.garden_plan import Act

# None of these has a source; they are our first try, to be changed by what growers say.
WAKE_CHANCE: Final = 0.5  # that the wood gets colder than it can take as the cover stands
WAKE_TRIPS: Final = 5.0  # what getting up in the night is taken to cost, in trips by day; shutting must save more
WAKE_LEAD: Final = timedelta(hours=1)  # before the lowest: a cap shut later keeps little in


def wake_nudge(
    threats: Sequence[Act], said: Sequence[PastNudge], refusals: Sequence[Declined], quiet: Quiet, now: datetime
) -> DueNudge | None:
    """The message that may ring in the quiet hours, for the people who asked to be woken; None on nearly all nights.

    Parameters
    ----------
    threats
        A closing for each tree whose cap stands open tonight, with its chance of harm as it stands and if shut;
        `by_utc` is when the lowest comes.
    said, refusals
        Nudges of the last days; what the grower cannot do, or not yet.
    quiet, now
        The hours in which nothing else is sent; the present.
    """
    if not quiet.holds(now):
        return None
    acts = tuple(act for act in threats if _is_worst(act, now) and not _is_refused(act, refusals, now))
    if not acts or any(s.stage == Stage.WAKE and s.day == acts[0].night for s in said):
        return None
    ask = Ask(verb=DeedKind.CLOSED, day=acts[0].night, acts=acts)
    return DueNudge(
        key=f"wake:{ask.day}", stage=Stage.WAKE, day=ask.day, expires_utc=min(act.by_utc for act in acts), ask=ask,
        trees=ask.trees,
    )  # fmt: skip


def _is_worst(act: Act, now: datetime) -> bool:
    in_time = now + timedelta(minutes=act.minutes) + WAKE_LEAD <= act.by_utc
    return in_time and act.chance >= WAKE_CHANCE and act.saves_trips > WAKE_TRIPS


def _is_refused(act: Act, refusals: Sequence[Declined], now: datetime) -> bool:
    return any(act.tree in one.trees and now < one.until_utc for one in refusals)
