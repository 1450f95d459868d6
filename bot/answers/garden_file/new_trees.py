"""A new tree, question by question: what is not said is asked, with buttons; the garden file's keys come out."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

from bot.answers.dialogues import DialogueAnswer, Option, options
from bot.answers.garden_file.told_trees import NONE, typed, unknown_kind
from bot.replies.phrases.descriptions import read_tree_words
from bot.replies.phrases.garden_phrases import added_tree
from bot.settings import Garden
from bot.wording.covers.words import words_of
from bot.wording.formats import sentence
from rules.garden.condition import ConditionKind, ConditionTold
from rules.garden.cover import Cover, CoverState, Preset
from rules.garden.records import Deed, DeedKind
from rules.garden.species import nearest_species
from rules.garden.tree import Purpose, Standing, Tending

Draft = Mapping[str, Any]
NOT_ON: Final = "Not on yet"
STRANGE: Final = "strange:"
THEN: Final = "then"  # descriptions of trees that wait till this one is added
LATEST_YEAR: Final = 2100  # where only the name is looked for, any year will do
LONGEST_LABEL: Final = 40
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
WAYS: Final = options(
    [
        ("Fewest trips", Tending.FEWEST_TRIPS),
        ("Early", Tending.EARLY),
        ("As I was taught", Tending.AS_TAUGHT),
    ]
)
WORTHS: Final = options([("A little: 10", "10"), ("As usual: 40", "40"), ("A lot: 80", "80")])
LIKE_SHOWN: Final = 3  # covers the garden has already, offered last
QUESTIONS: Final = {
    "species": "What kind of tree is it? For example fig, kaki, pomegranate, satsuma, olive.",
    "name": "What do you call it? A short name for the chat.",
    "standing": "Where does {name} stand?",
    "cover": "How do you cover {name} in winter? Tap what comes nearest; sizes can follow.",
    "stands": "How does the cover of {name} stand today?",
    "worth": "How many walks to the garden is the live wood of {name} worth to you? Tap, or say a number.",
    "tending": "Last question: whose way shall I follow? Fewest trips: covers stay shut, one trip to wrap and one "
    "to uncover. Early: open from March on, for leaves a week sooner. Or as you were taught: open on mild days.",
}


def next_step(draft: Draft, *, is_first: bool = False) -> str | None:
    """What is still to be asked; None when all is said. The way to follow is asked with a garden's first tree."""
    asked = [step for step in QUESTIONS if step != "tending" or is_first]
    if draft.get("cover") == NONE:
        asked.remove("stands")
    return next((step for step in asked if step not in draft), None)


def question(draft: Draft, step: str, garden: Garden | None) -> tuple[str, tuple[Option, ...]]:
    """The question of one step, and what may be tapped."""
    text = QUESTIONS[step].format(name=draft.get("name", "it"))
    if step == "standing":
        return text, STANDINGS
    if step == "name" and "cultivar" in draft:  # "a satsuma Tub": what it is called, or its variety?
        return text, (Option(label=str(draft["cultivar"])[:LONGEST_LABEL], value=str(draft["cultivar"])),)
    if step == "cover":
        names = list(garden.covers)[:LIKE_SHOWN] if garden else []
        like = [Option(label=f"My {name}", value=f"{LIKE}{name}") for name in names]
        return text, (*COVERS, Option(label="No cover", value=NONE), *like)  # what is new comes last: no number moves
    if step == "species" and "heard" in draft:
        heard = str(draft["heard"])
        near = [Option(label=name.capitalize(), value=name) for name in nearest_species(heard)]
        return f"Do you mean one of these? I know no {heard}.", (
            *near, Option(label=f"No, {heard}"[:LONGEST_LABEL], value=f"{STRANGE}{heard}"),
        )  # fmt: skip
    if step == "stands":
        return text, _stands(draft, garden)
    if step == "tending":
        return text, WAYS
    return text, WORTHS if step == "worth" else ()


