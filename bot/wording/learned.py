"""The sentences about what was learned: what have you learned, forget, the June review, the twins."""

from collections.abc import Sequence

from bot.wording.formats import MINUS, Style, chance, names, sentence
from rules.learning import (
    Forgotten,
    LearnedForecast,
    LearnedHardiness,
    LearnedOffset,
    LearnedTree,
    Outcome,
    Proposal,
    SeasonReview,
    SetAside,
    ThresholdAnswer,
    TreeSeason,
    TwinVerdict,
    Why,
    Worth,
)
from rules.microclimate import SiteOffset

SAY_LEAD_H = 24.0
HALVED, HELPED = 0.55, 0.85  # shares of the doubt left that are called "halve" and "help"
BECAUSE = {
    Why.BY_DAY: "read by day; I learn from nights",
    Why.NO_WEATHER: "I know no weather for that hour",
    Why.SIGN_LOST: "a minus seems to be missing",
    Why.FAHRENHEIT: "it looks like °F",
    Why.SUN_STRUCK: "the sun was near",
    Why.FAR_OFF: "far from all your others",
}


def what_learned(trees: Sequence[LearnedTree], service: LearnedForecast | None, style: Style) -> str:
    """What was learned of each tree, and of the forecast; what more readings would be worth."""
    lines = [line for one in trees for line in tree_lines(one, style)]
    lines += [forecast_line(service, style)] if service and service.nights else []
    if not any(one.offset.readings or one.hardiness or (one.cover and one.cover.readings) for one in trees):
        lines.append("Nothing is learned without readings. Tell me one: -6.5 at the wall, or: low was 14 last night.")
    return "\n".join(lines)


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
    more = worth(one.air_worth, "there", style)
    clear = f"{_against(learned.mean_c(1), style)} ± {style.step(learned.sd_c(1))}"
    if not learned.readings:
        return f"{one.tree}: no readings yet. I take it as {clear} than the open on clear calm nights. {more}"
    mixed = f"{_against(learned.mean_c(0), style)} ± {style.step(learned.sd_c(0))}"
    before = f"{_against(prior.radiation_c + prior.mixed_c, style)} ± {style.step(prior.sd_c(1))}"
    told = f"{one.tree}: {clear} than the open on clear calm nights (I began at {before}); in wind or cloud {mixed}."
    return f"{told} From {_count(learned.readings, 'reading')} in {_count(learned.nights, 'night')}. {more}"


def inside_line(one: LearnedTree, style: Style) -> str:
    """A cover: how well its inside is known, from how many readings, and the worth of more."""
    if one.cover is None or one.inside_worth is None:
        raise ValueError(f"{one.tree} has no cover to speak of")
    sure = f"On a cold night I know its wood to ± {style.step(one.inside_worth.sd_now_c)}"
    read = _count(one.cover.readings, "reading") if one.cover.readings else "no reading yet"
    anew = " Wrapped anew since: half of that is let go." if one.cover.wrapped else ""
    return f"Inside {one.tree}: {read}. {sure}.{anew} {worth(one.inside_worth, f'inside {one.tree}', style)}"


def worth(value: Worth, where: str, style: Style) -> str:
    """What some more nights of readings would be worth; nothing where they would hardly help."""
    nights = _count(value.nights, "night")
    then = f"to ± {style.step(value.sd_then_c)}"
    if value.share_left <= HALVED:
        return f"A thermometer {where} for {nights} would halve my doubt, {then}."
    if value.share_left <= HELPED:
        return f"Lows read {where} on {nights} would bring it {then}."
    return f"More readings {where} would change little."


def forecast_line(service: LearnedForecast, style: Style) -> str:
    """The forecast's own error at this garden, a day ahead."""
    bias_c = service.bias_c(SAY_LEAD_H)
    side = "too warm" if bias_c > 0 else "too cold"
    sure = f"± {style.step(service.bias_sd_c(SAY_LEAD_H))}"
    spread = style.step(float(service.sigma_c(SAY_LEAD_H)))
    return (
        f"Forecast, a day ahead: {style.step(bias_c)} {side} on average ({sure}), and off by {spread} either way. "
        f"From {_count(service.nights, 'night')}."
    )


