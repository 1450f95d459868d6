"""What to do first, what else can be done for a tree, and whether the tops may be opened today."""

from dataclasses import replace
from typing import Final

from bot.answers.condition.little_things import things_for
from bot.answers.exchange import NO_LOOK, Answer, Exchange
from bot.answers.memory import REMEMBERED
from bot.logbook import last_said, read_refusals
from bot.replies import Meaning
from bot.rounds.gathering import LATER
from bot.wording.covers import triage as say
from bot.wording.covers.condition import what_to_do_about
from bot.wording.covers.little_things import other_things
from bot.wording.year.jobs import caution_words
from rules.garden.condition import ConditionKind, ConditionTold
from rules.jobs import Caution
from rules.outlook.garden_outlook import Outlook
from rules.outlook.triage import THREATENED, Hindrance, Triage, triage

MOST_HANDS: Final = 4
NO_NIGHT: Final = Answer(
    text="I have no forecast for the night to come. Please look yourself; if in doubt, leave them shut."
)


def tell_first(exchange: Exchange, _: Meaning) -> list[Answer]:
    """What to do first tonight, and what is left out."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    refused = {one.tree for one in read_refusals(exchange.c, exchange.garden.name, exchange.now) if one.ask != LATER}
    plan = triage(seen, exchange.garden.shed, refused=refused)
    left = [seen.tree(one.tree) for one in plan.left_out]
    return [
        Answer(
            text=say.first_things(
                plan, seen, things_for(exchange, left), exchange.style, _enough_hands(exchange, seen, plan)
            )
        )
    ]


def _enough_hands(exchange: Exchange, seen: Outlook, plan: Triage) -> int:
    """How many people would get it all done where one does not; 0 where more hands help nothing."""
    if all(one.hindrance is not Hindrance.TIME for one in plan.left_out):
        return 0
    for hands in range(plan.hands + 1, MOST_HANDS + 1):
        more = triage(seen, exchange.garden.shed, hands=hands)
        if all(one.hindrance is not Hindrance.TIME for one in more.left_out):
            return hands
    return 0


def tell_more(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What else can be done for the trees named; for those most at risk where none is."""
    if meaning.text == "heat":
        return [
            Answer(text=caution_words(Caution.NO_HEAT, exchange.style)),
            *tell_more(exchange, replace(meaning, text="")),
        ]
    befell = meaning.condition or _told_last(exchange, meaning)
    if befell is not None:
        return [Answer(text=what_to_do_about(befell))]
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    trees = [one for one in seen.trees if one.nights and (one.tree.name in meaning.trees or not meaning.trees)]
    if not trees:
        return [NO_NIGHT]  # silence of the forecast is no all-clear
    if not meaning.trees:
        trees = [one for one in trees if one.nights[0].tissue[one.state_assumed].chance >= THREATENED]
    things = things_for(exchange, trees)
    when = exchange.style.night(exchange.style.evening(exchange.now), exchange.now)
    told = [other_things(one, things[one.tree.name], when, exchange.style) for one in trees if one.tree.name in things]
    return [Answer(text="\n\n".join(told) or "No tree is at risk tonight, so nothing more is needed.")]


def _told_last(exchange: Exchange, meaning: Meaning) -> ConditionKind | None:
    """What was told last of a cover or tree, which "what do I do about it" means."""
    last = last_said(exchange.c, exchange.garden.name)
    if meaning.trees or last is None or exchange.now - last.noted_utc > REMEMBERED:
        return None
    told = [one for one in last.entries if isinstance(one, ConditionTold) and not one.is_over]
    return told[0].kind if told else None


def tell_by_when(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Until when what is asked of the trees named, or of all, can wait; and whether an hour is early enough."""
    seen = exchange.outlook_anew()
    if seen is None:
        return [NO_LOOK]
    trees = meaning.trees or tuple(one.tree.name for one in seen.trees)
    if not any(one.nights for one in seen.trees if one.tree.name in trees):
        return [NO_NIGHT]
    return [Answer(text=say.by_when(seen, trees, meaning.at_utc, exchange.style, exchange.now))]


def tell_may_open(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Whether the tops may be opened today."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    covered = [one for one in seen.trees if one.tended and (one.tree.name in meaning.trees or not meaning.trees)]
    if not covered:
        return [Answer(text="None of these has a cover that I know of.")]
    trees = [one for one in covered if one.nights]
    if not trees:
        return [NO_NIGHT]
    return [Answer(text=say.may_open(replace(seen, trees=trees), trees, exchange.style, exchange.now))]
