"""`bedstraw chart`: one picture of a garden saved as PNG, and its one line of words."""

from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Final

from bot.charts import (
    Picture,
    SupplyBar,
    Theme,
    draw_freeze_curve,
    draw_season,
    draw_section,
    draw_supplies,
    draw_twins,
    draw_week,
)
from bot.commands.look import parse_moment, read_inputs
from bot.commands.opening import open_garden
from bot.rounds import ground_of, style_of
from bot.settings import Garden
from bot.wording.formats import Style
from bot.wording.supplies import piece_words
from rules.cover import Cover
from rules.cover_section import cover_section
from rules.daily_minima import DailyMinima
from rules.freeze_dates import freeze_law
from rules.freeze_seasons import Turn
from rules.outlook import Ground, Outlook, outlook
from rules.season_so_far import season_so_far
from rules.supplies import needs
from rules.tree import Standing
from rules.week_ahead import week_ahead

PICTURES: Final = ("week", "season", "section", "freezes", "supplies", "twins")
THRESHOLDS_C: Final = (0.0, -2.2, -4.4)  # 32, 28, 24 °F, the classes of a light, moderate and severe freeze


def draw(path: Path, picture: str, tree: str | None, out: Path | None, moment: str | None, *, dark: bool) -> str:
    """The picture saved beside the garden file, or at `out`; its place and words are returned.

    Raises
    ------
    ValueError
        The picture needs a tree, or knowledge, that is not there; the sentence says which.
    """
    garden, secrets = open_garden(path)
    now = parse_moment(moment, garden)
    inputs = read_inputs(garden, secrets, None, now)
    made = _drawn(picture, garden, ground_of(garden, inputs), tree, now, Theme.DARK if dark else Theme.LIGHT)
    saved = made.save(out or path.with_name(f"{picture}{'_' + tree if tree else ''}.png"))
    return f"{saved}\n{made.text}"


def _drawn(picture: str, garden: Garden, ground: Ground, tree: str | None, now: datetime, theme: Theme) -> Picture:
    style = style_of(garden)
    if picture == "freezes":
        return _freezes(ground.climate, garden, now, style, theme)
    if picture == "supplies":
        return _supplies(garden, theme)
    return _of_tree(picture, ground, _tree(garden, tree, picture), now, style, theme)


def _tree(garden: Garden, asked: str | None, picture: str) -> str:
    named = garden.tree_called(asked) if asked else garden.trees[0]
    if named is None:
        raise ValueError(
            f"--tree: there is no tree called {asked}; there are {', '.join(t.name for t in garden.trees)}"
        )
    if picture == "twins" and named.twin is None:
        paired = [tree for tree in garden.trees if tree.twin is not None]
        if asked or not paired:
            raise ValueError(f"--tree: {named.name} has no twin to be compared with")
        return paired[0].name
    return named.name


def _of_tree(picture: str, ground: Ground, name: str, now: datetime, style: Style, theme: Theme) -> Picture:
    twin = next(tree.twin for tree in ground.trees if tree.name == name)

    def seen() -> Outlook:
        return outlook(ground, now)

    drawings: Mapping[str, Callable[[], Picture]] = {
        "week": lambda: draw_week(week_ahead(ground, seen(), name), style, theme),
        "season": lambda: draw_season(season_so_far(ground, name, now), style, theme),
        "section": lambda: draw_section(cover_section(ground, seen(), name), style, now, theme),
        "twins": lambda: draw_twins(
            season_so_far(ground, str(twin), now), season_so_far(ground, name, now), style, theme
        ),
    }
    return drawings[picture]()


def _freezes(past: DailyMinima | None, garden: Garden, now: datetime, style: Style, theme: Theme) -> Picture:
    latitude = garden.site.latitude_deg
    found = [freeze_law(past, at_c, Turn.LAST_IN_SPRING, latitude)[0] for at_c in THRESHOLDS_C]
    return draw_freeze_curve([law for law in found if law], now.year + (now.month > 6), style, theme)


def _supplies(garden: Garden, theme: Theme) -> Picture:
    covered = [(tree, garden.covers[tree.cover]) for tree in garden.trees if tree.cover and not tree.left_bare]
    potted: list[Cover] = [cover for tree, cover in covered if tree.standing is Standing.POT]
    ground: list[Cover] = [cover for tree, cover in covered if tree.standing is not Standing.POT]
    bars = [
        SupplyBar(
            label=piece_words(line.kind, 2).partition(" ")[2],  # "bales of straw"
            need=round(line.amount / line.piece, 1),
            have=round(line.have / line.piece, 1),
            buy=line.buy,
            unit="",
        )
        for line in needs(ground, garden.shed, potted=potted)
    ]
    return draw_supplies(bars[:10], theme)
