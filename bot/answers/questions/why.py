"""Answers that need the heat of a cover reckoned: why, and what if."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta
from typing import Final

from bot.answers.choices import offered
from bot.answers.condition.little_things import inputs_now, things_for
from bot.answers.condition.little_things import offers as offers_of
from bot.answers.exchange import NO_LOOK, Answer, Exchange
from bot.replies import Choice, Meaning, Verb
from bot.wording import what_if as say
from bot.wording.covers.little_things import bucket_tonight
from bot.wording.covers.words import words_of
from bot.wording.why import night_asked, short_why, state_explained, why
from rules.garden.condition import ConditionKind
from rules.garden.cover import BOUNDS, THINNEST_FILL_M, Cover, CoverState
from rules.garden.materials import Fill
from rules.garden.records import DeedKind
from rules.heat.terms import HeatTerms
from rules.heat.what_if import COLDEST_ASKED_C, WhatIf, WhatIfKind, what_if
from rules.outlook.garden_outlook import Outlook
from rules.outlook.tree_heat import TreeHeat, tree_heats
from rules.wood.margins import TreeMargins

TOLD_IN_FULL: Final = 2  # trees of one "why" that are told in all their lines; a phone shows no more
WINDY: Final = ("windy", "wind")


def tell_why(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Why the next act, or those of the trees named."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    names = meaning.trees or tuple(act.tree for act in seen.acts[:1]) or tuple(one.tree.name for one in seen.trees[:1])
    trees = sorted((seen.tree(name) for name in names), key=_chance_as_it_stands, reverse=True)
    full = trees if len(trees) <= TOLD_IN_FULL else trees[:1]
    terms = _terms(exchange, full, seen)
    offers = {one.tree.name: " ".join(offers_of(exchange, replace(seen, trees=[one]))) for one in full}
    told = [why(one, seen, exchange.style, terms.get(one.tree.name), offers.get(one.tree.name, "")) for one in full]
    rest = "\n".join(short_why(one, seen, exchange.style) for one in trees[len(full) :])
    buttons = offered(exchange, [choice for one in full for choice in _how_it_stood(exchange, one)])
    return [Answer(text="\n\n".join([*told, *([rest] if rest else [])]), buttons=buttons)]


def _how_it_stood(exchange: Exchange, one: TreeMargins) -> list[Choice]:
    """How a cover may have stood in the night that killed its tree if it was off, each in one tap."""
    lost = one.hardiness.lost
    if not lost.in_question or lost.evening is None or one.cover is None:
        return []
    words, tree = words_of(one.cover), one.tree.name
    before = datetime.combine(lost.evening - timedelta(days=1), time(12), exchange.garden.site.zone)
    tops = {CoverState.CLOSED: DeedKind.CLOSED, CoverState.VENTED: DeedKind.VENTED}
    on = [
        Choice(label=f"{tree}: {words.stands[state]}",
               meanings=(Meaning(verb=Verb.WRAPPED, trees=(tree,), top=top, at_utc=before),))
        for state, top in tops.items() if words.top or state is CoverState.CLOSED
    ]  # fmt: skip
    off = Meaning(verb=Verb.CONDITION, trees=(tree,), condition=ConditionKind.NOT_ON, at_utc=before)
    return [*on, Choice(label=f"{tree}: not on", meanings=(off,))]


def _chance_as_it_stands(one: TreeMargins) -> float:
    return one.nights[0].tissue[one.state_assumed].chance if one.nights else 0.0


def _terms(exchange: Exchange, trees: Sequence[TreeMargins], seen: Outlook) -> dict[str, HeatTerms]:
    """The heat of each cover in the night that is asked about."""
    terms = {}
    covered = [one for one in trees if one.cover is not None and not one.tree.left_bare]
    for one, heat in zip(
        covered, tree_heats(inputs_now(exchange), [one.tree for one in covered], exchange.now), strict=False
    ):
        night = night_asked(one, seen)
        if night is None:
            continue
        found = heat.night_terms(night.evening, state_explained(one), one.hardiness.lt10_c)
        if found is not None:
            terms[one.tree.name] = found
    return terms


def tell_what_if(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What a colder night, other weather or another cover would do."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    words = meaning.text.split()
    fills = [float(words[i + 1]) for i, word in enumerate(words[:-1]) if word == "fill"]
    about_cover = bool(fills) or "bucket" in words or "enough" in words
    trees = _trees_asked(seen, meaning, about_cover=about_cover)
    if not trees:
        return [Answer(text="Which tree? None that you named has a cover.")]
    is_on = all(one.state_assumed is not CoverState.BARE for one in trees)
    if "bucket" in words and is_on and meaning.air_c is None and not any(word in WINDY for word in words):
        return [Answer(text=_buckets(exchange, trees))]
    if "fill" in words and (refusal := _unbuildable(trees[0], fills, exchange)):
        return [Answer(text=refusal)]
    supposed = say.Supposed(
        minimum_c=meaning.air_c,
        in_the_open=not meaning.trees,
        windy=any(word in WINDY for word in words),
        words=tuple(word for word in words if word in SKY_WORDS),
    )
    heats = tree_heats(inputs_now(exchange), [one.tree for one in trees], exchange.now)
    if not heats:
        return [Answer(text="I have no forecast, so I have no nights to try that on.")]
    if (refusal := _impossible(heats[0], supposed, exchange)) is not None:
        return [Answer(text=refusal)]
    found = _ways(trees, heats, supposed, fills, bucket=about_cover or len(trees) == 1)
    if about_cover:
        return [Answer(text="\n\n".join(_enough(one, fills, words, supposed, exchange) for one in found))]
    if len(found) > 1:
        return [Answer(text=say.garden_ways(found, supposed, exchange.style))]
    return [Answer(text=say.tree_ways(found[0], supposed, exchange.style))]


def _buckets(exchange: Exchange, trees: Sequence[TreeMargins]) -> str:
    """A bucket tonight, each tree as it stands: the same figures as those of everything that helps."""
    things, evening = things_for(exchange, trees), exchange.style.evening(exchange.now)
    return "\n".join(
        bucket_tonight(one, things.get(one.tree.name, ()), evening, exchange.style, exchange.now) for one in trees
    )


SKY_WORDS: Final = ("calm", "still", "cloudy", "clear", "rain", "rainy", "snow", "snowy", "sunny")


def _trees_asked(seen: Outlook, meaning: Meaning, *, about_cover: bool) -> list[TreeMargins]:
    """The trees named, else all; about a cover only those that may have one, the first of them where none is named."""
    trees = [one for one in seen.trees if one.tree.name in meaning.trees or not meaning.trees]
    if not about_cover:
        return trees
    covered = [one for one in trees if one.cover is not None and not one.tree.left_bare]
    return covered if meaning.trees else covered[:1]


def _unbuildable(one: TreeMargins, fills: Sequence[float], exchange: Exchange) -> str | None:
    most_m = (BOUNDS["outer_diameter_m"][1] - (one.cover.inner_diameter_m if one.cover else 0.0)) / 2
    for thick_m in fills:
        if not THINNEST_FILL_M <= thick_m <= most_m:
            return say.cannot_be_built(thick_m, THINNEST_FILL_M, most_m, exchange.style)
    return None


def _impossible(heat: TreeHeat, supposed: say.Supposed, exchange: Exchange) -> str | None:
    """Why no such night can be made of the coming days; None where it can."""
    if supposed.minimum_c is None:
        return None
    if supposed.minimum_c < COLDEST_ASKED_C:
        return say.too_cold_to_ask(supposed.minimum_c, COLDEST_ASKED_C, exchange.style)
    try:
        heat.spell(supposed.minimum_c, in_the_open=supposed.in_the_open)
    except ValueError:  # the rules say in their own words that the days are not warm enough
        return say.cannot_fall_so(supposed.minimum_c, float(heat.spell().air_c.max()), exchange.style)
    return None


def _ways(
    trees: Sequence[TreeMargins], heats: Sequence[TreeHeat], supposed: say.Supposed, fills: Sequence[float], *,
    bucket: bool,
) -> list[say.WaysOfTree]:  # fmt: skip
    spells = [heat.spell(supposed.minimum_c, in_the_open=supposed.in_the_open, windy=supposed.windy) for heat in heats]
    stands = [heat.stand(spell) for heat, spell in zip(heats, spells, strict=True)]
    tried = what_if(stands, soil=heats[0].soil, fills_m=fills, bucket=bucket)
    return [
        say.WaysOfTree(
            tree=one.tree.name,
            fill=_fill(stand.cover),
            air_c=float(stand.weather.air_c.min()),
            wood_hardiness=one.hardiness,
            ways=[
                (choice, one.hardiness.chance_too_cold(choice.wood_c, choice.spread_c))
                for choice in choices
                if _is_possible(choice, one)
            ],
        )
        for one, stand, choices in zip(trees, stands, tried, strict=True)
    ]


def _is_possible(choice: WhatIf, one: TreeMargins) -> bool:
    covered = one.cover is not None and not one.tree.left_bare
    return covered or choice.kind is WhatIfKind.BARE


def _fill(cover: Cover) -> str:
    """What a thickness is of: straw where the cover has no fill."""
    return str(Fill.STRAW if cover.fill is Fill.NONE else cover.fill)


def _enough(
    found: say.WaysOfTree, fills: Sequence[float], words: Sequence[str], supposed: say.Supposed, exchange: Exchange
) -> str:
    kind = WhatIfKind.FILL if fills else WhatIfKind.BUCKET if "bucket" in words else WhatIfKind.CLOSED
    return say.enough(found, kind, supposed, exchange.style)
