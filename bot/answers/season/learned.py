"""What was learned, told in the chat: what one reading changed, what is known of each tree, and forget."""

from collections.abc import Sequence
from typing import Final

from bot.answers.dialogues import Dialogue, DialogueAnswer, confirm, is_yes
from bot.answers.exchange import Answer, Exchange, undo_button
from bot.answers.noting import source_of
from bot.logbook import note_entry, read_learning
from bot.replies import Meaning
from bot.rounds.learning.garden import counting_readings, offsets_of, sky_over
from bot.rounds.learning.inside import Inside, learn_inside, readings_inside
from bot.wording import learned as say
from bot.wording.people.tending import too_warm_inside
from rules.garden.cover import CoverState
from rules.garden.records import Place, Reading
from rules.garden.tree import Tree
from rules.learning import (
    Forgotten,
    LearnedHardiness,
    LearnedOffset,
    LearnedTree,
    Sky,
    accepted_of,
    coldest_inside,
    forgotten_since,
    learn_site,
    read_inside,
    unread_cover,
    worth_at_tree,
    worth_inside,
)
from rules.outlook.inputs import OutlookInputs, air_at, tree_weathers
from rules.plan.season.ways import opens_by_thermometer
from rules.site.microclimate import PRIORS
from rules.weather.hourly import evening_of, night_minima
from rules.weather.timeline import joined_weather, sliced, until
from rules.wood.season import season_place

FORGET: Final = "forget"


def what_it_taught(exchange: Exchange, tree: Tree, reading: Reading) -> str:
    """What one reading just noted changed; empty where no weather is known, or no cover."""
    if reading.place is Place.INSIDE:
        return _inside_taught(exchange, tree, reading)
    told = _counting(exchange, tree.name)
    sky = _sky(exchange, told)
    after = offsets_of([tree], told, sky).get(tree.name)
    if after is None:
        return ""
    aside = next((one for one in after.set_aside if one.reading == reading), None)
    if aside is not None:
        return say.not_used(aside, exchange.style)
    before = offsets_of([tree], [one for one in told if one != reading], sky).get(tree.name)
    return say.changed(tree.name, before.offset if before else PRIORS[tree.standing], after, exchange.style)


def _inside_taught(exchange: Exchange, tree: Tree, reading: Reading) -> str:
    """What one reading inside a cover changed."""
    counts = _counting(exchange, tree.name)
    air = offsets_of([tree], counts, _sky(exchange, counts)).get(tree.name) or learn_site([], PRIORS[tree.standing])
    after, before = (_inside(exchange, tree, air, told) for told in (counts, [o for o in counts if o != reading]))
    if after is None:
        return ""
    aside = next((one for one in after.learned.set_aside if one.reading == reading), None)
    if aside is not None:
        return say.not_used(aside, exchange.style)
    was = before.learned if before else unread_cover(after.moves.outside_sd_c)
    now = coldest_inside(after.learned, after.moves)
    told = say.changed_inside(tree.name, coldest_inside(was, after.moves), now, exchange.style)
    return f"{told} {_opened(exchange, tree, reading, after)}".strip()


def _opened(exchange: Exchange, tree: Tree, reading: Reading, inside: Inside) -> str:
    """The word to open a shut cover that is far warmer by day in spring than it is reckoned."""
    site, seen = exchange.garden.site, exchange.outlook()
    day = season_place(reading.at_utc.astimezone(site.zone).date(), site.latitude_deg).day
    warmer_c = 0.0 if reading.is_minimum else inside.moves.warmer_by_day_c(reading.at_utc, reading.air_c)
    shut = seen is not None and seen.tree(tree.name).state_assumed is CoverState.CLOSED
    return too_warm_inside(tree.name, warmer_c, exchange.style) if shut and opens_by_thermometer(day, warmer_c) else ""


def expected_now(inputs: OutlookInputs, tree: Tree, reading: Reading) -> float | None:
    """The air [°C] that was expected at a tree when it was read; None where nothing was."""
    return air_at(inputs, tree, reading.at_utc)


def expected_low(inputs: OutlookInputs, tree: Tree, reading: Reading) -> float | None:
    """The low [°C] that was expected at a tree in the night a low was read of; None where it is not known whole."""
    told = inputs.forecast.weather if inputs.forecast else None
    gone = until(inputs.past, reading.at_utc) if inputs.past else None
    whole = joined_weather(told, gone) if told and gone else told or gone
    if whole is None:
        return None
    at = whole.index_of(reading.at_utc)
    near = sliced(whole, max(0, at - 48), max(0, min(whole.hours, at + 24)))
    if not near.hours:
        return None
    evening = evening_of(reading.at_utc, inputs.site.zone, is_minimum=True)
    lows = night_minima(near, inputs.site.zone, air_c=tree_weathers(inputs, near, [tree])[0].air_c)
    return next((low.air_c for low in lows if low.evening == evening and low.complete), None)


