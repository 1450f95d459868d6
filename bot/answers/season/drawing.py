"""The pictures of a garden by name: what each shows, drawn or said in words."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
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
    freeze_curve_text,
    season_text,
    section_text,
    supplies_text,
    twins_text,
    week_text,
)
from bot.rounds.inputs import style_of
from bot.settings import Garden
from bot.wording.year.supplies import piece_words
from rules.garden.cover import Cover
from rules.garden.supplies import needs
from rules.garden.tree import Standing
from rules.outlook.garden_outlook import Outlook
from rules.outlook.inputs import OutlookInputs
from rules.outlook.views.season_so_far import season_so_far
from rules.outlook.views.section import cover_section
from rules.outlook.views.week import week_ahead
from rules.weather.freeze_dates import freeze_law
from rules.weather.freeze_seasons import WhichFreeze

OF_GARDEN: Final = ("freezes", "supplies")  # the others are of one tree
THRESHOLDS_C: Final = (0.0, -2.2, -4.4)  # 32, 28, 24 °F, the classes of a light, moderate and severe freeze
MOST_BARS: Final = 10


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """One picture still to be made: as a PNG, in its words where nothing can draw, or as a curve of text.

    `curve_c` is what the curve shows [°C], oldest first, `level_c` the LT10; None where there is no curve.
    """

    draw: Callable[[], Picture]
    words: Callable[[], str]
    curve_c: Sequence[float] | None = None
    level_c: float | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Model:
    """What a picture is drawn from; `look` gives the outlook only where the picture needs it."""

    garden: Garden
    inputs: OutlookInputs
    look: Callable[[], Outlook]
    now: datetime
    theme: Theme = Theme.LIGHT


def drawing(picture: str, model: Model, tree: str) -> Drawing:
    """The picture of this name; `tree` is whose week, season, cover or twin.

    Raises
    ------
    ValueError
        The cover cannot be cut open: there is none, or no forecast.
    KeyError
        There is no such picture.
    """
    drawings: Mapping[str, Callable[[Model, str], Drawing]] = {
        "week": _week,
        "season": _season,
        "section": _section,
        "twins": _twins,
        "freezes": _freezes,
        "supplies": _supplies,
    }
    return drawings[picture](model, tree)


def _week(of: Model, tree: str) -> Drawing:
    week, style = week_ahead(of.inputs, of.look(), tree), style_of(of.garden)
    return Drawing(
        draw=lambda: draw_week(week, style, of.theme),
        words=lambda: week_text(week, style),
        curve_c=week.outside.mean_c.tolist() or None,
        level_c=week.margins.hardiness.lt10_c,
    )


def _season(of: Model, tree: str) -> Drawing:
    season, style = season_so_far(of.inputs, tree, of.now), style_of(of.garden)
    return Drawing(
        draw=lambda: draw_season(season, style, of.theme),
        words=lambda: season_text(season, style),
        curve_c=season.low_c.tolist() or None,
    )


def _section(of: Model, tree: str) -> Drawing:
    section, style = cover_section(of.inputs, of.look(), tree), style_of(of.garden)
    return Drawing(
        draw=lambda: draw_section(section, style, of.now, of.theme), words=lambda: section_text(section, style, of.now)
    )


def _twins(of: Model, tree: str) -> Drawing:
    """The covered one first."""
    one = next(each for each in of.garden.trees if each.name == tree)
    twin = one.twin or next(each.name for each in of.garden.trees if each.twin == tree)
    names = (twin, tree) if one.left_bare else (tree, twin)
    covered, bare = (season_so_far(of.inputs, name, of.now) for name in names)
    style = style_of(of.garden)
    return Drawing(
        draw=lambda: draw_twins(covered, bare, style, of.theme), words=lambda: twins_text(covered, bare, style)
    )


def _freezes(of: Model, _: str) -> Drawing:
    latitude, style = of.garden.site.latitude_deg, style_of(of.garden)
    found = [freeze_law(of.inputs.climate, at_c, WhichFreeze.LAST_IN_SPRING, latitude)[0] for at_c in THRESHOLDS_C]
    laws = [law for law in found if law]
    year = of.now.year + (of.now.month > 6)
    return Drawing(
        draw=lambda: draw_freeze_curve(laws, year, style, of.theme),
        words=lambda: freeze_curve_text(laws, year, style),
    )


def _supplies(of: Model, _: str) -> Drawing:
    bars = _bars(of.garden)[:MOST_BARS]
    return Drawing(draw=lambda: draw_supplies(bars, of.theme), words=lambda: supplies_text(bars))


def _bars(garden: Garden) -> list[SupplyBar]:
    covered = [(tree, garden.covers[tree.cover]) for tree in garden.trees if tree.cover and not tree.left_bare]
    potted: list[Cover] = [cover for tree, cover in covered if tree.standing is Standing.POT]
    inputs: list[Cover] = [cover for tree, cover in covered if tree.standing is not Standing.POT]
    return [
        SupplyBar(
            label=piece_words(line.kind, 2).partition(" ")[2],  # "bales of straw"
            one=piece_words(line.kind, 1).partition(" ")[2],
            need=round(line.amount / line.piece, 1),
            have=round(line.have / line.piece, 1),
            buy=line.buy,
            unit="",
        )
        for line in needs(inputs, garden.shed, potted=potted)
    ]
