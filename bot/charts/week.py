"""The week of one tree: outside with its doubt, the wood in each state of the cover, what it can take, what to do."""

import re
from datetime import timedelta
from typing import TYPE_CHECKING, Final

import numpy as np

from bot.charts.lettering import FONT
from bot.charts.scales import degree_axis, hours_between, in_scale, midnight
from bot.charts.theme import (
    BODY_PT,
    EDGE_PX,
    SHORT_PX,
    SMALL_PT,
    STROKES,
    WIDTH_PX,
    WIDTHS_PT,
    Picture,
    Sheet,
    Theme,
)
from bot.charts.week_shown import coldest_shown, highest_c, hot_inside_c, inside_shown, lowest_c, nights_shown, shown_h
from bot.wording.covers.words import do_words, stands_words, words_of
from bot.wording.formats import Style, five_minutes, sentence
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from rules.outlook.views.week import WeekOfTree
from rules.plan.garden_plan import Act
from rules.wood.margins import Night, Tissue

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT_PX: Final = 300
PLOT_PX: Final = WIDTH_PX - LEFT_PX - 30
PREFIX: Final = re.compile(r"^(?:cap|top|film) ")  # the row says the rest
ROW_PX: Final = 56
ACTS_SHOWN: Final = 3
LABEL_SHARE: Final = 0.21  # half the width of the label on the line, of the plot's
LABEL_LIFTS: Final = (0.0, 0.09, -0.09, -0.18, 0.18, -0.27)  # of the plot's height, the first that is clear enough
LABEL_CLEAR: Final = 0.07  # of the plot's height: half a label and some air


def draw_week(week: WeekOfTree, style: Style, theme: Theme = Theme.LIGHT) -> Picture:
    """The coming week of one tree as a picture.

    Raises
    ------
    ChartsMissing
        matplotlib is not installed.
    """
    acts = week.acts[:ACTS_SHOWN]
    sheet = Sheet(theme) if week.hours > 1 else Sheet(theme, SHORT_PX + ROW_PX * len(acts))
    top_px = sheet.head(f"Week ahead: {week.margins.tree.name}", [*_lines(week, style), *_black_cells(week)])
    rows = 2 + len(inside_shown(week)) if week.hours > 1 else 0
    below_px = sheet.height_px - 60 - ROW_PX * (rows + len(acts)) - (44 if len(week.acts) > ACTS_SHOWN else 0)
    if week.hours > 1:
        axes = sheet.axes(LEFT_PX, top_px + 30, PLOT_PX, below_px - top_px - 50)
        _plot(axes, sheet, week, style)
        _strip(sheet, week, style, below_px + ROW_PX / 2)
    _acts(sheet, week, style, below_px + ROW_PX * (rows + 0.5))
    sheet.foot(week.credit)
    return Picture(sheet=sheet, text=week_text(week, style))


def week_text(week: WeekOfTree, style: Style) -> str:
    """The week in one line of words."""
    said = [f"Week ahead for {week.margins.tree.name}. {' '.join(_lines(week, style))}"]
    if coldest := coldest_shown(week):
        stands = words_of(week.margins.cover).stands
        felt = {stands[state]: coldest.tissue[state] for state in inside_shown(week) if state in coldest.tissue}
        states = [f"{words} {style.degrees(tissue.wood_c)}" for words, tissue in felt.items()]
        said.append(f"Its wood would then feel: {', '.join(states)}.")
    said += [sentence(_do(act, week, style)) for act in week.acts[:ACTS_SHOWN]]
    return " ".join(said)


def _as_it_stands(week: WeekOfTree) -> str:
    state = week.margins.state
    if state is None:
        return "nobody has told me how its cover stands"
    return f"now {stands_words(week.margins.cover, state)}"


def _lines(week: WeekOfTree, style: Style) -> list[str]:
    hardiness = week.margins.hardiness
    wood = f"Its wood is safe to {style.degrees(hardiness.lt10_c)} today, give or take {style.step(hardiness.sd_c)}"
    wood += f"; {_as_it_stands(week)}." if week.margins.cover and not week.margins.tree.left_bare else "."
    coldest = coldest_shown(week)
    if coldest is None:
        return ["No forecast. Please look yourself; if in doubt, close.", wood]
    night = style.night(coldest.evening, week.now)
    span = f"{style.degrees(coldest.air_low_c, unit=False)} and {style.degrees(coldest.air_high_c)}"
    air = f"{style.degrees(coldest.air_c)} at the tree, 8 in 10 between {span}"
    lines = [f"Coldest: {night}, {air}.", wood]
    if hot := hot_inside_c(week):
        lines.append(f"Closed, the sun heats its wood to {style.degrees(hot)}.")
    return lines


