"""The little things that help trees tonight, offered unasked and told when asked."""

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date

from bot.answers.exchange import Exchange
from bot.wording.covers import little_things as say
from rules.outlook.garden_outlook import Outlook
from rules.outlook.inputs import OutlookInputs
from rules.outlook.little_things import LittleThing
from rules.outlook.triage import THREATENED, is_cared_for, is_windy, work_again_utc
from rules.wood.margins import TreeMargins


def inputs_now(exchange: Exchange) -> OutlookInputs:
    """What the last look stood on, with what was said since."""
    return replace(exchange.inputs(), records=exchange.records)


def things_for(exchange: Exchange, trees: Sequence[TreeMargins]) -> dict[str, list[LittleThing]]:
    """The little things that help each of these trees tonight."""
    evening = exchange.style.evening(exchange.now)
    return exchange.little_things(inputs_now(exchange), trees, evening, exchange.now) if trees else {}


def offers(exchange: Exchange, seen: Outlook, among: Collection[str] | None = None) -> list[str]:
    """What can still be done for the trees at risk tonight for which nothing is asked, in a few lines.

    Of all trees, or of those `among` some.
    """
    evening = exchange.style.evening(exchange.now)
    asked = {act.tree for act in seen.acts if act.night == evening}
    meant = [one for one in seen.trees if among is None or one.tree.name in among]
    cared = [one for one in meant if is_cared_for(one) and one.tree.name not in asked]
    at_risk = [(one, chance) for one in cared if (chance := _chance(one, evening)) >= THREATENED]
    things = things_for(exchange, [one for one, _ in at_risk])
    found = {one.tree.name: say.offer_of(one, things.get(one.tree.name, ()), evening) for one, _ in at_risk}
    lost = [one for one, chance in at_risk if found[one.tree.name] is None and chance >= say.LIKELY]
    offered = {tree: offer for tree, offer in found.items() if offer}
    windy, pots = _wind_lines(exchange, [one for one, _ in at_risk], lost, evening)
    rest = [one for one in lost if one not in pots]
    return [*windy, *say.offer_lines(offered, exchange.style), *say.last_resort(rest)]


def _wind_lines(
    exchange: Exchange, at_risk: Sequence[TreeMargins], lost: Sequence[TreeMargins], evening: date
) -> tuple[list[str], list[TreeMargins]]:
    """That wind is why nothing is asked for these, and the pots to be carried in all the same."""
    if not at_risk:
        return [], []
    night = at_risk[0].night_of(evening)
    is_dark = night.sunset_utc is None or exchange.now >= night.sunset_utc
    pots = [one for one in lost if say.waits_outside(one)]
    is_work = pots or any(one.cover is not None and not one.cover.is_shelter for one in at_risk)
    if is_dark or not is_work or not is_windy(night, exchange.now):
        return [], []
    again_utc = work_again_utc(at_risk[0].nights, exchange.now)
    return say.too_windy(pots, night, again_utc, exchange.style, exchange.now), pots


def _chance(one: TreeMargins, evening: date) -> float:
    return one.night_of(evening).tissue[one.state_assumed].chance
