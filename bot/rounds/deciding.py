"""Decide: of an outlook and what was heard lately, the nudges that are due now."""

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache, partial
from typing import Final

from bot.logbook import (
    Connection,
    Nudge,
    NudgeState,
    Refusal,
    expire_nudges,
    note_state,
    nudges_since,
    open_nudges,
    read_refusals,
    read_state,
    settle_nudge,
)
from bot.nudges import (
    Declined,
    DueNudge,
    PastNudge,
    Stage,
    all_well_nudge,
    asked_for,
    asks,
    at_risk_tonight,
    at_risk_unasked,
    blind_nudge,
    is_cold_ahead,
    lost_nudge,
    nudges_due,
    offer_nudge,
    wake_nudge,
)
from bot.rounds.gathering import LATER
from bot.rounds.inputs import quiet_of, style_of
from bot.rounds.nudge_writing import WayPrices, killed_utc, no_prices, write_nudge
from bot.rounds.presence import listeners
from bot.rounds.said_once import unsaid_names
from bot.rounds.waking import threats_tonight, wakeable
from bot.settings import Garden
from bot.wording.covers.little_things import offer_of, unasked
from rules.garden.cover import CoverState
from rules.garden.doubt import DoubtKind
from rules.garden.records import DeedKind, Records
from rules.jobs import GardenFacts
from rules.outlook.blankets import is_blanketed
from rules.outlook.garden_outlook import Outlook
from rules.outlook.little_things import LittleThing, pays
from rules.outlook.triage import weighed_today, work_again_utc
from rules.wood.margins import TreeMargins

LOOK_BACK: Final = timedelta(days=12)  # longer than any ladder, and than the time between two all-is-wells
REST: Final = timedelta(hours=3)  # after a deed, before the same tree is asked for again; no source
DONE_STATES: Final[dict[str, tuple[CoverState, ...]]] = {
    DeedKind.WRAPPED: (CoverState.VENTED, CoverState.CLOSED),
    DeedKind.CLOSED: (CoverState.CLOSED,),
    DeedKind.VENTED: (CoverState.VENTED, CoverState.BARE),
    DeedKind.STRIPPED: (CoverState.BARE,),
    DeedKind.BLANKETED: (CoverState.VENTED, CoverState.CLOSED),
}


def write_due(
    c: Connection,
    garden: Garden,
    outlook: Outlook,
    records: Records,
    round_id: int | None,
    now: datetime,
    facts: Callable[[], GardenFacts],
    things: Callable[[Sequence[TreeMargins]], Mapping[str, Sequence[LittleThing]]] = lambda _: {},
    prices: WayPrices = no_prices,
) -> list[DueNudge]:
    """The nudges that became due, written with their messages.

    `facts` tells what to beware of at these trees, `things` what little can still be done for some of them tonight,
    `prices` what a way of tending costs some of them.

    While nobody listens nothing is opened: a nudge counts as said, and whoever is let in next would miss it.
    """
    expire_nudges(c, garden.name, now)
    if not listeners(c, garden.name, now):
        return []
    _settle_what_is_done(c, garden, outlook, now)
    heard = _heard(c, garden, now)
    due = _due(garden, outlook, records, heard, now) + _wakes(c, garden, outlook, records, heard, now)
    due += _offers(garden, outlook, records, heard, things, now)
    for nudge in due:
        write_nudge(c, garden, outlook, nudge, round_id, now, facts, prices)
    return due


def _offers(
    garden: Garden,
    outlook: Outlook,
    records: Records,
    heard: "_Heard",
    things: Callable[[Sequence[TreeMargins]], Mapping[str, Sequence[LittleThing]]],
    now: datetime,
) -> list[DueNudge]:
    """What is offered unasked: a bucket, a blanket, for trees at risk tonight for which nothing is asked."""
    quiet, style = quiet_of(garden), style_of(garden)
    if quiet.holds(now):
        return []
    said = [_said(row) for row in heard.nudges if row.opened_utc >= now - LOOK_BACK]
    refused = {row.tree for row in heard.refusals if row.until_utc > now and row.ask != LATER}
    refused |= {one.tree.name for one in outlook.trees if is_blanketed(records, one.tree.name, now, garden.site.zone)}
    trees = at_risk_unasked(outlook, said, refused, quiet, now)
    found = things(trees) if trees else {}
    evening = style.evening(now)
    offered = {one.tree.name: (one, offer_of(one, found.get(one.tree.name, ()), evening)) for one in trees}
    told = {tree: offer for tree, (one, offer) in offered.items() if offer and pays(offer[1], one, evening)}
    without = [one for one in trees if one.tree.name not in told]
    night = trees[0].night_of(evening) if trees else None
    again_utc = work_again_utc(trees[0].nights, now) if trees else None
    risky = at_risk_tonight(outlook, evening, asked_for(outlook, said, evening))
    lost = {one.tree.name for one in trees if any(doubt.kind is DoubtKind.PAST_SAVING for doubt in one.doubts)}
    text = unasked(told, without, risky, night, again_utc, style, now, lost)
    nudge = offer_nudge([one.tree.name for one in trees], text, quiet, now)
    return [nudge] if nudge else []


