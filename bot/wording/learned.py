"""The sentences about what was learned: what have you learned, what a reading changed, forget."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from bot.wording.formats import Style, counted, names, sentence
from rules.learning import (
    ColdestInside,
    Forgotten,
    LearnedHardiness,
    LearnedOffset,
    LearnedTree,
    SetAside,
    ThresholdAnswer,
    Why,
    Worth,
)
from rules.site.microclimate import SiteOffset
from rules.weather.members import PUBLISHED, ForecastError

SAY_LEAD_H = 24.0
CLEARLY_BETTER = 0.9  # of another's error left: less is within what forty nights can show (11 % of an sd)
ENOUGH_NIGHTS = 14  # from so many on the services are ranked: two weeks; assumed
LEAST_SAID_C = 0.05  # a smaller drift is shown as none
HALVED, HELPED = 0.55, 0.85  # shares of the doubt left that are called "halve" and "help"
BECAUSE = {
    Why.BY_DAY: "read by day; I learn from nights",
    Why.NO_WEATHER: "I know no weather for that hour",
    Why.SIGN_LOST: "a minus seems to be missing",
    Why.FAHRENHEIT: "it looks like °F",
    Why.SUN_STRUCK: "the sun was near",
    Why.BARE: "by what you told me its cover was off",
    Why.FAR_OFF: "far from all your others",
}


def what_learned(trees: Sequence[LearnedTree], service: ForecastError, style: Style) -> str:
    """What was learned of each tree, and of the forecast; what more readings would be worth."""
    lines = _alike([(one.tree, "\n".join(tree_lines(one, style))) for one in trees])
    lines += [forecast_line(service, style)] if service.nights else []
    if not any(one.offset.readings or one.hardiness or (one.cover and one.cover.readings) for one in trees):
        lines.append("Nothing is learned without readings. Tell me one: -6.5 at the wall, or: low was 14 last night.")
    return "\n".join(lines)


def _alike(told: Sequence[tuple[str, str]]) -> list[str]:
    """What is told of each tree, once for all those of which the same is."""
    trees: dict[str, list[str]] = {}
    for tree, text in told:
        trees.setdefault(text.replace(f"{tree}:", "{}:"), []).append(tree)
    return [text.replace("{}:", f"{names(same)}:") for text, same in trees.items()]


def tree_lines(one: LearnedTree, style: Style) -> list[str]:
    """One tree: its air, its cover, its wood, and the readings that were not believed."""
    lines = [air_line(one, style)]
    if one.cover and one.inside_worth:
        lines.append(inside_line(one, style))
    lines += [hardiness_line(one.tree, found, style) for found in one.hardiness if found.outcomes]
    aside = (*one.offset.set_aside, *(one.cover.set_aside if one.cover else ()))
    lines += [set_aside_line(found, style) for found in aside[-2:]]
    return lines


def air_line(one: LearnedTree, style: Style) -> str:
    """A tree's air on clear calm nights and on others: before, now, from how many readings, worth of more."""
    learned, prior = one.offset, one.offset.prior
    more = worth(one.air_worth, "there", style, one.air_next)
    clear = f"{_against(learned.mean_c(1), style)} ± {style.step(learned.sd_c(1))}"
    if not learned.readings:
        inside = one.cover is not None and one.cover.readings > 0
        told = "no readings of its air; from those inside its cover" if inside else "no readings yet."
        prior_c = learned.mean_c(1)
        spot = f"as the open is, ± {style.step(learned.sd_c(1))}," if abs(prior_c) < 0.05 else f"{clear} than the open"
        return f"{one.tree}: {told} I take it {spot} on clear calm nights. {more}"
    mixed = f"{_against(learned.mean_c(0), style)} ± {style.step(learned.sd_c(0))}"
    before = f"{_against(prior.radiation_c + prior.mixed_c, style)} ± {style.step(prior.sd_c(1))}"
    told = f"{one.tree}: {clear} than the open on clear calm nights (I began at {before}); in wind or cloud {mixed}."
    return f"{told} From {counted(learned.readings, 'reading')} in {counted(learned.nights, 'night')}. {more}"


