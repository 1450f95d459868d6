"""An outlook with the covers as they stand now, for the words that answer a deed at once."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from rules.garden.condition import condition_at
from rules.garden.cover import Cover, CoverState
from rules.garden.records import DeedKind, Records, cover_conditions, shelter_of, state_now
from rules.garden.tree import Standing
from rules.heat.ahead import heat_ahead
from rules.outlook.blankets import is_blanketed
from rules.outlook.garden_outlook import Outlook
from rules.outlook.inputs import (
    OutlookInputs,
    cover_of,
    members_ahead,
    timeline_of,
    tree_weathers,
)
from rules.outlook.nights import nights_ahead
from rules.outlook.past import past_of
from rules.outlook.tree_heat import REMEMBERED_H
from rules.plan.acts import Act
from rules.plan.garden_plan import SecondBest, SecondThoughts
from rules.weather.hourly import tonight
from rules.wood.margins import Night, TreeMargins


def restated(seen: Outlook, records: Records, now: datetime) -> Outlook:
    """The same outlook with the covers as they stand now, without the acts that are done and the nights that are over.

    For the words that answer a deed at once; the next round looks anew.
    """
    evening = tonight(now, seen.site.zone)
    trees = [
        replace(
            one,
            state=state_now(records, one.tree.name, now),
            cover=_in_its_condition(one, records, now),
            nights=tuple(night for night in one.nights if night.evening >= evening),
        )
        for one in seen.trees
    ]
    stand = {one.tree.name: one for one in trees}
    over = {name for name in stand if is_blanketed(records, name, now, seen.site.zone)}
    acts = tuple(act for act in _left(seen.acts, stand) if act.kind is not DeedKind.BLANKETED or act.tree not in over)
    asked = seen.plan.second_thoughts

    def second_thoughts() -> SecondThoughts:
        return replace(asked(), second_best=_choice_left(asked().second_best, stand))

    return replace(seen, now=now, trees=trees, plan=replace(seen.plan, acts=acts, second_thoughts=second_thoughts))


def _choice_left(other: SecondBest | None, stand: Mapping[str, TreeMargins]) -> SecondBest | None:
    """The next best without what is done; None where all of it is, for then it is no choice any more."""
    if other is None or not other.acts:
        return other
    acts = _left(other.acts, stand)
    return replace(other, acts=acts) if acts else None


def _left(acts: Sequence[Act], stand: Mapping[str, TreeMargins]) -> tuple[Act, ...]:
    return tuple(act for one in acts if (act := _still_to_do(one, stand.get(one.tree))))


def _still_to_do(act: Act, one: TreeMargins | None) -> Act | None:
    """What is left of an act: nothing once the cover stands so, of a wrap asked shut the closing once it is on."""
    if one is not None and act.kind is DeedKind.BLANKETED:
        return act if one.state_assumed is CoverState.BARE else None
    if one is None or one.cover is None or act.kind is not DeedKind.WRAPPED or one.state_assumed is CoverState.BARE:
        return None if one is not None and one.state == act.state else act
    if act.state is CoverState.CLOSED and one.state is CoverState.VENTED:
        return replace(act, kind=DeedKind.CLOSED, minutes=one.cover.minutes_to_close)
    return None


def as_covers_stand(seen: Outlook, records: Records, now: datetime, inputs: Callable[[], OutlookInputs]) -> Outlook:
    """As `restated`, with the nights worked out anew of trees whose cover is in another condition than at that look.

    By the code of the look itself, so that what answers a change and what "tonight" tells after it are one; what the
    wood can take, which a day's damage does not change, is kept. `inputs` gives what the look stood on.
    """
    covers = {one.tree.name: one.cover for one in seen.trees}
    told = restated(seen, records, now)
    changed = [
        one for one in told.trees
        if one.nights and one.tended and one.cover != covers[one.tree.name]
    ]  # fmt: skip
    if not changed:
        return told
    nights = _nights_anew(replace(inputs(), records=records), changed, now)
    return replace(told, trees=[replace(one, nights=nights.get(one.tree.name, one.nights)) for one in told.trees])


def _nights_anew(inputs: OutlookInputs, trees: Sequence[TreeMargins], now: datetime) -> dict[str, Sequence[Night]]:
    line = timeline_of(inputs, now)
    if line is None or inputs.forecast is None:
        return {}
    past = past_of(inputs, line, [one.tree for one in trees], REMEMBERED_H)
    members_c = members_ahead(inputs, inputs.forecast, line.ahead, now)
    weathers = tree_weathers(inputs, line.ahead, [one.tree for one in trees], members_c)
    covers = [cover_of(inputs, one.tree) for one in trees]
    heat = heat_ahead(covers, weathers, past.finish if past else None, inputs.soil, 1)
    return {
        one.tree.name: nights_ahead(
            line.ahead,
            members_c,
            weathers[i],
            heat.by_tree[i],
            one.hardiness,
            inputs.site,
            outside=one.outside,
            in_pot=one.tree.standing is Standing.POT,
        )
        for i, one in enumerate(trees)
    }


def _in_its_condition(one: TreeMargins, records: Records, now: datetime) -> Cover | None:
    """Its cover in the condition last told; the temperatures stay those of the last look."""
    stands_in = shelter_of(records, one.tree.name, one.cover, now)
    if stands_in is None:
        return None
    return stands_in.standing(condition_at(cover_conditions(records, one.tree.name, stands_in), now))
