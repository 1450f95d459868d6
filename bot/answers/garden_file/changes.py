"""The owner's words that change the garden file: add, remove, rename, what a cover is built of; and export."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from bot.answers.dialogues import Dialogue, DialogueAnswer, ask, close, confirm, is_yes
from bot.answers.exchange import Answer, Exchange
from bot.answers.garden_file.new_trees import (
    LIKE,
    THEN,
    another_tree,
    cover_values,
    first_told,
    next_step,
    put_by,
    question,
    tree_values,
    with_answer,
)
from bot.answers.garden_file.take_along import everything
from bot.answers.garden_file.told_trees import draft_of
from bot.answers.garden_file.writing import mistaken, refusal, written
from bot.answers.noting import source_of
from bot.answers.rights import is_owner, owners_only
from bot.logbook import NudgeState, note_entry, open_nudges, rename_tree_nudges, rename_tree_records, settle_nudge
from bot.replies import Meaning
from bot.replies.phrases.descriptions import CoverWords, read_cover_words, read_tree_words
from bot.settings import Garden, GardenError
from bot.settings.editing import adding_covered_tree, adding_tree, covering_tree, removing_tree, renaming_tree
from bot.settings.writing import edited_garden
from bot.wording.people import garden as say
from bot.wording.people.household import kept
from rules.garden.cover import Cover

ADD, REMOVE, RENAME = "add tree", "remove tree", "rename tree"
LEAVE: Final = "Leave it"


def add(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """A new tree begun; what was not said of it is asked."""
    if (refused := refusal(exchange)) is not None:
        return refused
    if exchange.home and len(exchange.garden.trees) >= exchange.home.bounds.most_trees:
        return [Answer(text=say.full(exchange.home.bounds.most_trees))]
    return _begun(exchange, meaning.text, ())


def _begun(exchange: Exchange, description: str, then: Sequence[str]) -> list[Answer]:
    """A tree from its description; `then` are those that wait behind it."""
    words = read_tree_words(description, exchange.now.year)
    draft, unkept = _twin_known(draft_of(words), list(words.unkept), exchange.garden)
    draft, unkept = _like_known(draft, unkept, exchange.garden)
    draft |= {THEN: list(then)} if then else {}
    answers = _name_refused(exchange, draft) or _go_on(exchange, draft)
    if unkept:
        answers[0] = replace(answers[0], text=f"{say.unkept(unkept)}\n{answers[0].text}")
    return answers


def _twin_known(draft: dict[str, Any], unkept: list[str], garden: Garden) -> tuple[dict[str, Any], list[str]]:
    """The draft with its twin as the garden has it; one that stands in no garden cannot be kept."""
    said = draft.pop("twin", None)
    twin = garden.tree_called(str(said)) if said else None
    if twin is not None:
        return {**draft, "twin": twin.name}, unkept
    return draft, [*unkept, f"twin of {said}"] if said else unkept


def _like_known(draft: dict[str, Any], unkept: list[str], garden: Garden) -> tuple[dict[str, Any], list[str]]:
    """The draft under the cover of a tree the garden has."""
    said = draft.pop("like", None)
    other = garden.tree_called(str(said)) if said else None
    if other is not None and other.cover is not None:
        return {**draft, "cover": f"{LIKE}{other.cover}"}, unkept
    return draft, [*unkept, f"same cover as {said}"] if said else unkept


def _name_refused(exchange: Exchange, draft: Mapping[str, Any]) -> list[Answer] | None:
    """Told at once, not after three questions: a name that is taken, or no name for a tree."""
    name = str(draft.get("name", ""))
    if not name or exchange.home is None:
        return None
    if exchange.garden.tree_called(name) is not None:
        return [Answer(text=say.name_taken(name))]
    try:
        edited_garden(exchange.home.garden_file, adding_tree({"name": name, "species": "fig"}), keep=False)
    except GardenError as error:
        close(exchange.chat)
        return mistaken(error)
    return None


def _go_on(exchange: Exchange, draft: Mapping[str, Any]) -> list[Answer]:
    step = next_step(draft)
    if step is None:
        close(exchange.chat)
        then = list(draft.get(THEN, ()))
        return [*_added(exchange, draft), *(_begun(exchange, then[0], then[1:]) if then else [])]
    text, choices = question(draft, step, exchange.garden)
    return [Answer(text=text, buttons=ask(exchange.chat, ADD, step, draft, choices))]


def add_answered(exchange: Exchange, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
    """One more answer about a new tree."""
    if (rest := another_tree(said)) is not None:
        same, name = put_by(dialogue.draft, rest)
        answers = _go_on(exchange, same)
        return [replace(answers[0], text=f"{say.put_by(name)} {answers[0].text}"), *answers[1:]]
    draft = with_answer(dialogue.draft, dialogue.step, said, exchange.now.year)
    if draft is None:
        return None
    refused = refusal(exchange) or (_name_refused(exchange, draft) if dialogue.step == "name" else None)
    return refused or _go_on(exchange, draft)


def _added(exchange: Exchange, draft: Mapping[str, Any]) -> list[Answer]:
    cover, values = cover_values(draft, exchange.garden)
    tree = tree_values(draft)
    garden = written(exchange, adding_covered_tree(tree, cover, values))
    if isinstance(garden, list):
        return garden
    if (told := first_told(draft, str(tree["name"]), exchange.now)) is not None:
        note_entry(exchange.c, source_of(exchange), told)
    return [Answer(text=say.added(garden, tree["name"], exchange.style))]


def remove(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """A tree to be taken out; asked first."""
    if (refused := refusal(exchange)) is not None:
        return refused
    text = say.ask_remove(meaning.trees[0])
    return [Answer(text=text, buttons=confirm(exchange.chat, REMOVE, "Remove", LEAVE, {"tree": meaning.trees[0]}))]


def rename(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """A tree to be called otherwise; asked first."""
    old, new = meaning.trees[0], meaning.text.strip()
    if (refused := refusal(exchange)) is not None:
        return refused
    text = say.ask_rename(old, new)
    return [Answer(text=text, buttons=confirm(exchange.chat, RENAME, "Rename", LEAVE, {"tree": old, "name": new}))]


def remove_answered(exchange: Exchange, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
    """The tree taken out of the file, or not; its records stay."""
    answers = _unless_sure(exchange, said)
    if answers is None or answers:
        return answers
    tree = str(dialogue.draft["tree"])
    garden = written(exchange, removing_tree(tree))
    if isinstance(garden, list):
        return garden
    for nudge in open_nudges(exchange.c, exchange.garden.name):
        if tree in nudge.trees:
            settle_nudge(exchange.c, nudge.key, NudgeState.STOOD_DOWN, None, exchange.now, exchange.incoming.update_id)
    return [Answer(text=say.removed(tree))]


def rename_answered(exchange: Exchange, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
    """The tree under its new name in file and records, or not."""
    answers = _unless_sure(exchange, said)
    if answers is None or answers:
        return answers
    old, new = str(dialogue.draft["tree"]), str(dialogue.draft["name"])
    garden = written(exchange, renaming_tree(old, new))
    if isinstance(garden, list):
        return garden
    rename_tree_records(exchange.c, exchange.garden.name, old, new)
    rename_tree_nudges(exchange.c, exchange.garden.name, old, new)
    return [Answer(text=say.renamed(old, new))]


def _unless_sure(exchange: Exchange, said: DialogueAnswer) -> list[Answer] | None:
    """The answer to anything but an owner's yes: empty for a yes, None for what is no answer at all."""
    if said.choice is None:
        return None
    if (refused := refusal(exchange)) is not None:
        return refused
    return [] if is_yes(exchange.chat, said) else [Answer(text=kept())]


