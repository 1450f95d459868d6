"""What befell a cover or its tree: what was noted, what it means tonight, and what to do, in daylight and safely."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Final

from bot.wording.covers.words import LAYERS, Covers, words_of
from bot.wording.formats import Style, five_minutes, names, too_cold
from rules.garden.condition import ConditionKind, ConditionTold, Layer
from rules.garden.cover import Cover, CoverState
from rules.garden.materials import Fill

BROKEN: Final[Mapping[ConditionKind, str]] = {
    ConditionKind.TORN: "film torn",
    ConditionKind.WET: "{fill} wet",
    ConditionKind.SUNK: "{fill} sunk",
    ConditionKind.SNOW_ON: "snow on top",
    ConditionKind.SNOW_ROUND: "snow round the foot",
    ConditionKind.TOP_GONE: "{top} gone",
    ConditionKind.TOP_OPEN: "{top} found open",
    ConditionKind.BRANCH_BROKEN: "branch broken",
    ConditionKind.MICE: "mice",
    ConditionKind.MOULD: "mould",
    ConditionKind.NOT_ON: "cover not on",
}
MENDED: Final[Mapping[ConditionKind, str]] = {
    ConditionKind.TORN: "film mended",
    ConditionKind.WET: "{fill} dry again",
    ConditionKind.SUNK: "{fill} topped up",
    ConditionKind.SNOW_ON: "snow taken off",
    ConditionKind.SNOW_ROUND: "snow gone",
    ConditionKind.TOP_GONE: "{top} back on",
    ConditionKind.TOP_OPEN: "{top} shut again",
    ConditionKind.BRANCH_BROKEN: "branch seen to",
    ConditionKind.MICE: "no mice any more",
    ConditionKind.MOULD: "no mould any more",
    ConditionKind.NOT_ON: "cover on",
}
# What a gardener does about it: common practice, no source, but for the safety words, which are those of the jobs.
TO_DO: Final[Mapping[ConditionKind, str]] = {
    ConditionKind.LAYER_OFF: "Put the {layer} on in daylight, before the next cold night.",
    ConditionKind.TOP_GONE: "Look for it, or lay a board, a blanket or thick fleece over the top and tie it down.",
    ConditionKind.TOP_OPEN: "Close it and see what gave way: a strap or a stone on each side keeps it shut.",
    ConditionKind.TORN: "Tape the tear on dry film, or strap a spare sheet or a blanket round it.",
    ConditionKind.WET: "Keep more rain off the top; swap what is soaked when a dry day comes. It keeps far less warm.",
    ConditionKind.SUNK: "Top it up to the tips with dry fill: it is the top that freezes first.",
    ConditionKind.SNOW_ON: "Brush it off the top gently; heaped round the foot it keeps the cold out.",
    ConditionKind.SNOW_ROUND: "Leave it there: it keeps the cold out.",
    ConditionKind.BRANCH_BROKEN: "Cut it back to a clean edge in dry weather, or tie it up if it still hangs on.",
    ConditionKind.MICE: "Look for gnawed bark at the foot, put fine mesh round the stem, set traps.",
    ConditionKind.MOULD: "Open the top on the next mild dry day and let it dry; take leaves and dead fruit out.",
}
BY_DAYLIGHT: Final = frozenset(
    {ConditionKind.LAYER_OFF, ConditionKind.TOP_GONE, ConditionKind.TORN, ConditionKind.TOP_OPEN}
)
LEAVE_IT: Final = "Nothing on a ladder, in the dark or in a strong wind: rather a colder night than a fall."


def told_words(told: ConditionTold, covers: Covers) -> str:
    """What befell one tree, or was put right, in a few words: "film torn", "straw topped up"."""
    cover = covers.get(told.tree)
    if told.kind is ConditionKind.MOVED:
        return f"moved {told.place}".strip()
    if told.kind is ConditionKind.LAYER_OFF:
        return f"{_layer(told.layer, cover)} {'on' if told.is_over else 'not on'}"
    words = (MENDED if told.is_over else BROKEN)[told.kind]
    return words.format(fill=_fill(cover), top=words_of(cover).top or "top")


def noted_conditions(told: Sequence[ConditionTold], covers: Covers) -> str:
    """What was noted of some trees, those with the same news together."""
    same: dict[tuple[str, bool], list[str]] = {}
    for one in told:
        same.setdefault((told_words(one, covers), one.kind is ConditionKind.MOVED), []).append(one.tree)
    news = [
        f"{names(trees)} {words}" if moved else f"{words} at {names(trees)}" for (words, moved), trees in same.items()
    ]
    return f"Noted: {'; '.join(news)}."


def is_it_on(trees: Sequence[str], covers: Covers) -> str:
    """The question whether covers are on of which something was told that only a cover that is on can have."""
    if len(trees) > 1:
        return f"As far as I know {names(trees)} are not covered. Are they? I noted nothing of them yet."
    stands = words_of(covers.get(trees[0])).stands[CoverState.BARE]
    return f"As far as I know {trees[0]} is {stands}. Is its cover on? I noted nothing of it yet."


def has_none(trees: Sequence[str], what: str) -> str:
    """That covers lack what something was told of."""
    where = "" if what == "cover" else f" in {'its cover' if len(trees) == 1 else 'their covers'}"
    verb = "has" if len(trees) == 1 else "have"
    return f'{names(trees)} {verb} no {what}{where} that I know of: not noted. "note: …" keeps it all the same.'


def means_tonight(tree: str, wood_c: float, lt10_c: float, harm: float, style: Style) -> str:
    """What the wood will feel tonight with its cover as it now is."""
    safe = f"safe to {style.degrees(lt10_c)}"
    verdict = ", so that is all right" if harm < 0.05 else f": {too_cold(harm)}"
    return f"As it is now, the wood of {tree} should feel {style.degrees(wood_c)} tonight; it is {safe}{verdict}."


def what_to_do(told: ConditionTold, covers: Covers, *, is_dark: bool, is_windy: bool, until: str) -> str:
    """What to do about it, and when: up to `until` dark or wind forbids it. Empty for what is over."""
    if told.is_over or told.kind not in TO_DO:
        return ""
    to_do = TO_DO[told.kind].format(layer=_layer(told.layer, covers.get(told.tree)))
    if told.kind in BY_DAYLIGHT and (is_dark or is_windy):
        why = "It is dark" if is_dark else "The wind is too strong for it"
        return f"{why} until {until}: do it then. {to_do} {LEAVE_IT}"
    return to_do


def what_to_do_about(kind: ConditionKind) -> str:
    """What a gardener does about something that befell a cover, asked in general."""
    return TO_DO.get(kind, "I know of nothing to do about that.")


def better_off(told: ConditionTold, spared_c: float, covers: Covers, style: Style) -> str:
    """That a skin which radiates more than it holds is better left off."""
    layer = _layer(told.layer, covers.get(told.tree))
    return f"Leave the {layer} off tonight: {style.step(spared_c)} warmer without, for it holds less than it radiates."


def work_again(again_utc: datetime | None, style: Style, now: datetime) -> str:
    """When work is possible again, in words: "tomorrow 08:25"."""
    if again_utc is None:
        return "a calm day; my forecast shows none"
    return f"{style.day(again_utc, now)} {style.clock(five_minutes(again_utc))}"


def _layer(layer: Layer | None, cover: Cover | None) -> str:
    return _fill(cover) if layer is Layer.FILL else LAYERS[layer] if layer else "layer"


def _fill(cover: Cover | None) -> str:
    return "straw" if cover is None or cover.fill is Fill.NONE else str(cover.fill)
