"""The sentences about changes to the garden file."""

from collections.abc import Sequence

from bot.settings import Garden, Problem, first_in_words
from bot.settings.plain_words import STANDINGS
from bot.wording.formats import Style, counted, sentence
from rules.garden.cover import Cover
from rules.garden.materials import Fill
from rules.garden.species import UNKNOWN
from rules.garden.tree import Tree


def no_file() -> str:
    """That this garden can't be changed from here."""
    return "This garden's file is not mine to change. Ask whoever runs me."


def not_in_a_group() -> str:
    """That the file says where somebody lives."""
    return "Not here: the garden file says where you live. Write to me alone."


def unkept(said: Sequence[str]) -> str:
    """What of a description nothing could be made of."""
    return f"I have no place for this and did not keep it: {'; '.join(said)}."


def put_by(name: str) -> str:
    """That another tree waits until this one is added; nothing where it is this very one."""
    return f"{name} comes next. First:" if name else "I am at that tree already:"


def name_taken(name: str) -> str:
    """That a tree has that name already."""
    return f'There is a tree called {name} already. Say for example "add a fig called Gate".'


def full(most: int) -> str:
    """That no tree more fits in."""
    return f"Here a garden may have {most} trees, and yours has them."


def refused(problems: Sequence[Problem]) -> str:
    """Why a change was not made: the sentences of the file's reader."""
    return "\n".join(["I can't do that; nothing was changed.", *first_in_words(problems)])


def added(garden: Garden, name: str, style: Style) -> str:
    """What was written of a new tree, and how to go on."""
    tree = next(tree for tree in garden.trees if tree.name == name)
    text = f"Added {_tree(tree, style)}. {_cover(garden, tree, style)}"
    cover = garden.cover_of(tree)
    built = cover is not None and not cover.is_shelter and not tree.left_bare
    more = f' Other sizes? Say for example "cover {name}: {_example(style)}".' if built else ""
    return f"{text}{more}"


def _tree(tree: Tree, style: Style) -> str:
    kind = " ".join(part for part in (tree.species, tree.cultivar) if part)
    if tree.species == UNKNOWN:
        kind = f"{tree.cultivar or 'a kind'}, which I know nothing of: tell me what it is safe to, if you know"
    high = f", {style.size(tree.height_m)} high" if tree.height_m else ""
    twin = f", twin of {tree.twin}" if tree.twin else ""
    planted = f", planted {tree.planted_year}" if tree.planted_year else ", taken as established"
    worth = counted(tree.worth_trips, "trip")
    return f"{tree.name}: {kind}, {STANDINGS[tree.standing]}{planted}{high}{twin}, worth {worth}"


def _cover(garden: Garden, tree: Tree, style: Style) -> str:
    if tree.left_bare:
        return "Left bare on purpose: watched, never asked for."
    cover = garden.cover_of(tree)
    return sentence(f"Cover: {_built(cover, style)}") if cover else "No cover."


def _built(cover: Cover, style: Style) -> str:
    if cover.is_shelter:
        return f"{cover.preset}, {cover.minutes_to_wrap:g} minutes to bring it in"
    usual = Cover(name=cover.name, preset=cover.preset)
    place = f" {cover.blanket_place}" if cover.blanket_place is not usual.blanket_place else ""
    own = [f"{cover.blanket}{place}"] if (cover.blanket, place) != (usual.blanket, "") else []
    own += [f"filled with {cover.fill}"] if cover.fill is not usual.fill else []
    own += ["two films"] if cover.second_film else []
    inside = [f"{style.size(cover.inner_diameter_m)} inside"] if cover.fill is not Fill.NONE else []
    sizes = [*inside, f"{style.size(cover.outer_diameter_m)} outside", f"{style.size(cover.height_m)} high"]
    return ", ".join([str(cover.preset), *own, *sizes, f"{cover.minutes_to_wrap:g} minutes to put on"])


def _example(style: Style) -> str:
    return "20 in inside, 36 in outside" if style.length == "in" else "60 cm inside, 100 cm outside"


def covered(garden: Garden, name: str, style: Style) -> str:
    """What the cover of a tree is now."""
    tree = next(tree for tree in garden.trees if tree.name == name)
    return f"{name}. {_cover(garden, tree, style)}"


def cover_unread() -> str:
    """That a cover was not understood."""
    return 'How is it built? Say for example "cover porch: straw cage with film, 60 cm inside, 100 cm outside".'


def ask_remove(name: str) -> str:
    """The question before a tree is taken out."""
    return f"Take {name} out of the garden file? I stop watching it; its records stay."


def removed(name: str) -> str:
    """That a tree is out."""
    return f"{name} is out of the garden file. Its records stay."


def ask_rename(old: str, new: str) -> str:
    """The question before a tree is renamed."""
    return f"Call {old} {new} from now on, in the file and in all records?"


def renamed(old: str, new: str) -> str:
    """That a tree has a new name."""
    return f"{old} is called {new} now."


def exported(name: str) -> str:
    """What comes with the exported file."""
    return f"{name}: your garden file, as it stands. It says where you live. Change it and send it back to me."


def saturday_page(garden: str, *, is_calm: bool) -> str:
    """What comes with the page of a Saturday."""
    calm = "All is well: nothing is asked for now." if is_calm else "What I asked for is still open."
    return f"{garden} this Saturday. {calm} Open the page in a browser."


def everything(records: int, photos: int, left_out: int) -> str:
    """What comes with all that is kept of a garden."""
    older = f" {counted(left_out, 'older photo')} did not fit into one message." if left_out else ""
    return (
        f"All I keep of your garden: its file, {counted(records, 'record')} as a table, {counted(photos, 'photo')}."
        f"{older} It says where you live."
    )