def learned(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What is known of each tree asked about, from how much, and what more readings would be worth."""
    trees = [tree for tree in exchange.garden.trees if tree.name in meaning.trees or not meaning.trees]
    counts, held = _counting(exchange), _held(exchange)
    found = offsets_of(trees, counts, _sky(exchange, counts))
    told = [
        _of_tree(exchange, tree, found.get(tree.name), [one for one in counts if one.tree == tree.name],
                 held.get(tree.name, ()), named=bool(meaning.trees))
        for tree in trees
    ]  # fmt: skip
    return [Answer(text=say.what_learned(told, exchange.inputs().forecast_error, exchange.style))]


def _counting(exchange: Exchange, tree: str | None = None) -> tuple[Reading, ...]:
    """The readings that teach, those of this very reply among them."""
    forgotten = forgotten_since(read_learning(exchange.c, exchange.garden.name))
    return counting_readings(exchange.c, exchange.garden, forgotten, exchange.now, tree)


def _held(exchange: Exchange) -> dict[str, tuple[LearnedHardiness, ...]]:
    return accepted_of(read_learning(exchange.c, exchange.garden.name))


def _sky(exchange: Exchange, told: Sequence[Reading]) -> Sky | None:
    forecast = exchange.inputs().forecast
    return sky_over(exchange.c, exchange.garden, exchange.weather_of, told, forecast, exchange.now)


def _of_tree(
    exchange: Exchange, tree: Tree, found: LearnedOffset | None, counts: Sequence[Reading],
    held: Sequence[LearnedHardiness], *, named: bool,
) -> LearnedTree:  # fmt: skip
    """One tree; its cover where it was read, or was asked about by name."""
    offset = found or learn_site([], PRIORS[tree.standing])
    told = named or any(one.place is Place.INSIDE for one in counts)
    read = _inside(exchange, tree, offset, counts) if told else None
    known = read_inside(offset, read.learned.air_shift_c, read.learned.air_left) if read else offset
    return LearnedTree(
        tree=tree.name,
        offset=known,
        air_worth=worth_at_tree(known),
        cover=read.learned if read else None,
        inside=coldest_inside(read.learned, read.moves) if read else None,
        inside_worth=worth_inside(read.learned, read.moves) if read else None,
        air_next=worth_at_tree(known, 1) if named else None,
        inside_next=worth_inside(read.learned, read.moves, 1) if read and named else None,
        hardiness=tuple(held),
    )


def _inside(exchange: Exchange, tree: Tree, air: LearnedOffset, counts: Sequence[Reading]) -> Inside | None:
    """What is known inside one tree's cover; the air's own readings have taught the offset already."""
    read, forecast = readings_inside(counts, tree.name, exchange.garden.site.zone), exchange.inputs().forecast
    return learn_inside(
        exchange.c,
        exchange.garden,
        exchange.weather_of,
        tree,
        read,
        exchange.records.deeds,
        air,
        forecast,
        exchange.now,
    )


def forget(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Asks whether to let go of what some trees taught; of all of them where none is named."""
    taught = [one for one in _taught(exchange) if one[0] in meaning.trees or not meaning.trees]
    if not taught:
        return [Answer(text=say.nothing_to_forget(meaning.trees))]
    draft = {"trees": [name for name, _, _ in taught]}
    buttons = confirm(exchange.chat, FORGET, "Forget it", "Keep it", draft)
    return [Answer(text=say.ask_forget(taught), buttons=buttons)]


def _taught(exchange: Exchange) -> list[tuple[str, int, int]]:
    """Trees that taught something: name, readings that count, thresholds accepted."""
    counts = _counting(exchange)
    held = _held(exchange)
    rows = [
        (tree.name, sum(one.tree == tree.name for one in counts), len(held.get(tree.name, ())))
        for tree in exchange.garden.trees
    ]
    return [row for row in rows if row[1] or row[2]]


def forget_answered(exchange: Exchange, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
    """Let go, or not; a plain "yes" will do, anything else forgets nothing."""
    sure = is_yes(exchange.chat, said)
    if sure is None:
        return None
    if not sure:
        return [Answer(text="All right. I keep what I learned.")]
    taught = [one for one in _taught(exchange) if one[0] in dialogue.draft["trees"]]
    for name, _, _ in taught:
        note_entry(exchange.c, source_of(exchange), Forgotten(tree=name, at_utc=exchange.now))
    lines = [say.forgotten(name, count) if count else say.thresholds_forgotten(name) for name, count, _ in taught]
    return [Answer(text="\n".join(lines) or say.nothing_to_forget(()), buttons=(undo_button(exchange),))]