def _stands(draft: Draft, garden: Garden | None) -> tuple[Option, ...]:
    """How its cover may stand, in its own words; one without a top is on or not."""
    words = words_of(cover_meant(draft, garden))
    on = [(CoverState.CLOSED, words.stands[CoverState.CLOSED])]
    on += [(CoverState.VENTED, words.stands[CoverState.VENTED])] if words.top else []
    labels = [Option(label=sentence(label).rstrip("."), value=state.value) for state, label in on]
    return (Option(label=NOT_ON, value=CoverState.BARE.value), *labels)


def cover_meant(draft: Draft, garden: Garden | None) -> Cover | None:
    """The cover a draft speaks of."""
    chosen = str(draft.get("cover", NONE))
    if chosen.startswith(LIKE) and garden:
        return garden.covers.get(chosen.removeprefix(LIKE))
    return None if chosen == NONE or chosen.startswith(LIKE) else Cover(name=chosen, preset=Preset(chosen))


def with_answer(draft: Draft, step: str, said: DialogueAnswer, year: int) -> dict[str, Any] | None:
    """The draft with one more answer; None where it is none."""
    if said.is_deed or another_tree(said) is not None:
        return None
    value = said.value if said.value is not None else typed(step, said.text, year)
    if value is None:
        return None
    if step == "species" and isinstance(value, str) and value.startswith(STRANGE):
        value = unknown_kind(value.removeprefix(STRANGE))
    more = value if isinstance(value, dict) else {step: float(value) if step == "worth" else value}
    is_name = step == "name" and value == draft.get("cultivar")
    return {key: one for key, one in {**draft, **more}.items() if not (is_name and key == "cultivar")}


def another_tree(said: DialogueAnswer) -> str | None:
    """The description of one more tree, typed while something else is asked; None where it is none."""
    rest = added_tree(said.text)
    if said.value is not None or rest == said.text.strip():
        return None
    words = read_tree_words(rest, LATEST_YEAR)
    return rest if words.name or words.species else None


def put_by(draft: Draft, rest: str) -> tuple[dict[str, Any], str]:
    """The draft with one more tree to come after it, and what that is called; the same sentence again adds nothing."""
    words = read_tree_words(rest, LATEST_YEAR)
    name = words.name or words.cultivar or words.species
    later = list(draft.get(THEN, ()))
    if name.casefold() == str(draft.get("name", "")).casefold():
        return dict(draft), ""
    return {**draft, THEN: later if rest in later else [*later, rest]}, name


def first_told(draft: Draft, tree: str, at: datetime) -> Deed | ConditionTold | None:
    """What was said of how the cover of a new tree stands, as a record; None where it has none."""
    if "stands" not in draft:
        return None
    state = CoverState(draft["stands"])
    if state is CoverState.BARE:
        return ConditionTold(tree=tree, kind=ConditionKind.NOT_ON, at_utc=at)
    return Deed(tree=tree, kind=DeedKind.WRAPPED, state=state, at_utc=at)


def tree_values(draft: Draft) -> dict[str, Any]:
    """The keys of the garden file for a tree whose every question is answered; its cover left out."""
    names = ("name", "species", "cultivar", "planted_year", "standing", "purpose", "left_bare", "twin", "height_m")
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
    own = {f"{key}_m": size for key, size in draft.get("sizes_m", {}).items()}
    own |= draft.get("built", {})
    if own and not chosen.startswith(LIKE):
        return f"{draft['name']} cover", {"preset": str(Preset(chosen)), **own}
    if chosen.startswith(LIKE):
        return chosen.removeprefix(LIKE), {}
    covers = garden.covers if garden else {}
    name = chosen
    if name in covers and covers[name] != Cover(name=name, preset=Preset(chosen)):
        name = f"{draft['name']} cover"  # somebody called another cover so
    return name, {} if name in covers else {"preset": chosen}