def _black_cells(week: WeekOfTree) -> list[str]:
    """What the black cells of the strip tell, where there are any."""
    limit_c = week.margins.hardiness.lt10_c
    shown = [
        night.tissue[state].wood_c for night in nights_shown(week) for state in week.inside if state in night.tissue
    ]
    return ["Black below: colder than it is safe to."] if any(wood_c < limit_c for wood_c in shown) else []


def _plot(axes: "Axes", sheet: Sheet, week: WeekOfTree, style: Style) -> None:
    paint, marks = sheet.paint, np.arange(week.hours)
    degree_axis(axes, style, paint, lowest_c(week), highest_c(week))
    axes.set_xlim(0, shown_h(week))
    axes.set_xticks([])
    for sunset, sunrise in week.dark:
        span = hours_between(week.start_utc, sunset), hours_between(week.start_utc, sunrise)
        axes.axvspan(*span, color=paint.night, linewidth=0, zorder=0)
    low, high = in_scale(style, week.outside.low_c), in_scale(style, week.outside.high_c)
    axes.fill_between(marks, low, high, color=paint.outside, alpha=0.35, linewidth=0, zorder=2)
    for state, band in inside_shown(week).items():
        stroke = {"color": _colour(sheet, state), "linestyle": STROKES[state], "linewidth": WIDTHS_PT[state]}
        axes.plot(marks, in_scale(style, band.mean_c), zorder=4, **stroke)  # type: ignore[arg-type]  # its stubs want each by name
    _wood_hardiness(axes, sheet, week, style)
    taken = -np.inf
    for number, act in enumerate(week.acts[:ACTS_SHOWN], 1):
        at = hours_between(week.start_utc, act.by_utc)
        if 0 <= at <= shown_h(week):
            taken = max(at, taken + shown_h(week) * 0.054)
            sheet.flag(axes, at, taken, number)


def _wood_hardiness(axes: "Axes", sheet: Sheet, week: WeekOfTree, style: Style) -> None:
    """What the wood can take: a heavy line with its doubt as a hatched band."""
    hardiness, ink = week.margins.hardiness, sheet.paint.ink
    at = float(in_scale(style, hardiness.lt10_c))
    reach = hardiness.sd_c * (1.8 if style.fahrenheit else 1.0)
    axes.axhspan(
        at - reach, at + reach, facecolor="none", edgecolor=sheet.paint.faint, hatch="//", alpha=0.35, zorder=1
    )
    axes.axhline(at, color=ink, linewidth=2.4, zorder=5)
    hour, lift_c = _clear_place(week)
    lift = lift_c * (1.8 if style.fahrenheit else 1.0)
    axes.text(
        hour, at + lift, f"safe to {style.degrees(hardiness.lt10_c)}", fontsize=BODY_PT, fontweight="bold",
        color=ink, ha="center", va="center", zorder=6, family=FONT,
        bbox={"facecolor": sheet.paint.ground, "edgecolor": ink, "pad": 3},
    )  # fmt: skip


def _clear_place(week: WeekOfTree) -> tuple[float, float]:
    """Hour, and height over the line of what the wood can take [°C], where its label is farthest from every curve.

    On the line itself where nothing comes near it; else above or below it, so that it never hides a cold night.
    """
    lines = np.stack([week.outside.mean_c, *(band.mean_c for band in inside_shown(week).values())])
    half = int(shown_h(week) * LABEL_SHARE) + 1
    middles = range(half, max(half + 1, shown_h(week) - half))
    span_c = highest_c(week) - lowest_c(week)
    places = [(at, share * span_c) for share in LABEL_LIFTS for at in middles]

    def away(place: tuple[int, float]) -> float:
        at, lift_c = place
        shown = lines[:, at - half : at + half]
        return float(np.abs(shown - week.margins.hardiness.lt10_c - lift_c).min(initial=np.inf)) / span_c

    inside = [place for place in places if lowest_c(week) < week.margins.hardiness.lt10_c + place[1] < highest_c(week)]
    return max(inside, key=lambda place: min(away(place), LABEL_CLEAR))