def hardiness_line(tree: str, found: LearnedHardiness, style: Style) -> str:
    """What its winters say of a tree's own wood."""
    side = "hardier" if found.shift_c < 0 else "more tender"
    shift = "as hardy as its kind" if abs(found.shift_c) < 0.05 else f"{style.step(found.shift_c)} {side} than its kind"
    odd = f" {_count(len(found.odd), 'winter')} had another cause, I think." if found.odd else ""
    told = f"{tree}, {found.phase}: {shift}, ± {style.step(found.sd_c)}, from {_count(found.outcomes, 'winter')}."
    return told + odd


def set_aside_line(found: SetAside, style: Style) -> str:
    """One reading that is kept but not believed, and why."""
    reading = found.reading
    expected = "" if found.expected_c is None else f" (I expected about {style.degrees(found.expected_c)})"
    when = f"{reading.at_utc.astimezone(style.zone):%d %b}".lstrip("0")
    shown = style.degrees(reading.air_c, tenths=True)
    return f"Kept but not used: {shown} at {reading.tree}, {when}: {BECAUSE[found.why]}{expected}."


def forgotten(tree: str, readings: int) -> str:
    """That a tree's readings no longer count."""
    if not readings:
        return f"There was nothing to forget: no readings at {tree}."
    gone = f"Forgotten: {_count(readings, 'reading')} at {tree} no longer count."
    return f"{gone} I start again from its standing. Undo brings them back."


def ask_forget(trees: Sequence[tuple[str, int, int]]) -> str:
    """Whether what some trees taught shall count no more: name, readings, thresholds accepted."""
    told = [f"{tree} ({', '.join(_taught(readings, held))})" for tree, readings, held in trees]
    return f"Forget what I learned at {names(told)}? I start again there; the records stay, and undo brings it back."


def _taught(readings: int, held: int) -> list[str]:
    parts = [_count(readings, "reading")] if readings else []
    return parts + ([f"{_count(held, 'threshold')} you accepted"] if held else [])


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


def june_review(review: SeasonReview, style: Style) -> str:
    """The season looked back on: what was said, what came, what was done, what another way would have cost."""
    lines = [
        "Your winter, looked back on.",
        *_forecast_lines(review, style),
        f"You made {_count(review.trips, 'trip')}.",
    ]
    lines += [_tree_season(one) for one in review.trees]
    for way in review.would_have:
        lost = ", ".join(f"{tree} {_percent(share)}" for tree, share in way.lost.items())
        lines.append(f"{sentence(way.way)[:-1]}: {way.trips:.0f} trips" + (f", wood lost: {lost}." if lost else "."))
    lines += [proposal(one, style) for one in review.proposals]
    return "\n".join(lines)


def proposal(one: Proposal, style: Style) -> str:
    """A threshold for next autumn, to accept or refuse."""
    side = "hardier" if one.shift_c < 0 else "more tender"
    before, after = style.degrees(one.bears_before_c, tenths=True), style.degrees(one.bears_after_c, tenths=True)
    return (
        f"{one.tree} looks {side} than I held. From next autumn, {one.phase}, hold {after} ± {style.step(one.sd_c)} in "
        f"place of {before}? From {_count(one.outcomes, 'winter')}. Yes or no."
    )


def proposal_answered(one: Proposal, style: Style, *, accepted: bool) -> str:
    """What is held from now on, whichever was answered."""
    after, before = style.degrees(one.bears_after_c, tenths=True), style.degrees(one.bears_before_c, tenths=True)
    if accepted:
        return f"Held from now on: {one.tree}, {one.phase}, {after} in place of {before}. Undo takes it back."
    return f"All right. {one.tree}, {one.phase}, stays at {before}."


NO_PAIR = 'Which two? I compare a covered tree with a bare one, for example "compare bench and trial".'


