"""`review the winter` and `compare`: the season looked back on, its proposals answered, twins side by side."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final

from bot.answers.dialogues import Dialogue, DialogueAnswer, confirm, is_yes
from bot.answers.exchange import Answer, Exchange, undo_button
from bot.answers.noting import source_of
from bot.logbook import note_entry, past_weather, read_learning, read_records, rounds_of_evenings
from bot.replies import Meaning
from bot.wording.year import winter_review as say
from rules.backtest.last_winter import winter_replayed
from rules.garden.cover import CoverState
from rules.garden.records import Deed, Dieback, state_now
from rules.garden.tree import Phase, Tree
from rules.learning import (
    LearnedHardiness,
    NightLookedBackOn,
    Outcome,
    Proposal,
    ThresholdAnswer,
    accepted_of,
    compare_twins,
    learn_hardiness,
    proposed,
    season_review,
)
from rules.outlook.inputs import OutlookInputs
from rules.outlook.views.past_winter import SEASON_LASTS, NightGone, outcome_of, season_looked_back, winters_gone
from rules.weather.timeline import until
from rules.wood.hardiness import tree_row
from rules.wood.season import season_place

PROPOSAL: Final = "proposal"
MOST_WINTERS: Final = 4  # that are looked back on; each takes some seconds of reckoning in a garden of eight trees
EVENING: Final = time(18)  # the last look before it is what was told of a night
Winters = Mapping[str, Mapping[date, Sequence[NightGone]]]


def review(exchange: Exchange, _: Meaning) -> list[Answer]:
    """The winter looked back on, and the first of what it proposes."""
    start = season_looked_back(exchange.today, exchange.garden.site)
    inputs = _long_inputs(exchange, start)
    seasons = _seasons(inputs, start)
    winters = winters_gone(inputs, exchange.garden.trees, seasons, exchange.now)
    if not any(winters[name][start] for name in winters):
        return [Answer(text="I know no weather of that winter, so I cannot look back on it.")]
    documents = _evenings(exchange, start, winters)
    nights, expected = _told(documents, start, winters)
    outcomes = _outcomes(inputs, winters, seasons)
    learned = _wood(exchange, [one for _, one in outcomes])
    found = season_review(
        nights,
        _deeds(inputs, start),
        [one for s, one in outcomes if s == start],
        expected,
        would_have=winter_replayed(inputs, start, _lows_told(documents), learned),
    )
    found = replace(
        found, trees=tuple(replace(one, nights_too_cold=_too_cold(winters[one.tree][start])) for one in found.trees)
    )
    proposals = _proposals(exchange, learned)
    text = say.june_review(found, exchange.style)
    return [Answer(text=text), *_ask_next(exchange, proposals)]


def _too_cold(nights: Sequence[NightGone]) -> int:
    """How many nights the wood got colder than it was safe to, whether a forecast of them was kept or not."""
    return sum(one.beyond_c < 0 for one in nights)


def _long_inputs(exchange: Exchange, start: date) -> OutlookInputs:
    """What the last look stood on, with the records of some winters and the past from the first of them to this one.

    The past begins a month before the first winter of which dieback was told, so that ground and covers settle.
    """
    since = exchange.now - timedelta(days=366 * MOST_WINTERS)
    inputs = replace(exchange.inputs(), records=read_records(exchange.c, exchange.garden.name, since))
    first = datetime.combine(_seasons(inputs, start)[0], time(), UTC) - timedelta(days=30)
    past = past_weather(exchange.c, exchange.weather_of, max(first, since))
    over = datetime.combine(start + SEASON_LASTS, time(), UTC)
    return replace(inputs, past=until(past, over) if past else None)


def _season_of(moment: datetime, inputs: OutlookInputs) -> date:
    return season_place(moment.astimezone(inputs.site.zone).date(), inputs.site.latitude_deg).start


def _seasons(inputs: OutlookInputs, start: date) -> list[date]:
    """This season, and those before it of which dieback was told."""
    told = {_season_of(one.at_utc, inputs) for one in inputs.records.diebacks if one.lost is not None}
    return sorted({start} | {one for one in told if one <= start})


def _deeds(inputs: OutlookInputs, start: date) -> list[Deed]:
    return [one for one in inputs.records.deeds if start <= one.at_utc.date() <= start + SEASON_LASTS]


def _evenings(exchange: Exchange, start: date, winters: Winters) -> Mapping[date, dict[str, Any]]:
    """The last look before each evening of the winter, as the logbook keeps it."""
    zone = exchange.garden.site.zone
    evenings = sorted({one.evening for by_season in winters.values() for one in by_season[start]})
    moments = {evening: datetime.combine(evening, EVENING, zone).astimezone(UTC) for evening in evenings}
    return rounds_of_evenings(exchange.c, exchange.garden.name, moments)


def _lows_told(documents: Mapping[date, dict[str, Any]]) -> dict[date, dict[date, float]]:
    """The lows of the open field that were told on each evening, by the evening of their night [°C]."""
    return {
        evening: {
            date.fromisoformat(night["evening"]): night["field_c"]
            for night in document["trees"][0]["nights"]
            if "field_c" in night
        }
        for evening, document in documents.items()
        if document["trees"]
    }


def _told(
    documents: Mapping[date, dict[str, Any]], start: date, winters: Winters
) -> tuple[list[NightLookedBackOn], dict[str, float]]:
    """Every night of the winter as it was told the evening before, beside what came; and the loss expected by tree."""
    came = {(name, one.evening): one for name, by_season in winters.items() for one in by_season[start]}
    nights, kept_share = [], dict.fromkeys(winters, 1.0)
    for evening, document in documents.items():
        for tree in document["trees"]:
            tree_name = tree["name"]
            gone = came.get((tree_name, evening))
            night = next((one for one in tree["nights"] if one["evening"] == evening.isoformat()), None)
            if gone is None or night is None:
                continue
            states = night["tissue"] if "tissue" in night else night["felt"]  # as version 1 of the document called it
            tissue = states.get(tree["state"] if tree["cover"] else "bare") or states["bare"]
            kept_share[tree_name] *= 1 - tissue["lost"]
            nights.append(
                NightLookedBackOn(
                    tree=tree_name, evening=evening, forecast_c=night["air_c"], came_c=gone.air_c,
                    chance=tissue["chance"], too_cold=gone.beyond_c < 0,
                )
            )  # fmt: skip
    return nights, {name: 1 - share for name, share in kept_share.items()}


def _outcomes(inputs: OutlookInputs, winters: Winters, seasons: Sequence[date]) -> list[tuple[date, Outcome]]:
    """What each winter's last word on dieback shows, tree by tree."""
    last: dict[tuple[str, date], Dieback] = {
        (one.tree, _season_of(one.at_utc, inputs)): one for one in inputs.records.diebacks if one.lost is not None
    }
    found = [
        (season, outcome_of(winters[name][season], dieback))
        for (name, season), dieback in last.items()
        if name in winters and season in seasons
    ]
    return [(season, one) for season, one in found if one is not None]