def new_cover(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What the cover of a tree is built of, written into the file."""
    if (refused := refusal(exchange)) is not None:
        return refused
    words = read_cover_words(meaning.text, inches=exchange.garden.units.length == "in")
    tree = next(tree for tree in exchange.garden.trees if tree.name == meaning.trees[0])
    if words is None:
        return [Answer(text=say.cover_unread())]
    name, values = _cover_of(exchange.garden, tree.name, tree.cover, words)
    before = exchange.garden.covers.get(name)
    afresh = before is not None and words.preset not in (None, before.preset)
    garden = written(exchange, covering_tree(tree.name, name, values, afresh=afresh))
    return garden if isinstance(garden, list) else [Answer(text=say.covered(garden, tree.name, exchange.style))]


def _cover_of(garden: Garden, tree: str, now: str | None, words: CoverWords) -> tuple[str, dict[str, Any]]:
    """Which cover to change and how: the tree's own in place; a shared one is left to the others."""
    values = _written(words, garden)
    users = [one.name for one in garden.trees if one.cover == now]
    if now is not None and users == [tree]:
        return now, values
    if now is not None and words.preset is None:  # like the shared one, but for what was said
        values = _plain_values(garden.covers[now]) | values
    elif words.preset is None:
        values = {"preset": Cover(name="x").preset.value} | values
    name = tree
    while name in garden.covers:
        name = f"{name} cover"
    return name, values


def _written(words: CoverWords, garden: Garden) -> dict[str, Any]:
    """The keys as the grower would write them: sizes in their own unit."""
    inches = garden.units.length == "in"
    unit, per_m = ("in", 1 / 0.0254) if inches else ("cm", 100.0)
    preset = {"preset": words.preset.value} if words.preset else {}
    sizes = {f"{key}_{unit}": _round(size * per_m) for key, size in words.sizes_m.items()}
    return {**preset, **sizes, **words.minutes, **words.built}


def _round(value: float) -> float | int:
    rounded = round(value, 2)
    return int(rounded) if rounded == int(rounded) else rounded


def _plain_values(cover: Cover) -> dict[str, Any]:
    own = cover.model_dump(mode="json", exclude={"name"}, exclude_none=True)
    usual = Cover(name=cover.name, preset=cover.preset).model_dump(mode="json", exclude={"name"}, exclude_none=True)
    return {key: value for key, value in own.items() if key == "preset" or usual.get(key) != value}


def export(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """The garden file as it stands, byte for byte, as a file of the chat; or everything there is."""
    if not is_owner(exchange):
        return owners_only(exchange)
    if exchange.incoming.is_group:
        return [Answer(text=say.not_in_a_group())]
    if exchange.home is None:
        return [Answer(text=say.no_file())]
    if meaning.text in ("everything", "data"):
        return [everything(exchange, exchange.home)]
    return [Answer(text=say.exported(exchange.home.garden_file.name), picture=str(exchange.home.garden_file))]