def dieback_untold(trees: Sequence[str]) -> str:
    """That nobody has said what the winter took of some trees."""
    return (
        f'First tell me what {names(trees)} lost, for example "{trees[0]} lost a third" or "no dieback on {trees[0]}".'
    )


def not_covered_then(covered: Outcome, style: Style) -> str:
    """That by the records the cover was not on in the night that counts."""
    local = covered.evening
    night = f"{local.day} {local:%B}"
    felt = style.degrees(covered.felt_c)
    return (
        f"The night that counts is {night}, {felt} at the wood. By what you told me {covered.tree} was bare too, so "
        "this pair shows nothing of its cover."
    )


def other_time_of_year(covered: Outcome, bare: Outcome) -> str:
    """That two trees cannot be compared: one was in leaf, the other at rest."""
    return (
        f"I cannot compare them: that night {covered.tree} was {covered.phase} and {bare.tree} {bare.phase}, "
        "and wood at rest bears what waking wood does not."
    )


def _forecast_lines(review: SeasonReview, style: Style) -> list[str]:
    if review.rms_c is None or review.bias_c is None:
        return ["No forecast was kept."]
    side = "warm" if review.bias_c > 0 else "cold"
    lines = [
        f"Lows over {_count(review.nights, 'night')}: off by {style.step(review.rms_c)}, on average "
        f"{style.step(review.bias_c)} too {side}."
    ]
    cold = review.warned_cold + review.unwarned_cold
    told = (
        f"By the chances I gave, {_count(round(review.expected_cold), 'night')} should have been too cold; {cold} came."
    )
    missed = f" Unwarned came {review.unwarned_cold}." if review.unwarned_cold else ""
    lines.append(f"{told} I warned of {review.warned}; {review.warned_cold} of those came.{missed}")
    return lines


def _tree_season(one: TreeSeason) -> str:
    lost = "you have not told me what was lost" if one.lost is None else f"{_percent(one.lost)} was lost"
    nights = _count(one.nights_too_cold, "night")
    return f"{one.tree}: {nights} too cold, {_percent(one.expected_lost)} of the wood expected lost, {lost}."


def twins(verdict: TwinVerdict, style: Style) -> str:
    """What one covered and one bare tree show, and what one pair cannot."""
    covered, bare = verdict.covered, verdict.bare
    seen = f"{covered.tree} (covered) lost {_percent(covered.lost)}, {bare.tree} (bare) {_percent(bare.lost)}."
    expected = f"By my reckoning the cover kept its wood {style.step(verdict.expected_c)} warmer that night."
    if verdict.worth_c is None or verdict.worth_sd_c is None:
        why = (
            "neither was hurt: the winter was too mild" if bare.lost < 0.5 else "both died: it was too cold for either"
        )
        return f"{seen} {expected} This pair shows nothing of the cover: {why}."
    if verdict.worth_c <= 0:
        return f"{seen} {expected} The cover did not show: the bare one did as well. One pair cannot say why."
    least = "at least " if verdict.at_least else ""
    told = f"The damage tells of {least}{style.step(verdict.worth_c)} ± {style.step(verdict.worth_sd_c)}."
    luck = f"Two bare trees of one name would differ as much {_luck(verdict.by_luck)}."
    more = "" if verdict.is_shown else f" To make it plain takes about {verdict.pairs_needed} such pairs."
    return f"{seen} {expected} {told} {luck}{more} One pair cannot tell the cover's part from the tree's own."


def _luck(share: float) -> str:
    return "in fewer than 1 winter in 20" if share < 0.05 else f"by luck in {chance(share)} winters"


def _against(celsius: float, style: Style) -> str:
    if abs(celsius) < 0.05:
        return f"{style.step(0.0)} warmer"
    return f"{style.step(celsius)} {'warmer' if celsius > 0 else 'colder'}"


def _percent(share: float) -> str:
    return "nothing" if share < 0.005 else f"{100 * share:.0f} %"


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}".replace("-", MINUS)
