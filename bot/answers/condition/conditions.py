"""What befell a cover or its tree is noted, and answered with what it means tonight and what to do."""

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final

from bot.answers.acknowledging import note_done
from bot.answers.exchange import Answer, Exchange, undo_button
from bot.answers.noting import source_of
from bot.logbook import note_condition, read_records
from bot.replies import Meaning, Verb
from bot.rounds.gathering import RECORDS_READ
from bot.wording.covers import condition as say
from rules.garden.condition import ConditionKind, ConditionTold
from rules.outlook.little_things import as_it_stands
from rules.outlook.triage import work_again_utc
from rules.plan.slots import NO_FILM_GUST_M_S
from rules.wood.margins import Night

HEALTH: Final = (ConditionKind.BRANCH_BROKEN, ConditionKind.MICE, ConditionKind.MOULD)  # warmth is as it was
OUT_OF_DOORS: Final = re.compile(
    r"\b(?:out(?:side|doors)?|garden|patio|terrace|balcony|deck|yard|drive(?:way)?|lawn)\b"
)


def note_condition_told(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What befell some trees, noted, with what it means tonight and what to do."""
    if meaning.condition is None:
        raise ValueError("what befell a cover needs to be named, got nothing")
    if meaning.condition is ConditionKind.MOVED and (carried := _carried(exchange, meaning)):
        return note_done(exchange, carried)
    told = [_told(exchange, meaning, tree) for tree in meaning.trees]
    for one in told:
        note_condition(exchange.c, source_of(exchange), one)
    after = replace(exchange, records=read_records(exchange.c, exchange.garden.name, exchange.now - RECORDS_READ))
    lines = [say.noted_conditions(told, after.covers), *_tonight(after, told), _to_do(after, told[0])]
    text = "\n".join(line for line in lines if line)
    return [Answer(text=text, buttons=(undo_button(exchange),), must_be_heard=True)]


def _carried(exchange: Exchange, meaning: Meaning) -> Meaning | None:
    """A pot carried to or from the shelter that is its cover: a deed; None for any other move."""
    covers = [exchange.covers.get(tree) for tree in meaning.trees]
    if not covers or not all(cover is not None and cover.is_shelter for cover in covers):
        return None
    out = OUT_OF_DOORS.search(meaning.text) is not None
    return replace(meaning, verb=Verb.STRIPPED if out else Verb.WRAPPED, condition=None, text="")


def _told(exchange: Exchange, meaning: Meaning, tree: str) -> ConditionTold:
    return ConditionTold(
        tree=tree, kind=meaning.condition or ConditionKind.MOVED, layer=meaning.layer, is_over=meaning.is_over,
        size_m=meaning.length_m, place=meaning.text if meaning.condition is ConditionKind.MOVED else "",
        at_utc=min(meaning.at_utc or exchange.now, exchange.now),
    )  # fmt: skip


def _tonight(exchange: Exchange, told: Sequence[ConditionTold]) -> list[str]:
    """What the wood of each tree will feel tonight with its cover as it now is."""
    seen = exchange.outlook()
    if seen is None or told[0].kind in HEALTH:
        return []
    here = [one for one in (seen.tree(each.tree) for each in told) if one.nights and one.tended]
    inputs, style = replace(exchange.inputs(), records=exchange.records), exchange.style
    felt = as_it_stands(inputs, here, style.evening(exchange.now), exchange.now)
    safe = {one.tree.name: one.hardiness.lt10_c for one in here}
    return [say.means_tonight(tree, wood_c, safe[tree], harm, style) for tree, (wood_c, harm) in felt.items()]


def _to_do(exchange: Exchange, told: ConditionTold) -> str:
    """What to do about it; where dark or wind forbids it, from when on."""
    seen = exchange.outlook()
    night = (
        next((one.night_of(exchange.style.evening(exchange.now)) for one in seen.trees if one.nights), None)
        if seen
        else None
    )
    dark = night is not None and not _is_light(night, exchange.now)
    windy = night is not None and night.gust_m_s >= NO_FILM_GUST_M_S
    nights = next((one.nights for one in seen.trees if one.nights), ()) if seen else ()
    until = say.work_again(work_again_utc(nights, exchange.now), exchange.style, exchange.now)
    return say.what_to_do(told, exchange.covers, is_dark=dark, is_windy=windy, until=until)


def _is_light(night: Night, now: datetime) -> bool:
    return (
        night.sunset_utc is not None and night.sunrise_utc is not None and night.sunrise_utc <= now < night.sunset_utc
    )