def _wakes(
    c: Connection, garden: Garden, outlook: Outlook, records: Records, heard: "_Heard", now: datetime
) -> list[DueNudge]:
    """What may ring in the quiet hours, where somebody asked for it."""
    quiet = quiet_of(garden)
    if not quiet.holds(now) or not wakeable(c, garden.name, now):
        return []
    said = [_said(row) for row in heard.nudges]
    refusals = [_refusal(row) for row in heard.refusals if row.until_utc > now] + _just_tended(records, now)
    nudge = wake_nudge(threats_tonight(outlook, style_of(garden)), said, refusals, quiet, now)
    return [nudge] if nudge else []


def _settle_what_is_done(c: Connection, garden: Garden, outlook: Outlook, now: datetime) -> None:
    """Open nudges whose covers all stand as asked are over without a word: nobody needs to hear "not needed"."""
    states = {one.tree.name: one.state for one in outlook.trees}
    for row in open_nudges(c, garden.name):
        wanted = DONE_STATES.get(row.ask, ())
        if wanted and all(states.get(tree) in wanted for tree in row.trees):
            settle_nudge(c, row.key, NudgeState.ANSWERED, None, now)


def _just_tended(records: Records, now: datetime) -> list[Declined]:
    """Who has just been at a tree is not sent back at once, unless for tonight."""
    late = [deed for deed in records.deeds if timedelta(0) <= now - deed.at_utc < REST]
    return [
        Declined(trees=(deed.tree,), noted_utc=deed.at_utc, until_utc=deed.at_utc + REST, asks_again=True)
        for deed in late
    ]


def first_due_utc(
    c: Connection, garden: Garden, outlook: Outlook, records: Records, times: Iterable[datetime]
) -> datetime | None:
    """The first of these times at which something will be due if nothing changes; None where at none of them."""
    ordered = sorted(times)
    heard = _heard(c, garden, ordered[0]) if ordered else None
    return next((at for at in ordered if heard and _due(garden, outlook, records, heard, at)), None)


@dataclass(frozen=True, kw_only=True)
class _Heard:
    """What a garden has heard and answered lately, read once for all the times it is asked about."""

    nudges: Sequence[Nudge]
    refusals: Sequence[Refusal]
    first_round: Callable[[], datetime]
    untold: Callable[[Outlook], list[str]]  # of trees held dead, those nobody was told of


def _heard(c: Connection, garden: Garden, first: datetime) -> _Heard:
    return _Heard(
        nudges=nudges_since(c, garden.name, first - LOOK_BACK),
        refusals=read_refusals(c, garden.name, first),
        first_round=cache(partial(_first_round, c, garden, first)),
        untold=partial(_untold, c, garden),
    )


def _due(garden: Garden, outlook: Outlook, records: Records, heard: _Heard, now: datetime) -> list[DueNudge]:
    quiet = quiet_of(garden)
    said = [_said(row) for row in heard.nudges if row.opened_utc >= now - LOOK_BACK]
    refusals = [_refusal(row) for row in heard.refusals if row.until_utc > now] + _just_tended(records, now)
    wanted = asks(outlook.acts, garden.site.zone)
    off = {tree for refusal in refusals for tree in refusal.trees}
    weighed = cache(lambda: weighed_today(outlook, now) - off)
    due = nudges_due(wanted, said, refusals, outlook.chance_if_nothing_is_done(), quiet, now, weighed)
    lost = lost_nudge(heard.untold(outlook), quiet, now)
    since = outlook.issued_utc or outlook.fetched_utc
    is_cold = _is_cold_season(garden, now)
    at_risk = any(tree.cover and not tree.left_bare for tree in garden.trees) and is_cold
    blind = blind_nudge(now - since if since and outlook.trees[0].nights else None, said, quiet, now, at_risk)
    is_calm = is_cold and is_cold_ahead(outlook) and not due and not blind and not lost
    well = all_well_nudge(said, heard.first_round(), quiet, now) if is_calm else None
    return [*due, *(one for one in (lost, blind, well) if one)]


def _untold(c: Connection, garden: Garden, outlook: Outlook) -> list[str]:
    return [tree for tree in outlook.held_dead if unsaid_names(c, garden, [f"lost {tree}"], killed_utc(outlook, tree))]


def _is_cold_season(garden: Garden, now: datetime) -> bool:
    """Whether a freeze is to be reckoned with: October to May, in the south April to November; no source."""
    month = now.astimezone(garden.site.zone).month
    north = month >= 10 or month <= 5
    return north if garden.site.latitude_deg >= 0 else 4 <= month <= 11


def _first_round(c: Connection, garden: Garden, now: datetime) -> datetime:
    first = read_state(c, garden.name, "first round")
    if first is None:
        note_state(c, garden.name, "first round", json.dumps(now.astimezone(UTC).isoformat()))
        return now
    return datetime.fromisoformat(json.loads(first))


def _said(row: Nudge) -> PastNudge:
    numbers = json.loads(row.numbers)
    return PastNudge(
        key=row.key.removeprefix(f"{row.garden}/"),
        stage=Stage(row.stage),
        verb=DeedKind(row.ask) if row.ask else None,
        trees=row.trees,
        day=row.night,
        opened_utc=row.opened_utc,
        state=row.state,
        chance=numbers.get("chance", 0.0),
        chances=numbers.get("chances", {}),
        night=date.fromisoformat(numbers["night"]) if numbers.get("night") else None,
        silent=numbers.get("silent", False),
    )


def _refusal(row: Refusal) -> Declined:
    return Declined(trees=(row.tree,), noted_utc=row.at_utc, until_utc=row.until_utc, asks_again=row.ask == LATER)