def inside_line(one: LearnedTree, style: Style) -> str:
    """A cover: what it showed on a cold night, before, now, from how many readings, and the worth of more."""
    if one.cover is None or one.inside_worth is None:
        raise ValueError(f"{one.tree} has no cover to speak of")
    more = worth(one.inside_worth, f"inside {one.tree}", style, one.inside_next)
    if not one.cover.readings or one.inside is None:
        sure = f"On a cold night I know its wood to ± {style.step(one.inside_worth.sd_now_c)}."
        return f"Inside {one.tree}: no reading yet. {sure} {more}"
    held = f"On a cold night I hold its wood {_held(one.inside, style)} than under the cover you described"
    before = f"(I began at ± {style.step(one.inside.before_sd_c)})"
    anew = " Wrapped anew since: half of that is let go." if one.cover.wrapped else ""
    return f"Inside {one.tree}: {counted(one.cover.readings, 'reading')}. {held} {before}.{anew} {more}"


def _held(inside: ColdestInside, style: Style) -> str:
    return _believed(inside.shift_c, inside.sd_c, style)


def changed_inside(tree: str, before: ColdestInside, after: ColdestInside, style: Style) -> str:
    """What one reading changed of the wood inside a cover on a cold night."""
    was, now = _held(before, style), _held(after, style)
    if was == now:
        return f"On a cold night I still expect the wood inside {tree} to be {now} than under the cover you described."
    told = f"On a cold night I now expect the wood inside {tree} to be {now} than under the cover you described"
    return f"{told} (before: {was})."


def worth(value: Worth, where: str, style: Style, one_more: Worth | None = None) -> str:
    """What one more reading and some more nights of them would be worth; nothing where they would hardly help."""
    if value.share_left > HELPED:
        return f"More readings {where} would change little."
    nights, then = counted(value.nights, "night"), f"to ± {style.step(value.sd_then_c)}"
    first = f"One more low {where} would bring it to ± {style.step(one_more.sd_then_c)}. " if one_more else ""
    if value.share_left <= HALVED:
        return f"{first}A thermometer {where} for {nights} would halve my doubt, {then}."
    return f"{first}Lows read {where} on {nights} would bring it {then}."


def forecast_line(service: ForecastError, style: Style) -> str:
    """The forecast's own error at this garden, a day ahead: as published, now, from how many nights."""
    before, now = (style.step(float(one.sigma_c(SAY_LEAD_H))) for one in (PUBLISHED, service))
    side = "warmer" if service.drift_c_d > 0 else "colder"
    drift = f" Each day further ahead it tells nights {style.step(service.drift_c_d)} {side} than they come."
    told = f"Forecast, a day ahead: off by {now} either way here (I began at {before})."
    grows = drift if abs(service.drift_c_d) >= LEAST_SAID_C else ""
    return f"{told}{grows} From {counted(service.nights, 'night')}."


@dataclass(frozen=True, kw_only=True)
class ServiceHere:
    """One service at this garden: what its lows were off by a day ahead [°C], and its share of tonight [0-1]."""

    title: str
    nights: int
    miss_c: float
    bias_c: float
    sigma_c: float
    share: float | None = None


def best_forecast(heard: Sequence[ServiceHere], style: Style, *, together: bool) -> str:
    """Which forecast is best here, by the nights that were told and came, the best first."""
    judged = sorted((one for one in heard if one.nights), key=lambda one: one.sigma_c)
    lines = [_service_line(one, style) for one in judged]
    if not judged:
        lines.append("I can't tell yet: no night that was told ahead has come and been measured.")
    elif len(judged) > 1 and judged[0].nights >= ENOUGH_NIGHTS:
        better = judged[0].sigma_c < CLEARLY_BETTER * judged[1].sigma_c
        verdict = "is the best here so far" if better else f"and {judged[1].title} are about as good here so far"
        lines.insert(0, sentence(f"{judged[0].title} {verdict}, once I correct each for its habits"))
    if not together:
        lines.append("I listen to one service at a time; services_together = true in the garden file compares them.")
    return "\n".join(lines)


def _service_line(one: ServiceHere, style: Style) -> str:
    """One service: its own word, which side it errs to, what is left after I correct it, and what it counts for."""
    side = "too warm" if one.bias_c > 0 else "too cold"
    leans = f", mostly {style.step(one.bias_c)} {side}" if abs(one.bias_c) >= LEAST_SAID_C else ""
    own = f"lows off by {style.step(one.miss_c)} a day ahead{leans}; " if isfinite(one.miss_c) else ""
    counts = "" if one.share is None else f" Tonight it counts {round(100 * one.share)} %."
    return (
        sentence(f"{one.title}: {own}corrected ± {style.step(one.sigma_c)}, from {counted(one.nights, 'night')}")
        + counts
    )