def _colour(sheet: Sheet, state: CoverState) -> str:
    return {
        CoverState.BARE: sheet.paint.bare,
        CoverState.VENTED: sheet.paint.vented,
        CoverState.CLOSED: sheet.paint.closed,
    }[state]


def _strip(sheet: Sheet, week: WeekOfTree, style: Style, top_px: float) -> None:
    """A row of night lows for each line of the plot: the key to the lines, and their numbers."""
    nights, marks = _columns(week, style), sheet.marks
    sheet.write("night of", EDGE_PX + 54, top_px, size_pt=SMALL_PT, colour=sheet.paint.faint)
    for night, x in nights:
        sheet.write(f"{f'{night.evening:%a}'[:2]} {night.evening.day}", x, top_px, size_pt=SMALL_PT, align="center")
    rows: list[tuple[str, CoverState | None]] = [("air", None)]
    stands = words_of(week.margins.cover).stands
    rows += [(PREFIX.sub("", stands[state]), state) for state in inside_shown(week)]
    for place, (name, state) in enumerate(rows, 1):
        y = top_px + ROW_PX * place
        _sample(marks, sheet, state, y)
        sheet.write(name, EDGE_PX + 54, y, room_px=LEFT_PX - EDGE_PX - 60, bold=_stands(week, state))
        for night, x in nights:
            _cell(marks, sheet, night, state, week, style, x, y)


def _stands(week: WeekOfTree, state: CoverState | None) -> bool:
    return state is not None and state == week.margins.state


def _columns(week: WeekOfTree, style: Style) -> list[tuple[Night, float]]:
    """Nights with the place of their midnight; only those whose number has room."""
    placed: list[tuple[Night, float]] = []
    for night in nights_shown(week):
        at = hours_between(week.start_utc, midnight(night.evening + timedelta(days=1), style))
        x = LEFT_PX + min(max(PLOT_PX * at / shown_h(week), 40.0), PLOT_PX - 30.0)
        if placed and x - placed[-1][1] < 90:
            placed.pop()  # the night that is nearly over gives way
        placed.append((night, x))
    return placed


def _sample(marks: "Axes", sheet: Sheet, state: CoverState | None, y: float) -> None:
    ends = [EDGE_PX, EDGE_PX + 40]
    if state is None:
        marks.fill_between(ends, y - 12, y + 12, color=sheet.paint.outside, alpha=0.35, linewidth=0)
    else:
        marks.plot(ends, [y, y], color=_colour(sheet, state), linestyle=STROKES[state], linewidth=WIDTHS_PT[state])


def _cell(
    marks: "Axes",
    sheet: Sheet,
    night: Night,
    state: CoverState | None,
    week: WeekOfTree,
    style: Style,
    x: float,
    y: float,
) -> None:
    tissue: Tissue | None = night.tissue.get(state) if state else None
    value_c = tissue.wood_c if tissue else night.air_c
    cold = tissue is not None and tissue.wood_c < week.margins.hardiness.lt10_c
    if cold:
        marks.fill_between([x - 44, x + 44], y - 24, y + 24, color=sheet.paint.ink, linewidth=0)
    sheet.write(
        style.degrees(value_c, unit=False), x, y, align="center", bold=cold,
        colour=sheet.paint.ground if cold else sheet.paint.ink,
    )  # fmt: skip


def _acts(sheet: Sheet, week: WeekOfTree, style: Style, top_px: float) -> None:
    for number, act in enumerate(week.acts[:ACTS_SHOWN], 1):
        y = top_px + ROW_PX * (number - 1)
        sheet.badge(number, EDGE_PX + 18, y)
        sheet.write(sentence(_do(act, week, style)), EDGE_PX + 60, y, room_px=WIDTH_PX - 2 * EDGE_PX - 60)
    if len(week.acts) > ACTS_SHOWN:
        rest = f"and {len(week.acts) - ACTS_SHOWN} more later"
        sheet.write(rest, EDGE_PX + 60, top_px + ROW_PX * ACTS_SHOWN - 6, size_pt=SMALL_PT, colour=sheet.paint.faint)


def _do(act: Act, week: WeekOfTree, style: Style) -> str:
    what = do_words(act.kind, ["it"], {"it": week.margins.cover})
    day = style.day(act.by_utc, week.now)
    if act.kind in (DeedKind.VENTED, DeedKind.STRIPPED):
        return f"{what} {day} from {style.clock(act.from_utc)}"
    return f"{what} {day}, begin by {style.clock(five_minutes(act.by_utc))}"
