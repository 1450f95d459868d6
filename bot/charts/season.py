"""The season of one tree so far: what its wood felt and was safe to day by day, how its cover stood, what was seen."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from bot.charts.lettering import FONT, text_width_px
from bot.charts.scales import day_axis, degree_axis, hours_between, in_scale, midnight, spread
from bot.charts.theme import BODY_PT, EDGE_PX, SHORT_PX, SMALL_PT, STATE_WORDS, WIDTH_PX, Picture, Sheet, Theme
from bot.wording.formats import Style, counted
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind, Place, Reading
from rules.outlook.views.season_so_far import SeasonSoFar, Spell

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT_PX: Final = 170
PLOT_PX: Final = WIDTH_PX - LEFT_PX - 40
COVER_PX: Final = 64
EVENTS_SHOWN: Final = 5
EVENT_PX: Final = 50
KEY_PX: Final = 44
HIGHEST_C: Final = 16.0  # warm days say little about wood; cold ones need the room
Event = tuple[datetime, str]
DONE: Final = {
    DeedKind.WRAPPED: "covered", DeedKind.VENTED: "opened", DeedKind.CLOSED: "closed", DeedKind.STRIPPED: "uncovered",
    DeedKind.BLANKETED: "under a blanket",
}  # fmt: skip


def draw_season(season: SeasonSoFar, style: Style, theme: Theme = Theme.LIGHT) -> Picture:
    """A tree's season as a picture.

    Raises
    ------
    ChartsMissing
        matplotlib is not installed.
    """
    events = _events(season, style)[-EVENTS_SHOWN:]
    sheet = Sheet(theme) if season.days else Sheet(theme, SHORT_PX + EVENT_PX * len(events))
    top_px = sheet.head(f"Season so far: {season.tree.name}", _lines(season, style))
    low_px = sheet.height_px - 50 - EVENT_PX * max(1, len(events))
    if season.days:
        top_px = _key(sheet, top_px + 8)
        cover_px = low_px - COVER_PX - 86 if season.spells else low_px - 20
        axes = sheet.axes(LEFT_PX, top_px + 42, PLOT_PX, cover_px - top_px - 120)
        _plot(axes, sheet, season, events, style)
        if season.spells:
            _cover(sheet.axes(LEFT_PX, cover_px, PLOT_PX, COVER_PX - 8), sheet, season, style)
            sheet.write("cover", EDGE_PX, cover_px + COVER_PX / 2 - 4, size_pt=SMALL_PT)
            _cover_key(sheet, cover_px + COVER_PX + 26)
    _tell(sheet, events, style, low_px + 20)
    return Picture(sheet=sheet, text=season_text(season, style))


def season_text(season: SeasonSoFar, style: Style) -> str:
    """The season in one line of words."""
    said = [f"Season so far of {season.tree.name}. {' '.join(_lines(season, style))}"]
    said += [f"{_day(at, style)} {what}." for at, what in _events(season, style)[-EVENTS_SHOWN:]]
    return " ".join(said)


def _lines(season: SeasonSoFar, style: Style) -> list[str]:
    if not season.days or np.isnan(season.low_c).all():
        return ["No past weather is known, so what its wood felt is not either."]
    coldest = int(np.nanargmin(season.low_c))
    day = style.short_date(season.first + timedelta(coldest))
    tissue = f"Coldest it felt: {style.degrees(season.low_c[coldest])} on {day}."
    half = style.degrees(season.lt50_c[-1])
    safe_to = f"It is safe to {style.degrees(season.lt10_c[-1])} now; half its wood would die at {half}."
    return [tissue, safe_to, _harm(season.too_cold, style)]


def _harm(days: Sequence[date], style: Style) -> str:
    if not days:
        return "Never colder than it was safe to."
    last = style.short_date(days[-1])
    return f"Colder than it was safe to on {counted(len(days), 'day')}, the last {last}."


def _day(moment: datetime, style: Style) -> str:
    return style.short_date(moment.astimezone(style.zone).date())


def _events(season: SeasonSoFar, style: Style) -> list[Event]:
    """Deeds, sightings and readings as short words, oldest first."""
    events = [(one.at_utc, DONE[one.kind]) for one in season.deeds]
    events += [(one.at_utc, str(one.sight)) for one in season.sightings]
    events += [(one.at_utc, _reading(one, style)) for one in season.readings]
    return sorted(events, key=lambda event: event[0])


def _reading(reading: Reading, style: Style) -> str:
    where = "inside" if reading.place == Place.INSIDE else "outside"
    return f"{style.degrees(reading.air_c, tenths=True)} read {where}"


def _place(season: SeasonSoFar, moment: datetime, style: Style) -> float:
    return hours_between(midnight(season.first, style), moment) / 24


def _plot(axes: "Axes", sheet: Sheet, season: SeasonSoFar, events: Sequence[Event], style: Style) -> None:
    paint, days = sheet.paint, np.arange(season.days) + 0.5
    low = np.nanmin([np.nanmin(season.low_c), season.lt50_c.min()]) - 1
    degree_axis(axes, style, paint, float(low), min(HIGHEST_C, float(np.nanmax(season.high_c)) + 1))
    day_axis(axes, paint, season.first, season.days, style)
    lt10, lt50 = in_scale(style, season.lt10_c), in_scale(style, season.lt50_c)
    lows, highs = in_scale(style, season.low_c), in_scale(style, season.high_c)
    axes.fill_between(days, lows, highs, color=paint.outside, alpha=0.3, linewidth=0, step="mid", zorder=2)
    axes.plot(days, lows, color=paint.closed, linewidth=2.2, marker="o" if season.days < 5 else "", zorder=4)
    axes.plot(days, lt10, color=paint.ink, linewidth=2.8, marker="_" if season.days < 5 else "", zorder=5)
    axes.plot(days, lt50, color=paint.ink, linewidth=1.8, linestyle=":", zorder=5)
    harmed = np.array([(day - season.first).days for day in season.too_cold], dtype=np.int64)
    if len(harmed):
        axes.plot(harmed + 0.5, lows[harmed], "v", color=paint.bare, markersize=9, markeredgecolor=paint.ink, zorder=6)
    places = [_place(season, at, style) for at, _ in events]
    beside = spread(places, season.days * 0.062, 0.0, float(season.days))
    for number, (place, there) in enumerate(zip(places, beside, strict=True), 1):
        sheet.flag(axes, place, there, number)


def _cover(axes: "Axes", sheet: Sheet, season: SeasonSoFar, style: Style) -> None:
    axes.set_xlim(0, max(1, season.days))
    axes.set_ylim(0, 1)
    axes.set_axis_off()
    for spell in season.spells:
        ends = _place(season, spell.from_utc, style), min(_place(season, spell.until_utc, style), float(season.days))
        _spell(axes, sheet, spell, ends)


def _spell(axes: "Axes", sheet: Sheet, spell: Spell, ends: tuple[float, float]) -> None:
    axes.fill_between(ends, 0.05, 0.95, **_pattern(sheet, spell.state))
    words = "not told: taken as bare"
    room_px = (ends[1] - ends[0]) / max(axes.get_xlim()[1], 1) * PLOT_PX
    if spell.state is None and room_px > text_width_px(words, SMALL_PT) + 20:
        axes.text(
            sum(ends) / 2, 0.5, words, ha="center", va="center", fontsize=SMALL_PT, color=sheet.paint.ink, family=FONT
        )


def _pattern(sheet: Sheet, state: CoverState | None) -> dict[str, Any]:
    """Open is hatched, closed is full, bare is empty."""
    paint = sheet.paint
    fill = {CoverState.VENTED: paint.straw, CoverState.CLOSED: paint.closed}.get(state or CoverState.BARE, "none")
    hatch = "//" if state is CoverState.VENTED else ""
    return {"facecolor": fill, "edgecolor": paint.ink, "hatch": hatch, "linewidth": 1.4}


def _cover_key(sheet: Sheet, y: float) -> None:
    for place, state in enumerate(CoverState):
        left = LEFT_PX + 230 * place
        sheet.marks.fill_between([left, left + 44], y - 14, y + 14, **_pattern(sheet, state))
        sheet.write(STATE_WORDS[state], left + 58, y, size_pt=SMALL_PT)


def _key(sheet: Sheet, top_px: float) -> float:
    """What the lines are, each with a piece of itself; the height below."""
    marks, paint = sheet.marks, sheet.paint
    low = {"color": paint.closed, "linewidth": 2.2}
    lt10, lt50 = (
        {"color": paint.ink, "linewidth": 2.8},
        {"color": paint.ink, "linewidth": 1.8, "linestyle": ":"},
    )
    cold = {"color": paint.bare, "marker": "v", "markersize": 9, "markeredgecolor": paint.ink}
    span = {"color": paint.outside, "alpha": 0.3, "linewidth": 9, "solid_capstyle": "butt"}
    samples = (
        ("coldest felt", low),
        ("safe to", lt10),
        ("the day's span", span),
        ("half its wood dies", lt50),
    )
    for place, (words, stroke) in enumerate((*samples, ("too cold for it", cold))):
        left, y = EDGE_PX + 510 * (place % 2), top_px + KEY_PX * (place // 2)
        ends = [left + 24] if "marker" in stroke else [left, left + 48]
        marks.plot(ends, [y] * len(ends), **stroke)  # type: ignore[arg-type]  # its stubs want each by name
        sheet.write(words, left + 64, y, size_pt=BODY_PT)
    return top_px + KEY_PX * 3


def _tell(sheet: Sheet, events: Sequence[Event], style: Style, top_px: float) -> None:
    if not events:
        sheet.write("Nothing noted on these days.", EDGE_PX, top_px, colour=sheet.paint.faint)
    for number, (at, what) in enumerate(events, 1):
        y = top_px + EVENT_PX * (number - 1)
        sheet.badge(number, EDGE_PX + 18, y)
        sheet.write(f"{_day(at, style)}  {what}", EDGE_PX + 60, y, room_px=WIDTH_PX - 2 * EDGE_PX - 60)
