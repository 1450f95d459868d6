"""A new tree, question by question: what is not said is asked, with buttons; the garden file's keys come out."""

import re
from collections.abc import Mapping
from typing import Any, Final

from bot.answers.dialogues import DialogueAnswer, Option, options
from bot.replies.phrases.descriptions import NO_COVER, TreeWords, read_cover_words, read_tree_words, standing_in
from bot.replies.words.amounts import NUMBER, number_of
from bot.replies.words.normalising import normalised
from bot.settings import Garden
from rules.garden.cover import Cover, Preset
from rules.garden.species import nearest_species
from rules.garden.tree import Purpose, Standing

Draft = Mapping[str, Any]
MOST_TRIPS: Final = 1000  # as the garden file has it
NONE: Final = "none"
LIKE: Final = "like:"
STANDINGS: Final = options(
    [
        ("In the open", Standing.OPEN),
        ("House wall", Standing.WALL),
        ("Under an eave", Standing.EAVE),
        ("In a pot", Standing.POT),
        ("On a slope", Standing.SLOPE),
        ("Paved court", Standing.COURT),
        ("Cold hollow", Standing.HOLLOW),
    ]
)
COVERS: Final = options(
    [
        ("Straw, blanket, film", Preset.STRAW_BLANKET_FILM),
        ("Straw, film", Preset.STRAW_FILM),
        ("Straw", Preset.STRAW),
        ("Leaves, film", Preset.LEAF_FILM),
        ("Leaves", Preset.LEAF),
        ("Blanket, film", Preset.BLANKET_FILM),
        ("Blanket", Preset.BLANKET),
        ("Burlap", Preset.BURLAP),
        ("Film alone", Preset.FILM),
        ("Box, filled", Preset.BOX),
        ("Bent down", Preset.MOUND),
        ("Pot, roof", Preset.POT),
        ("Pot, garage", Preset.GARAGE),
    ]
)
WORTHS: Final = options([("A little: 10", "10"), ("As usual: 40", "40"), ("A lot: 80", "80")])
LIKE_SHOWN: Final = 3  # covers the garden has already, offered first
QUESTIONS: Final = {
    "species": "What kind of tree is it? For example fig, kaki, pomegranate, satsuma, olive.",
    "name": "How do you call it? A short name, for the chat.",
    "standing": "Where does {name} stand?",
    "cover": "How do you cover {name} in winter? Tap what comes nearest; sizes can follow.",
    "worth": "How many walks to the garden is the live wood of {name} worth to you? Tap, or say a number.",
}


def draft_of(words: TreeWords) -> dict[str, Any]:
    """What a description told, by step; what it left out is missing."""
    said: dict[str, Any] = {
        "name": words.name,
        "species": words.species,
        "cultivar": words.cultivar,
        "planted_year": words.planted_year,
        "standing": words.standing,
        "purpose": None if words.purpose is Purpose.KEEP else words.purpose,
        "left_bare": words.left_bare or None,
    }
    draft = {key: value for key, value in said.items() if value}
    return draft | ({"cover": NONE} if words.left_bare else {})


def next_step(draft: Draft) -> str | None:
    """What is still to be asked; None when all is said."""
    return next((step for step in QUESTIONS if step not in draft), None)


def question(draft: Draft, step: str, garden: Garden | None) -> tuple[str, tuple[Option, ...]]:
    """The question of one step, and what may be tapped."""
    text = QUESTIONS[step].format(name=draft.get("name", "it"))
    if step == "standing":
        return text, STANDINGS
    if step == "cover":
        names = list(garden.covers)[:LIKE_SHOWN] if garden else []
        like = [Option(label=f"My {name}", value=f"{LIKE}{name}") for name in names]
        return text, (*like, *COVERS, Option(label="No cover", value=NONE))
    return text, WORTHS if step == "worth" else ()


def with_answer(draft: Draft, step: str, said: DialogueAnswer, year: int) -> dict[str, Any] | None:
    """The draft with one more answer; None where it is none."""
    if said.is_deed:
        return None
    value = said.value if said.value is not None else _typed(step, said.text, year)
    if value is None:
        return None
    more = value if isinstance(value, dict) else {step: float(value) if step == "worth" else value}
    return {**draft, **more}


def _typed(step: str, text: str, year: int) -> Any:
    words = normalised(text)
    match step:
        case "name":
            return text.strip().strip("\"'“”‘’.") or None
        case "species":
            told = draft_of(read_tree_words(text, year))
            near = nearest_species(text) if len(words) > 2 else ()
            return told if "species" in told else {"species": near[0]} if near else None
        case "standing":
            return standing_in(words) if not re.search(r"\d", words) else None
        case "cover":
            found = read_cover_words(text, inches=False)
            return NONE if NO_COVER.match(words) else found.preset if found else None
    trips = re.search(NUMBER, words)
    number = number_of(trips[0]) if trips else -1.0
    return str(number) if 0 <= number <= MOST_TRIPS else None


def tree_values(draft: Draft) -> dict[str, Any]:
    """The keys of the garden file for a tree whose every question is answered; its cover left out."""
    names = ("name", "species", "cultivar", "planted_year", "standing", "purpose", "left_bare")
    values = {name: _written(draft[name]) for name in names if name in draft}
    worth = float(draft["worth"])
    return {**values, "worth_trips": int(worth) if worth == int(worth) else worth}


def _written(value: Any) -> Any:
    return value.value if isinstance(value, Standing | Purpose) else value


def cover_values(draft: Draft, garden: Garden | None) -> tuple[str | None, dict[str, Any]]:
    """The name of the tree's cover in the file and the keys to set in it; None for a tree without a cover."""
    chosen = str(draft["cover"])
    if chosen == NONE:
        return None, {}
    if chosen.startswith(LIKE):
        return chosen.removeprefix(LIKE), {}
    covers = garden.covers if garden else {}
    name = chosen
    if name in covers and covers[name] != Cover(name=name, preset=Preset(chosen)):
        name = f"{draft['name']} cover"  # somebody called another cover so
    return name, {} if name in covers else {"preset": chosen}
