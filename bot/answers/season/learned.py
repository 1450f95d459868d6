"""What was learned, told in the chat: what one reading changed, what is known of each tree, and forget."""

from collections.abc import Mapping, Sequence
from typing import Final

from bot.answers.desk import Answer, Desk, undo_button
from bot.answers.dialogues import Dialogue, Said, ask, close, options
from bot.answers.noting import source_of
from bot.logbook import note_learning, read_learning
from bot.replies import Meaning
from bot.rounds.learning.garden import counting_readings, offsets_of
from bot.rounds.learning.inside import Inside, learn_inside, readings_inside
from bot.wording import learned as say
from rules.garden.records import Place, Reading
from rules.garden.tree import Tree
from rules.learning import (
    Forgotten,
    LearnedHardiness,
    LearnedOffset,
    LearnedTree,
    accepted_of,
    coldest_inside,
    evening_of,
    forgotten_since,
    learn_site,
    read_inside,
    unread_cover,
    worth_at_tree,
    worth_inside,
)
from rules.outlook.inputs import Ground, air_at, tree_weathers
from rules.site.microclimate import PRIORS
from rules.weather.hourly import night_minima
from rules.weather.timeline import joined_weather, sliced, until

FORGET: Final = "forget"
YES, NO = "yes", "no"


def what_it_taught(desk: Desk, tree: Tree, reading: Reading) -> str:
    """What one reading just noted changed; empty where no weather is known, or no cover."""
    if reading.place is Place.INSIDE:
        return _inside_taught(desk, tree, reading)
    after = _learned(desk, [tree]).get(tree.name)
    if after is None:
        return ""
    aside = next((one for one in after.set_aside if one.reading == reading), None)
    if aside is not None:
        return say.not_used(aside, desk.style)
    before = _learned(desk, [tree], without=reading).get(tree.name)
    return say.changed(tree.name, before.offset if before else PRIORS[tree.standing], after, desk.style)


def _inside_taught(desk: Desk, tree: Tree, reading: Reading) -> str:
    """What one reading inside a cover changed."""
    air = _learned(desk, [tree]).get(tree.name) or learn_site([], PRIORS[tree.standing])
    after, before = (_inside(desk, tree, air, without) for without in (None, reading))
    if after is None:
        return ""
    aside = next((one for one in after.learned.set_aside if one.reading == reading), None)
    if aside is not None:
        return say.not_used(aside, desk.style)
    was = before.learned if before else unread_cover(after.moves.outside_sd_c)
    now = coldest_inside(after.learned, after.moves)
    return say.changed_inside(tree.name, coldest_inside(was, after.moves), now, desk.style)


def expected_now(ground: Ground, tree: Tree, reading: Reading) -> float | None:
    """The air [°C] that was expected at a tree when it was read; None where nothing was."""
    return air_at(ground, tree, reading.at_utc)


def expected_low(ground: Ground, tree: Tree, reading: Reading) -> float | None:
    """The low [°C] that was expected at a tree in the night a low was read of; None where it is not known whole."""
    told = ground.forecast.weather if ground.forecast else None
    gone = until(ground.past, reading.at_utc) if ground.past else None
    whole = joined_weather(told, gone) if told and gone else told or gone
    if whole is None:
        return None
    at = whole.index_of(reading.at_utc)
    near = sliced(whole, max(0, at - 48), max(0, min(whole.hours, at + 24)))
    if not near.hours:
        return None
    evening = evening_of(reading.at_utc, ground.site.zone, is_minimum=True)
    lows = night_minima(near, ground.site.zone, air_c=tree_weathers(ground, near, [tree])[0].air_c)
    return next((low.air_c for low in lows if low.evening == evening and low.complete), None)


def learned(desk: Desk, meaning: Meaning) -> list[Answer]:
    """What is known of each tree asked about, from how much, and what more readings would be worth."""
    trees = [tree for tree in desk.garden.trees if tree.name in meaning.trees or not meaning.trees]
    found = _learned(desk, trees)
    told = [_of_tree(desk, tree, found.get(tree.name), named=bool(meaning.trees)) for tree in trees]
    return [Answer(text=say.what_learned(told, desk.ground().forecast_error, desk.style))]


