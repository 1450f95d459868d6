"""A picture that was asked for: drawn, kept beside the logbook for the door to send, with its one line of words."""

import math
import tempfile
from functools import cache
from pathlib import Path
from typing import Final

from bot.answers.exchange import NO_LOOK, Answer, Exchange
from bot.answers.questions.freezes import winters_unknown
from bot.answers.season.drawing import OF_GARDEN, Drawing, Model, drawing
from bot.charts import ChartsMissing, Picture, sparkline
from bot.logbook import TERMINAL_CHAT
from bot.replies import Meaning
from rules.garden.tree import Tree
from rules.outlook.garden_outlook import Outlook

PICTURES_KEPT: Final = 20  # the messenger has them after a minute; no source
NO_CHARTS: Final = "For the picture itself, install the drawing library where I run: pip install '.[charts]'."
NO_TWINS: Final = "No tree here has a twin to be compared with."
NO_COVER: Final = "None of these has a cover on that could be cut open, or there is no forecast."


def picture(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """The picture asked for, or why there is none; where nothing can draw, its words."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    inputs, kind = exchange.inputs(), meaning.text
    if kind == "freezes" and inputs.climate is None:
        return winters_unknown(exchange)
    tree = "" if kind in OF_GARDEN else _tree(exchange, meaning, seen)
    if tree is None:
        return [Answer(text=NO_TWINS if kind == "twins" else NO_COVER)]
    model = Model(garden=exchange.garden, inputs=inputs, look=lambda: seen, now=exchange.now)
    try:
        wanted = drawing(kind, model, tree)
    except ValueError:  # told of this tree by the model: no cover, or no hour ahead
        return [Answer(text=NO_COVER)]
    return [_answer(exchange, wanted)]


def _tree(exchange: Exchange, meaning: Meaning, seen: Outlook) -> str | None:
    """The tree named; else the one to be tended next that has such a picture; else the first that has one."""
    fits = [tree for tree in exchange.garden.trees if _has(exchange, tree, meaning.text)]
    names = [tree.name for tree in fits]
    if meaning.trees:
        return meaning.trees[0] if meaning.trees[0] in names else None
    tended = [act.tree for act in sorted(seen.acts, key=lambda act: act.by_utc) if act.tree in names]
    return next(iter([*tended, *names]), None)


def _has(exchange: Exchange, tree: Tree, kind: str) -> bool:
    if kind == "twins":
        return tree.twin is not None or any(other.twin == tree.name for other in exchange.garden.trees)
    return kind != "section" or tree.cover is not None


def _answer(exchange: Exchange, wanted: Drawing) -> Answer:
    curve = f"\n{_curve(exchange, wanted)}" if exchange.incoming.chat_id == TERMINAL_CHAT and wanted.curve_c else ""
    try:
        made = wanted.draw()
    except ChartsMissing:
        return Answer(text=f"{wanted.words()}{curve}\n{NO_CHARTS}")
    return Answer(text=made.text + curve, picture=str(saved(exchange, made, "picture")))


def _curve(exchange: Exchange, wanted: Drawing) -> str:
    """The same as a curve of text, for whoever sits at a terminal."""
    return sparkline(
        wanted.curve_c or [math.nan],
        label=lambda celsius: exchange.style.degrees(celsius, unit=False),
        level=wanted.level_c,
        level_word="safe to",
        width=56,
    )


def saved(exchange: Exchange, made: Picture, stem: str) -> Path:
    """Where the picture now lies: beside the garden's photos, or in a folder of this process; old ones go."""
    folder = picture_folder(exchange)
    for old in sorted(folder.glob(f"{stem}_*.png"), key=lambda file: file.stat().st_mtime)[:-PICTURES_KEPT]:
        old.unlink(missing_ok=True)
    return made.save(folder / f"{stem}_{exchange.incoming.update_id}.png")


def picture_folder(exchange: Exchange) -> Path:
    """Where what is made to be sent lies: beside the garden's photos, or in a folder of this process."""
    folder = exchange.home.folder if exchange.home else _passing_folder()
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


@cache
def _passing_folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="bedstraw-pictures-"))
