"""Whole winters replayed: what each rule would have cost against one who knows the weather."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bot.charts.theme import EDGE_PX, SHORT_PX, SMALL_PT, WIDTH_PX, Picture, Sheet, Theme
from bot.wording.formats import counted

ROW_PX: Final = 164
ROOM_PX: Final = WIDTH_PX - 2 * EDGE_PX
MOST: Final = 7


@dataclass(frozen=True, kw_only=True)
class RuleResult:
    """One rule over the winters: cost over that with the weather known, trips a winter, share of wood lost [0-1].

    `ours` marks the rule bedstraw follows.
    """

    name: str
    cost_multiple: float
    trips: float
    wood_lost: float
    ours: bool = False


def draw_rules_compared(results: Sequence[RuleResult], theme: Theme = Theme.LIGHT, *, winters: int = 0) -> Picture:
    """The rules as bars, the cheapest first; the line at 1 is one who knows the weather.

    Raises
    ------
    ValueError
        More than seven rules.
    ChartsMissing
        matplotlib is not installed.
    """
    if len(results) > MOST:
        raise ValueError(f"{len(results)} rules do not fit a picture, at most {MOST} do")
    ranked = sorted(results, key=lambda one: one.cost_multiple)
    sheet = Sheet(theme, height_px=420 + ROW_PX * len(ranked) if ranked else SHORT_PX)
    key = ["The thick mark is one who knows the weather."] if ranked else []
    top_px = sheet.head("What each rule would have cost", [*_lines(winters, empty=not ranked), *key]) + 20
    longest = max([1.0, *(one.cost_multiple for one in ranked)])
    for place, one in enumerate(ranked):
        _row(sheet, one, top_px + ROW_PX * place, ROOM_PX / longest)
    return Picture(sheet=sheet, text=rules_compared_text(results, winters=winters))


def rules_compared_text(results: Sequence[RuleResult], *, winters: int = 0) -> str:
    """The comparison in one line of words."""
    said = "; ".join(
        f"{one.name} {one.cost_multiple:.1f} times that ({_facts(one)})"
        for one in sorted(results, key=lambda one: one.cost_multiple)
    )
    lines = " ".join(_lines(winters, empty=not results))
    return f"What each rule would have cost. {lines} {said}".strip() + ("." if said else "")


def _lines(winters: int, *, empty: bool) -> list[str]:
    if empty:
        return ["No winter has been replayed yet."]
    over = f", over {winters} past winters" if winters else ""
    return [f"Trips and lost wood together, as a multiple of their cost with the weather known{over}."]


def _facts(one: RuleResult) -> str:
    return f"{counted(round(one.trips), 'trip')} a winter, {one.wood_lost:.0%} of the wood lost"


def _row(sheet: Sheet, one: RuleResult, top_px: float, px_per_multiple: float) -> None:
    marks, paint = sheet.marks, sheet.paint
    width, high, low = one.cost_multiple * px_per_multiple, top_px + 54, top_px + 94
    fill = paint.closed if one.ours else "none"
    hatch = "" if one.ours else "//"
    ends = [EDGE_PX, EDGE_PX + width]
    marks.fill_between(ends, high, low, facecolor=fill, edgecolor=paint.ink, hatch=hatch, linewidth=1.2)
    foresight = EDGE_PX + px_per_multiple
    marks.plot([foresight] * 2, [high - 8, low + 8], color=paint.ink, linewidth=3)
    value = f"{one.cost_multiple:.1f} ×"
    sheet.write(value, WIDTH_PX - EDGE_PX, top_px + 16, bold=True, align="right")
    sheet.write(one.name, EDGE_PX, top_px + 16, bold=one.ours, room_px=ROOM_PX - 150)
    sheet.write(_facts(one), EDGE_PX, top_px + 126, size_pt=SMALL_PT, colour=paint.faint, room_px=ROOM_PX)