def _counting(desk: Desk, tree: str | None = None) -> tuple[Reading, ...]:
    """The readings that teach, those of this very reply among them."""
    forgotten = forgotten_since(read_learning(desk.c, desk.garden.name))
    return counting_readings(desk.c, desk.garden, forgotten, desk.now, tree)


def _held(desk: Desk) -> dict[str, tuple[LearnedHardiness, ...]]:
    return accepted_of(read_learning(desk.c, desk.garden.name))


def _learned(desk: Desk, trees: Sequence[Tree], without: Reading | None = None) -> Mapping[str, LearnedOffset]:
    forecast = desk.ground().forecast
    told = _counting(desk, trees[0].name if len(trees) == 1 else None)
    counts = [one for one in told if one != without]
    return offsets_of(desk.c, trees, desk.garden, desk.weather_of, counts, forecast, desk.now)


def _of_tree(desk: Desk, tree: Tree, found: LearnedOffset | None, *, named: bool) -> LearnedTree:
    """One tree; its cover where it was read, or was asked about by name."""
    offset = found or learn_site([], PRIORS[tree.standing])
    told = named or any(one.place is Place.INSIDE for one in _counting(desk, tree.name))
    read = _inside(desk, tree, offset) if told else None
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
        hardiness=_held(desk).get(tree.name, ()),
    )


def _inside(desk: Desk, tree: Tree, air: LearnedOffset, without: Reading | None = None) -> Inside | None:
    """What is known inside one tree's cover; the air's own readings have taught the offset already."""
    counts = [one for one in _counting(desk, tree.name) if one != without]
    read, forecast = readings_inside(counts, tree.name, desk.garden.site.zone), desk.ground().forecast
    return learn_inside(desk.c, desk.garden, desk.weather_of, tree, read, desk.records.deeds, air, forecast, desk.now)


def forget(desk: Desk, meaning: Meaning) -> list[Answer]:
    """Asks whether to let go of what some trees taught; of all of them where none is named."""
    taught = [one for one in _taught(desk) if one[0] in meaning.trees or not meaning.trees]
    if not taught:
        return [Answer(text=say.nothing_to_forget(meaning.trees))]
    dialogue = Dialogue(
        ident=desk.incoming.update_id, kind=FORGET, step=FORGET, at_utc=desk.heard_utc,
        draft={"trees": [name for name, _, _ in taught]}, options=options([("Forget it", YES), ("Keep it", NO)]),
    )  # fmt: skip
    buttons = ask(desk.c, desk.garden.name, desk.incoming.chat_id, dialogue)
    return [Answer(text=say.ask_forget(taught), buttons=buttons)]


def _taught(desk: Desk) -> list[tuple[str, int, int]]:
    """Trees that taught something: name, readings that count, thresholds accepted."""
    counts = _counting(desk)
    held = _held(desk)
    rows = [
        (tree.name, sum(one.tree == tree.name for one in counts), len(held.get(tree.name, ())))
        for tree in desk.garden.trees
    ]
    return [row for row in rows if row[1] or row[2]]


def forget_answered(desk: Desk, dialogue: Dialogue, said: Said) -> list[Answer] | None:
    """Let go, or not; a plain "yes" will do, anything else forgets nothing."""
    value = said.value or {"yes": YES, "no": NO}.get(said.text.strip().casefold())
    if value is None:
        return None
    close(desk.c, desk.garden.name, desk.incoming.chat_id)
    if value == NO:
        return [Answer(text="All right. I keep what I learned.")]
    taught = [one for one in _taught(desk) if one[0] in dialogue.draft["trees"]]
    for name, _, _ in taught:
        note_learning(desk.c, source_of(desk), Forgotten(tree=name, at_utc=desk.now))
    lines = [say.forgotten(name, count) if count else say.thresholds_forgotten(name) for name, count, _ in taught]
    return [Answer(text="\n".join(lines) or say.nothing_to_forget(()), buttons=(undo_button(desk),))]