def hardiness_line(tree: str, found: LearnedHardiness, style: Style) -> str:
    """What its winters say of a tree's own wood."""
    side = "hardier" if found.shift_c < 0 else "more tender"
    shift = "as hardy as its kind" if abs(found.shift_c) < 0.05 else f"{style.step(found.shift_c)} {side} than its kind"
    odd = f" {counted(len(found.odd), 'winter')} had another cause, I think." if found.odd else ""
    told = f"{tree}, {found.phase}: {shift}, ± {style.step(found.sd_c)}, from {counted(found.outcomes, 'winter')}."
    return told + odd


def set_aside_line(found: SetAside, style: Style) -> str:
    """One reading that is kept but not believed, and why."""
    reading = found.reading
    expected = "" if found.expected_c is None else f" (I expected about {style.degrees(found.expected_c)})"
    when = style.short_date(reading.at_utc.astimezone(style.zone).date())
    shown = style.degrees(reading.air_c, tenths=True)
    return f"Kept but not used: {shown} at {reading.tree}, {when}: {BECAUSE[found.why]}{expected}."


def forgotten(tree: str, readings: int) -> str:
    """That a tree's readings no longer count."""
    if not readings:
        return f"There was nothing to forget: no readings at {tree}."
    gone = f"Forgotten: {counted(readings, 'reading')} at {tree} no longer count."
    return f"{gone} I start again from its standing. Undo brings them back."


def ask_forget(trees: Sequence[tuple[str, int, int]]) -> str:
    """Whether what some trees taught shall count no more: name, readings, thresholds accepted."""
    told = [f"{tree} ({', '.join(_taught(readings, held))})" for tree, readings, held in trees]
    return f"Forget what I learned at {names(told)}? I start again there; the records stay, and undo brings it back."


def _taught(readings: int, held: int) -> list[str]:
    parts = [counted(readings, "reading")] if readings else []
    return parts + ([f"{counted(held, 'threshold')} you accepted"] if held else [])


def nothing_to_forget(trees: Sequence[str]) -> str:
    """That nothing was learned there."""
    return f"There is nothing to forget: no readings at {names(trees) if trees else 'any tree'}."


def thresholds_forgotten(tree: str) -> str:
    """That a tree is held to be as hardy as its kind again."""
    return f"Forgotten: {tree} is held to be as hardy as its kind again. Undo brings it back."


def word_in_words(word: Forgotten | ThresholdAnswer) -> str:
    """A word about what was learned, as undo and the page of one tree say it."""
    if isinstance(word, Forgotten):
        return "forgetting what it taught"
    return f"what its winters taught {'accepted' if word.is_accepted else 'refused'} ({word.learned.phase})"


def not_used(found: SetAside, style: Style) -> str:
    """That a reading just noted teaches nothing, and why."""
    expected = "" if found.expected_c is None else f"; I expected about {style.degrees(found.expected_c)}"
    return f"Kept, but not used to learn: {BECAUSE[found.why]}{expected}."


def changed(tree: str, before: SiteOffset, after: LearnedOffset, style: Style) -> str:
    """What one reading changed of a tree's air on clear nights; that it changed nothing where it did not."""
    was = _believed(before.radiation_c + before.mixed_c, before.sd_c(1), style)
    now = _believed(after.mean_c(1), after.sd_c(1), style)
    if was == now:
        return f"I still expect {tree} to be {now} than the open on clear nights."
    return f"I now expect {tree} to be {now} than the open on clear nights (before: {was})."


def _believed(celsius: float, sd_c: float, style: Style) -> str:
    """A difference with its doubt, and its side.

    >>> from zoneinfo import ZoneInfo
    >>> _believed(-1.1, 0.4, Style(zone=ZoneInfo("UTC")))
    '1.1 ± 0.4 °C colder'
    """
    number, side = _against(celsius, style).split()[::2]
    return f"{number} ± {style.step(sd_c)} {side}"


def _against(celsius: float, style: Style) -> str:
    if abs(celsius) < 0.05:
        return f"{style.step(0.0)} warmer"
    return f"{style.step(celsius)} {'warmer' if celsius > 0 else 'colder'}"
