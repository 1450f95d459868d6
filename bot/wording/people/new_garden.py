"""The sentences of a garden's first conversation."""

from collections.abc import Sequence
from typing import Final

from bot.settings import Garden, Problem, first_in_words
from bot.wording.formats import counted

HELLO: Final = "Hello. "


def where(name: str) -> str:
    """The first question."""
    return (
        f"{HELLO}Let us begin {name}. Where is it? Send me a location pin, or type its coordinates, "
        'for example "12.3, -45.6".'
    )


def invited() -> str:
    """What begins here, and whose machine keeps it."""
    return (
        "Welcome. Here you begin a garden of your own. What you tell me is kept on the machine of whoever runs me; "
        '"export everything" gives you all of it, and "delete my data" takes it away. Have you a garden file already? '
        'Then send it to me. Changed your mind? Say "leave".'
    )


def left() -> str:
    """That a beginning is forgotten."""
    return "All right. Nothing you told me is kept. The same link lets you begin again while it lasts."


def reading(name: str) -> str:
    """That a file is being fetched."""
    return f"I am reading {name}."


def begun_by_file(name: str, garden: Garden) -> str:
    """That the garden is there, by the file."""
    trees = counted(len(garden.trees), "tree")
    mine = f" Your file calls it {garden.name}; here its name is {name}." if garden.name != name else ""
    return f'{name} is set up, with {trees}.{mine} I watch it from now on. Say "trees" or "tonight".'


def where_again() -> str:
    """The same, for who does not know how to tell it."""
    return (
        "I need the place first, and can look up no names. Tap the paperclip and send a location pin, or press and "
        'hold the spot in a map app and type its two numbers, for example "12.3, -45.6". To a tenth is near enough.'
    )


def is_zone(zone: str) -> str:
    """The clock of the place, to be confirmed once."""
    return f"Is your clock on {zone} time?"


def which_zone() -> str:
    """The clock of a place whose zone is not known."""
    return 'Which time zone is your clock in? For example "America/Denver" or "Europe/London".'


def how_high() -> str:
    """The height of a place the weather service does not tell."""
    return 'How high does it lie above the sea? For example "1620 m" or "5300 ft".'


def which_units(height_m: float) -> str:
    """The units to read in the chat."""
    return f"It lies at {height_m:.0f} m ({height_m / 0.3048:.0f} ft). What do you want to read?"


def first_tree() -> str:
    """The question for the first tree."""
    return (
        'Now your first tree, in one sentence if you like. For example: "a fig called Porch, by the house wall, '
        'planted 2017, straw cage with film".'
    )


def not_that(question: str) -> str:
    """The same question again, without its greeting."""
    return f"I did not understand that. {question.removeprefix(HELLO)}"


def refused(problems: Sequence[Problem]) -> str:
    """Why no garden came of it, and the question for the tree again."""
    return "\n".join(["I can't begin with that.", *first_in_words(problems), first_tree()])


def begun(name: str, tree: str, file: str) -> str:
    """That the garden is there."""
    return (
        f'{name} is set up, with {tree}; the file is {file}. I watch it from now on. Say "trees" to see how it stands, '
        f'"tonight" for the coming night, or add another tree: "add a fig called Gate".'
    )
