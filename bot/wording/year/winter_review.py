"""The sentences that look back: the June review and what it proposes, a covered and a bare twin compared."""

from collections.abc import Sequence

from bot.wording.formats import Style, chance, counted, names, sentence
from rules.learning import Outcome, Proposal, SeasonReview, TreeSeason, TwinVerdict, WouldHave


def june_review(review: SeasonReview, style: Style) -> str:
    """The season looked back on: what was said, what came, what was done, what another way would have cost."""
    lines = [
        "Your winter, looked back on.",
        *_forecast_lines(review, style),
        f"You made {counted(review.trips, 'trip')}.",
    ]
    lines += [_tree_season(one) for one in review.trees]
    lines += ["That winter planned again, on the forecasts of its evenings:"] if review.would_have else []
    lines += [_would_have(way) for way in review.would_have]
    lines += [proposal(one, style) for one in review.proposals]
    return "\n".join(lines)


def _would_have(way: WouldHave) -> str:
    lost = [f"{tree} {_percent(share)}" for tree, share in way.lost.items()]
    wood = f", wood lost: {', '.join(lost)}." if lost else "."
    return f"{sentence(way.way)[:-1]}: {counted(round(way.trips), 'trip')}{wood}"


def proposal(one: Proposal, style: Style) -> str:
    """A threshold for next autumn, to accept or refuse."""
    side = "hardier" if one.shift_c < 0 else "more tender"
    before, after = style.degrees(one.lt10_before_c, tenths=True), style.degrees(one.lt10_after_c, tenths=True)
    return (
        f"{one.tree} looks {side} than I held. From next autumn, {one.phase}, hold {after} ± {style.step(one.sd_c)} in "
        f"place of {before}? From {counted(one.outcomes, 'winter')}. Yes or no."
    )


def proposal_answered(one: Proposal, style: Style, *, accepted: bool) -> str:
    """What is held from now on, whichever was answered."""
    after, before = style.degrees(one.lt10_after_c, tenths=True), style.degrees(one.lt10_before_c, tenths=True)
    if accepted:
        return f"Held from now on: {one.tree}, {one.phase}, {after} in place of {before}. Undo takes it back."
    return f"All right. {one.tree}, {one.phase}, stays at {before}."


NO_PAIR = 'Which two? I compare a covered tree with a bare one, for example "compare pom and trial".'


def dieback_untold(trees: Sequence[str]) -> str:
    """That nobody has said what the winter took of some trees."""
    return (
        f'First tell me what {names(trees)} lost, for example "{trees[0]} lost a third" or "no dieback on {trees[0]}".'
    )


def not_covered_then(covered: Outcome, style: Style) -> str:
    """That by the records the cover was not on in the night that counts."""
    night = style.long_date(covered.evening)
    tissue = style.degrees(covered.tissue_c)
    return (
        f"The night that counts is {night}, {tissue} at the wood. By what you told me {covered.tree} was bare too, so "
        "this pair shows nothing of its cover."
    )


def other_time_of_year(covered: Outcome, bare: Outcome) -> str:
    """That two trees cannot be compared: one was in leaf, the other at rest."""
    return (
        f"I cannot compare them: that night {covered.tree} was {covered.phase} and {bare.tree} {bare.phase}, "
        "and wood at rest is safe where waking wood is not."
    )


def _forecast_lines(review: SeasonReview, style: Style) -> list[str]:
    if review.rms_c is None or review.bias_c is None:
        return ["No forecast was kept."]
    side = "warm" if review.bias_c > 0 else "cold"
    lines = [
        f"Lows over {counted(review.nights, 'night')}: off by {style.step(review.rms_c)}, on average "
        f"{style.step(review.bias_c)} too {side}."
    ]
    cold = review.warned_cold + review.unwarned_cold
    expected = counted(round(review.expected_cold), "night")
    told = f"By the chances I gave, {expected} should have been too cold; {cold} came."
    missed = f" Unwarned came {review.unwarned_cold}." if review.unwarned_cold else ""
    lines.append(f"{told} I warned of {review.warned}; {review.warned_cold} of those came.{missed}")
    return lines


def _tree_season(one: TreeSeason) -> str:
    lost = "you have not told me what was lost" if one.lost is None else f"{_percent(one.lost)} was lost"
    nights = counted(one.nights_too_cold, "night")
    return f"{one.tree}: {nights} too cold, {_percent(one.expected_lost)} of the wood expected lost, {lost}."


def twins(verdict: TwinVerdict, style: Style) -> str:
    """What one covered and one bare tree show, and what one pair cannot."""
    covered, bare = verdict.covered, verdict.bare
    seen = f"{covered.tree} (covered) lost {_percent(covered.lost)}, {bare.tree} (bare) {_percent(bare.lost)}."
    expected = f"By my estimate the cover kept its wood {style.step(verdict.expected_c)} warmer that night."
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


def _percent(share: float) -> str:
    return "nothing" if share < 0.005 else f"{100 * share:.0f} %"