def _wood(exchange: Exchange, outcomes: Sequence[Outcome]) -> dict[str, list[LearnedHardiness]]:
    """What the winters teach of each tree's wood, by name and phase; a grower's own number is not ours to change."""
    found = {}
    for tree in exchange.garden.trees:
        own = [one for one in outcomes if one.tree == tree.name]
        phases = {one.phase: None for one in own if one.phase not in tree.safe_to_c}
        if phases:
            found[tree.name] = [learn_hardiness(own, tree_row(tree, exchange.today), phase) for phase in phases]
    return found


def _proposals(
    exchange: Exchange, wood: Mapping[str, Sequence[LearnedHardiness]]
) -> list[tuple[Proposal, LearnedHardiness]]:
    """Thresholds worth changing, against what is held now."""
    found: list[tuple[Proposal, LearnedHardiness]] = []
    held = accepted_of(read_learning(exchange.c, exchange.garden.name))
    for tree in exchange.garden.trees:
        for learned in wood.get(tree.name, ()):
            found += _proposal(exchange, tree, learned.phase, learned, held.get(tree.name, ()))
    return found


def _proposal(
    exchange: Exchange, tree: Tree, phase: Phase, learned: LearnedHardiness, held: Sequence[LearnedHardiness]
) -> list[tuple[Proposal, LearnedHardiness]]:
    now_c = next((one.shift_c for one in held if one.phase is phase), 0.0)
    kind_c = tree_row(tree, exchange.today).wood_hardiness(phase).lt10_c
    change = replace(learned, shift_c=learned.shift_c - now_c)  # from what is held now
    made = proposed({tree.name: [change]}, {(tree.name, phase): kind_c + now_c})
    return [(one, learned) for one in made]


