"""The little things that help trees tonight, offered unasked and told when asked."""

from collections.abc import Sequence
from dataclasses import replace

from bot.answers.exchange import Exchange
from bot.wording.covers import triage as say
from rules.outlook.garden_outlook import Outlook
from rules.outlook.inputs import OutlookInputs
from rules.outlook.little_things import LittleThing, little_things
from rules.outlook.triage import THREATENED, is_cared_for
from rules.wood.margins import TreeMargins


def inputs_now(exchange: Exchange) -> OutlookInputs:
    """What the last look stood on, with what was said since."""
    return replace(exchange.inputs(), records=exchange.records)


def things_for(exchange: Exchange, trees: Sequence[TreeMargins]) -> dict[str, list[LittleThing]]:
    """The little things that help each of these trees tonight."""
    return (
        little_things(inputs_now(exchange), trees, exchange.style.evening(exchange.now), exchange.now) if trees else {}
    )


def offers(exchange: Exchange, seen: Outlook) -> list[str]:
    """What can still be done for the trees at risk tonight for which nothing is asked, in a few lines."""
    lines = offers_by_tree(exchange, seen)
    evening = exchange.style.evening(exchange.now)
    lost = [seen.tree(name) for name, line in lines.items() if not line]
    lost = [one for one in lost if one.night_of(evening).tissue[one.state_assumed].chance >= say.LIKELY]
    return [*(line for line in lines.values() if line), *say.last_resort(lost)]


def offers_by_tree(exchange: Exchange, seen: Outlook) -> dict[str, str]:
    """The little thing offered for each tree at risk; empty where none is worth it."""
    evening = exchange.style.evening(exchange.now)
    asked = {act.tree for act in seen.acts if act.night == evening}
    cared = [one for one in seen.trees if is_cared_for(one) and one.tree.name not in asked]
    at_risk = [one for one in cared if one.night_of(evening).tissue[one.state_assumed].chance >= THREATENED]
    things = things_for(exchange, at_risk)
    return {
        one.tree.name: say.offer_line(one, things.get(one.tree.name, ()), evening, exchange.style) for one in at_risk
    }
