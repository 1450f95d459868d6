"""What befell a cover or its tree is noted, and answered with what it means tonight and what to do."""

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final

from bot.answers.acknowledging import note_done
from bot.answers.condition.not_known_on import OF_A_COVER, ask_of_condition, lacks, not_on
from bot.answers.exchange import Answer, Exchange, undo_button
from bot.answers.noting import source_of
from bot.logbook import note_entry
from bot.replies import Meaning, Verb
from bot.wording.covers import condition as say
from rules.garden.condition import ConditionKind, ConditionTold
from rules.garden.cover import CoverState
from rules.outlook.garden_outlook import Outlook
from rules.outlook.little_things import WORTH_IT_C
from rules.outlook.triage import is_windy, work_again_utc
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
    before = exchange.with_records()  # a wrap told in the same breath stands on record already
    without: dict[str, list[str]] = {}
    for tree in meaning.trees:
        without.setdefault(lacks(meaning, exchange.covers.get(tree)), []).append(tree)
    doubtful = not_on(before, without.get("", ())) if meaning.condition in OF_A_COVER else []
    certain = replace(meaning, trees=tuple(tree for tree in without.pop("", ()) if tree not in doubtful))
    answers = [_noted(exchange, certain)] if certain.trees else []
    answers += [ask_of_condition(exchange, replace(meaning, trees=tuple(doubtful)))] if doubtful else []
    return [*answers, *(Answer(text=say.has_none(trees, what)) for what, trees in without.items())]


def _noted(exchange: Exchange, meaning: Meaning) -> Answer:
    told = [_told(exchange, meaning, tree) for tree in meaning.trees]
    before = exchange.outlook()  # with the cover as it was: whether it is worth putting right
    for one in told:
        note_entry(exchange.c, source_of(exchange), one)
    after = exchange.with_records()
    lines = [say.noted_conditions(told, after.covers), *_tonight(after, told), _to_do(after, told[0], before)]
    text = "\n".join(line for line in lines if line)
    return Answer(text=text, buttons=(undo_button(exchange),), must_be_heard=True)


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
    style = exchange.style
    felt = [(one, one.night_of(style.evening(exchange.now)).tissue[one.state_assumed]) for one in here]
    return [
        say.means_tonight(one.tree.name, tissue.wood_c, one.hardiness.lt10_c, tissue.chance, style)
        for one, tissue in felt
    ]


def _to_do(exchange: Exchange, told: ConditionTold, before: Outlook | None) -> str:
    """What to do about it; where dark or wind forbids it, from when on."""
    seen = exchange.outlook()
    watched = next((one for one in seen.trees if one.nights), None) if seen else None
    night = watched.night_of(exchange.style.evening(exchange.now)) if watched else None
    if (
        told.kind is ConditionKind.LAYER_OFF
        and not told.is_over
        and (spared := _warmer_off_c(before, told.tree, exchange))
    ):
        return say.better_off(told, spared, exchange.covers, exchange.style)
    dark = night is not None and not _is_light(night, exchange.now)
    windy = night is not None and not dark and is_windy(night, exchange.now)
    nights = watched.nights if watched else ()
    until = say.work_again(work_again_utc(nights, exchange.now), exchange.style, exchange.now)
    return say.what_to_do(told, exchange.covers, is_dark=dark, is_windy=windy, until=until)


def _warmer_off_c(seen: Outlook | None, tree: str, exchange: Exchange) -> float:
    """How much warmer the wood is bare than shut tonight [°C]; 0 where a cover is no colder, or nothing is known."""
    one = seen.tree(tree) if seen else None
    if one is None or not one.nights:
        return 0.0
    tissue = one.night_of(exchange.style.evening(exchange.now)).tissue
    bare, shut = tissue.get(CoverState.BARE), tissue.get(CoverState.CLOSED)
    gain_c = bare.wood_c - shut.wood_c if bare and shut else 0.0
    return gain_c if gain_c >= WORTH_IT_C else 0.0


def _is_light(night: Night, now: datetime) -> bool:
    return (
        night.sunset_utc is not None and night.sunrise_utc is not None and night.sunrise_utc <= now < night.sunset_utc
    )