def _ask_next(exchange: Exchange, proposals: Sequence[tuple[Proposal, LearnedHardiness]]) -> list[Answer]:
    """The next proposal as a question; nothing where none is left."""
    if not proposals:
        return []
    draft = {"left": [{"proposal": vars(one), "learned": _plain(learned)} for one, learned in proposals]}
    buttons = confirm(exchange.chat, PROPOSAL, "Yes, hold that", "No, leave it", draft)
    return [Answer(text=say.proposal(proposals[0][0], exchange.style), buttons=buttons)]


def _plain(learned: LearnedHardiness) -> dict[str, Any]:
    return {**vars(learned), "odd": [], "other_phase": 0}


def _read(kept: Mapping[str, Any]) -> tuple[Proposal, LearnedHardiness]:
    told, learned = kept["proposal"], kept["learned"]
    return (
        Proposal(**{**told, "phase": Phase(told["phase"])}),
        LearnedHardiness(**{**learned, "phase": Phase(learned["phase"]), "odd": ()}),
    )


def proposal_answered(exchange: Exchange, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
    """Held, or left as it is; then the next. A plain "yes" or "no" will do, anything else changes nothing."""
    accepted = is_yes(exchange.chat, said)
    if accepted is None:
        return None
    (proposal, learned), *rest = [_read(one) for one in dialogue.draft["left"]]
    word = ThresholdAnswer(tree=proposal.tree, at_utc=exchange.now, learned=learned, is_accepted=accepted)
    note_entry(exchange.c, source_of(exchange), word)
    text = say.proposal_answered(proposal, exchange.style, accepted=accepted)
    return [Answer(text=text, buttons=(undo_button(exchange),)), *_ask_next(exchange, rest)]


def compare(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """A covered tree and a bare one, and what this one pair shows."""
    pair = _pair(exchange, meaning.trees)
    if pair is None:
        return [Answer(text=say.NO_PAIR)]
    start = season_looked_back(exchange.today, exchange.garden.site)
    inputs = _long_inputs(exchange, start)
    told = {
        one.tree: one
        for one in inputs.records.diebacks
        if one.lost is not None and _season_of(one.at_utc, inputs) == start
    }
    silent = [tree.name for tree in pair if tree.name not in told]
    if silent:
        return [Answer(text=say.dieback_untold(silent))]
    winters = winters_gone(inputs, pair, [start], exchange.now)
    nights = [winters[tree.name][start] for tree in pair]
    bare = outcome_of(nights[1], told[pair[1].name])
    covered = outcome_of(nights[0], told[pair[0].name], bare.evening) if bare else None
    if bare is None or covered is None:
        return [Answer(text="I know no weather of that winter, so I cannot compare them.")]
    if state_now(inputs.records, pair[0].name, _dawn(bare.evening)) in (None, CoverState.BARE):
        return [Answer(text=say.not_covered_then(covered, exchange.style))]
    try:
        return [Answer(text=say.twins(compare_twins(covered, bare), exchange.style))]
    except ValueError:  # their dose curves differ: one was in leaf, the other at rest
        return [Answer(text=say.other_time_of_year(covered, bare))]


def _dawn(evening: date) -> datetime:
    """Some hour of the morning after, anywhere: no cover is tended in that night."""
    return datetime.combine(evening + timedelta(days=1), time(12), UTC)


def _pair(exchange: Exchange, names: Sequence[str]) -> tuple[Tree, Tree] | None:
    """Covered and bare, as named, or the garden's own twins; None where there is no such pair."""
    trees = {tree.name: tree for tree in exchange.garden.trees}
    pairs = [tuple(names)] if len(names) == 2 else [
        (tree.name, tree.twin) for tree in trees.values() if tree.twin in trees and (not names or tree.name in names)
    ]  # fmt: skip
    for first, second in pairs:
        both = sorted((trees[first], trees[second or first]), key=lambda tree: tree.left_bare or not tree.cover)
        bare = [tree.left_bare or not tree.cover for tree in both]
        if bare == [False, True]:
            return both[0], both[1]
    return None
