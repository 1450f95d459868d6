"""A covered tree and its bare twin: what each felt, night by night, and what became of them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from bot.charts.scales import day_axis, degree_axis, in_scale, midnight
from bot.charts.theme import BODY_PT, EDGE_PX, SHORT_PX, SMALL_PT, WIDTH_PX, Floats, Picture, Sheet, Theme
from bot.wording.formats import Style, counted
from rules.garden.cover import CoverState
from rules.outlook.views.season_so_far import SeasonSoFar

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT_PX: Final = 170
PLOT_PX: Final = WIDTH_PX - LEFT_PX - 40
ROW_PX: Final = 168


@dataclass(frozen=True, kw_only=True)
class Dieback:
    """What the winter took of one tree: the share of its wood [0-1], the length of dead stem [m], or both."""

    share: float | None = None
    length_m: float | None = None


def draw_twins(
    covered: SeasonSoFar,
    bare: SeasonSoFar,
    style: Style,
    theme: Theme = Theme.LIGHT,
    *,
    dieback: Mapping[str, Dieback] | None = None,
) -> Picture:
    """The daily lows of two twins as a picture, with their dieback by name where it is known.

    Raises
    ------
    ChartsMissing
        matplotlib is not installed.
    """
    found, (first, days) = dieback or {}, _span(covered, bare)
    sheet = Sheet(theme) if days else Sheet(theme, SHORT_PX + 2 * ROW_PX)
    key = ["Dashes: what each of them can take."] if days else []
    top_px = sheet.head("Covered and bare", [*_lines(covered, bare, style), *key])
    below_px = sheet.height_px - 30 - 2 * ROW_PX
    if days:
        axes = sheet.axes(LEFT_PX, top_px + 20, PLOT_PX, below_px - top_px - 100)
        lows = {one.tree.name: _on_days(one, one.low_c, first, days) for one in (covered, bare)}
        _scale(axes, sheet, lows.values(), (covered, bare), style)
        day_axis(axes, sheet.paint, first, days, style)
        for one, stroke in ((covered, _covered(sheet)), (bare, _bare(sheet))):
            places = np.arange(days) + 0.5
            axes.plot(places, in_scale(style, lows[one.tree.name]), zorder=4, **stroke)
            lt10 = in_scale(style, _on_days(one, one.lt10_c, first, days))
            axes.plot(places, lt10, color=stroke["color"], linewidth=2.0, linestyle=(0, (6, 2)), zorder=3)
    _row(sheet, covered, "Covered", _covered(sheet), found.get(covered.tree.name), style, below_px)
    _row(sheet, bare, "Bare", _bare(sheet), found.get(bare.tree.name), style, below_px + ROW_PX)
    return Picture(sheet=sheet, text=twins_text(covered, bare, style, dieback=found))


def twins_text(
    covered: SeasonSoFar, bare: SeasonSoFar, style: Style, *, dieback: Mapping[str, Dieback] | None = None
) -> str:
    """The twins in one line of words."""
    found = dieback or {}
    each = [
        f"{how}, {one.tree.name}: {', '.join(_facts(one, found.get(one.tree.name), style))}."
        for one, how in ((covered, "Covered"), (bare, "Bare"))
    ]
    return f"Covered and bare. {' '.join([*_lines(covered, bare, style), *each])}"


def _lines(covered: SeasonSoFar, bare: SeasonSoFar, style: Style) -> list[str]:
    first, days = _span(covered, bare)
    apart = _on_days(covered, covered.low_c, first, days) - _on_days(bare, bare.low_c, first, days)
    if not days or np.isnan(apart).all():
        return ["No past weather is known of both, so there is nothing to compare."]
    apart[~_wrapped(covered, first, days, style)] = np.nan
    if np.isnan(apart).all():
        return [f"The cover of {covered.tree.name} has not been on yet on any of these days."]
    coldest = int(np.nanargmin(np.where(np.isnan(apart), np.nan, _on_days(bare, bare.low_c, first, days))))
    day = first + timedelta(days=coldest)
    warmer = "warmer" if apart[coldest] >= 0 else "colder"
    return [
        f"On the coldest day under cover, {style.short_date(day)}, it stayed {style.step(apart[coldest])} {warmer}."
    ]


def _wrapped(one: SeasonSoFar, first: date, days: int, style: Style) -> npt.NDArray[np.bool_]:
    """The days that began with the cover on."""
    on = [spell for spell in one.spells if spell.state not in (None, CoverState.BARE)]
    begins = [midnight(first + timedelta(days=day), style) for day in range(days)]
    return np.array([any(spell.from_utc <= at <= spell.until_utc for spell in on) for at in begins], dtype=bool)


def _span(covered: SeasonSoFar, bare: SeasonSoFar) -> tuple[date, int]:
    """First day and number of days that either knows."""
    known = [one for one in (covered, bare) if one.days]
    if not known:
        return covered.first, 0
    first = min(one.first for one in known)
    return first, max((one.first - first).days + one.days for one in known)


def _on_days(one: SeasonSoFar, values_c: Floats, first: date, days: int) -> Floats:
    laid = np.full(days, np.nan)
    at = (one.first - first).days
    if one.days:
        laid[at : at + one.days] = values_c
    return laid


def _covered(sheet: Sheet) -> dict[str, Any]:
    return {"color": sheet.paint.closed, "linewidth": 2.8, "linestyle": "-", "marker": "", "markersize": 4}


def _bare(sheet: Sheet) -> dict[str, Any]:
    return {"color": sheet.paint.bare, "linewidth": 1.8, "linestyle": ":", "marker": "o", "markersize": 4}


def _scale(axes: "Axes", sheet: Sheet, lows: Any, both: tuple[SeasonSoFar, SeasonSoFar], style: Style) -> None:
    values = np.concatenate([*lows, *(one.lt10_c for one in both)])
    degree_axis(axes, style, sheet.paint, float(np.nanmin(values)) - 1, min(12.0, float(np.nanmax(values)) + 1))


def _facts(one: SeasonSoFar, lost: Dieback | None, style: Style) -> list[str]:
    if not one.days or np.isnan(one.low_c).all():
        tissue = "nothing known"
    else:
        tissue = f"coldest felt {style.degrees(np.nanmin(one.low_c))}, safe to {style.degrees(one.lt10_c[-1])}"
    nights = len(one.too_cold)
    cold = f"too cold on {counted(nights, 'day')}" if nights else "never too cold for it"
    if tissue == "nothing known":
        cold = "no past weather"
    return [tissue, cold, _dead(lost, style)]


def _dead(lost: Dieback | None, style: Style) -> str:
    if lost is None or (lost.share is None and lost.length_m is None):
        return "dieback not yet seen"
    said = [f"{lost.share:.0%} of its wood"] if lost.share is not None else []
    said += [f"{style.size(lost.length_m)} of stem"] if lost.length_m is not None else []
    return f"died back: {', '.join(said)}"


def _row(
    sheet: Sheet, one: SeasonSoFar, how: str, stroke: dict[str, Any], lost: Dieback | None, style: Style, top_px: float
) -> None:
    left, room = EDGE_PX + 110, WIDTH_PX - 2 * EDGE_PX - 110
    sheet.marks.plot([EDGE_PX, EDGE_PX + 42, EDGE_PX + 84], [top_px + 20] * 3, **stroke)
    sheet.write(f"{how}: {one.tree.name}", left, top_px + 20, bold=True, size_pt=BODY_PT, room_px=room)
    tissue, cold, dead = _facts(one, lost, style)
    sheet.write(tissue, left, top_px + 66, size_pt=SMALL_PT, room_px=room)
    sheet.write(f"{cold}; {dead}", left, top_px + 108, size_pt=SMALL_PT, room_px=room)
