"""`bedstraw chart`: one picture of a garden saved as PNG, and its one line of words."""

from pathlib import Path

from bot.answers.season.drawing import OF_GARDEN, Drawing, Model, drawing
from bot.charts import Theme
from bot.commands.mistakes import MistakeError
from bot.commands.opening import open_garden
from bot.commands.outlook import parse_moment, read_inputs
from bot.rounds import inputs_of
from bot.settings import Garden
from rules.outlook.garden_outlook import outlook


def draw(path: Path, picture: str, tree: str | None, out: Path | None, moment: str | None, *, dark: bool) -> str:
    """The picture saved beside the garden file, or at `out`; its place and words are returned.

    Raises
    ------
    MistakeError
        The picture needs a tree, or knowledge, that is not there; the sentence says which.
    """
    garden, secrets = open_garden(path)
    now = parse_moment(moment, garden)
    round_inputs = read_inputs(garden, secrets, None, now)
    inputs = inputs_of(garden, round_inputs)
    model = Model(
        garden=garden,
        inputs=inputs,
        look=lambda: outlook(inputs, now),
        now=now,
        theme=Theme.DARK if dark else Theme.LIGHT,
    )
    made = _drawing(picture, model, "" if picture in OF_GARDEN else _tree(garden, tree, picture)).draw()
    saved = made.save(out or path.with_name(f"{picture}{'_' + tree if tree else ''}.png"))
    return f"{saved}\n{made.text}"


def _drawing(picture: str, model: Model, tree: str) -> Drawing:
    try:
        return drawing(picture, model, tree)
    except ValueError as error:
        if picture != "section":  # only a cover that cannot be cut open is the person's to mend
            raise
        raise MistakeError(f"section: {error}") from error


def _tree(garden: Garden, asked: str | None, picture: str) -> str:
    named = garden.tree_called(asked) if asked else garden.trees[0]
    if named is None:
        raise MistakeError(
            f"--tree: there is no tree called {asked}; there are {', '.join(t.name for t in garden.trees)}"
        )
    if picture == "twins" and named.twin is None:
        paired = [tree for tree in garden.trees if tree.twin is not None]
        if asked or not paired:
            raise MistakeError(f"--tree: {named.name} has no twin to be compared with")
        return paired[0].name
    return named.name
