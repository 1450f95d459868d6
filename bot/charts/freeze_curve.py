"""How the chance of a last (first) freeze falls (rises) with the date, for one or more thresholds."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from bot.charts.theme import BODY_PT, EDGE_PX, SHORT_PX, SMALL_PT, WIDTH_PX, Picture, Sheet, Theme
from bot.wording.formats import Style
from rules.weather.freeze_dates import FreezeLaw
from rules.weather.freeze_seasons import WhichFreeze, date_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT_PX: Final = 190
PLOT_PX: Final = WIDTH_PX - LEFT_PX - 50
ROW_PX: Final = 96
MOST: Final = 4  # more curves than strokes one can tell apart
LINES: Final[tuple[Any, ...]] = ("-", "--", ":", "-.")
MARKS: Final = ("o", "s", "^", "D")
YEARS: Final = (0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0)


def draw_freeze_curve(laws: Sequence[FreezeLaw], year: int, style: Style, theme: Theme = Theme.LIGHT) -> Picture:
    """The freeze curves of spring or of autumn, at most four.

    Parameters
    ----------
    laws
        One for each threshold, all of the same freeze; none where past winters do not tell.
    year
        The year whose dates are shown.

    Raises
    ------
    ValueError
        Laws of both freezes, or more than four.
    ChartsMissing
        matplotlib is not installed.
    """
    if len({law.which for law in laws}) > 1 or len(laws) > MOST:
        raise ValueError(f"freeze curves of one freeze and at most {MOST} thresholds fit a picture, got {len(laws)}")
    sheet = Sheet(theme) if laws else Sheet(theme, SHORT_PX)
    top_px = sheet.head(_title(laws), _lines(laws))
    known = [law for law in laws if law.share]
    below_px = sheet.height_px - 40 - ROW_PX * len(laws)
    if known:
        axes = sheet.axes(LEFT_PX, top_px + 20, PLOT_PX, below_px - top_px - 120)
        _plot(axes, sheet, laws, known, year, style)
    for place, law in enumerate(laws):
        _row(sheet, law, place, year, style, below_px + ROW_PX * (place + 0.5))
    return Picture(sheet=sheet, text=freeze_curve_text(laws, year, style))


def freeze_curve_text(laws: Sequence[FreezeLaw], year: int, style: Style) -> str:
    """The curves in one line of words."""
    said = [f"{_named(law, style)}: {_dates(law, year, style)}." for law in laws]
    return f"{_title(laws)}. {' '.join(said or _lines(laws))}"


def _title(laws: Sequence[FreezeLaw]) -> str:
    if not laws:
        return "Freeze dates"
    return "Last freeze in spring" if laws[0].which is WhichFreeze.LAST_IN_SPRING else "First freeze in autumn"


def _lines(laws: Sequence[FreezeLaw]) -> list[str]:
    if not laws:
        return ["Too few past winters are known to say."]
    way = "still froze after" if laws[0].which is WhichFreeze.LAST_IN_SPRING else "froze before"
    winters = [len(law.past.years) for law in laws if law.past]
    rests = f"From {min(winters)} past years." if winters else "From a published table."
    return [f"In how many years of ten it {way} a date. {rests}"]


def _named(law: FreezeLaw, style: Style) -> str:
    return f"{style.degrees(law.threshold_c)} or colder"


def _dates(law: FreezeLaw, year: int, style: Style) -> str:
    spring = law.which is WhichFreeze.LAST_IN_SPRING
    half, tenth = law.day_at(0.5), law.day_at(0.1)
    if tenth is None:
        return f"fewer than 1 year in 10 {'has' if law.share else 'in the record has'} one"
    one = f"1 year in 10 {'after' if spring else 'before'} {style.short_date(date_of(tenth, year))}"
    return one if half is None else f"half of years by {style.short_date(date_of(half, year))}, {one}"


def _colours(sheet: Sheet) -> tuple[str, ...]:
    return sheet.paint.closed, sheet.paint.bare, sheet.paint.vented, sheet.paint.act


def _plot(
    axes: "Axes", sheet: Sheet, laws: Sequence[FreezeLaw], known: Sequence[FreezeLaw], year: int, style: Style
) -> None:
    ends = [(law.mean_day - 2.4 * law.sd_day, law.mean_day + 2.4 * law.sd_day) for law in known]
    first, last = min(low for low, _ in ends), max(high for _, high in ends)
    days = np.linspace(first, last, 300)
    axes.set_xlim(first, last)
    axes.set_ylim(0, 1.0)
    axes.set_yticks([0, 0.1, 0.5, 0.9], ["0", "1 in 10", "5 in 10", "9 in 10"])
    axes.grid(axis="both", color=sheet.paint.rule, linewidth=0.8)
    axes.axhline(0.1, color=sheet.paint.faint, linewidth=1.4)
    _weeks(axes, first, last, year, style)
    for place, law in enumerate(laws):
        if not law.share:
            continue
        colour = _colours(sheet)[place]
        axes.plot(
            days, [law.chance(day) for day in days], color=colour, linestyle=LINES[place], linewidth=2.8, zorder=4
        )
        _past(axes, law, colour, MARKS[place])
        _tip(axes, sheet, law, place)


def _past(axes: "Axes", law: FreezeLaw, colour: str, mark: str) -> None:
    """What past seasons did: one point each, at the share of seasons beyond it."""
    if law.past is None:
        return
    days = np.sort(law.past.day_of_year[~np.isnan(law.past.day_of_year)])
    shares = [law.chance_seen(float(day)) or 0.0 for day in days]
    axes.plot(days, shares, mark, color=colour, markersize=4, alpha=0.6, linestyle="none", zorder=3)


def _tip(axes: "Axes", sheet: Sheet, law: FreezeLaw, place: int) -> None:
    """The curve's mark where one year in ten is left."""
    day = law.day_at(0.1)
    if day is not None:
        axes.plot([day], [0.1], MARKS[place], color=_colours(sheet)[place], markersize=11,
                  markeredgecolor=sheet.paint.ink, zorder=6)  # fmt: skip


def _weeks(axes: "Axes", first: float, last: float, year: int, style: Style) -> None:
    """Dates below: about five, on the 1st, 11th and 21st, or on firsts of months."""
    days = [date_of(first, year) + timedelta(days=day) for day in range(int(last - first) + 2)]
    fine = [day for day in days if day.day in (1, 11, 21)]
    marks = fine if len(fine) <= 6 else [day for day in fine if day.day == 1]
    marks = marks if len(marks) <= 6 else marks[::2]
    start = date(year, 1, 1)
    axes.set_xticks([(day - start).days + 1 for day in marks], [style.short_date(day) for day in marks])
    axes.set_xlim(first, last)


def _row(sheet: Sheet, law: FreezeLaw, place: int, year: int, style: Style, y: float) -> None:
    marks, colour = sheet.marks, _colours(sheet)[place]
    ends = [EDGE_PX, EDGE_PX + 70]
    marks.plot(ends, [y - 20] * 2, color=colour, linestyle=LINES[place], linewidth=2.8)
    marks.plot([EDGE_PX + 35], [y - 20], MARKS[place], color=colour, markersize=9, markeredgecolor=sheet.paint.ink)
    sheet.write(_named(law, style), EDGE_PX + 95, y - 20, bold=True, size_pt=BODY_PT)
    sheet.write(_dates(law, year, style), EDGE_PX + 95, y + 22, size_pt=SMALL_PT, room_px=WIDTH_PX - 2 * EDGE_PX - 95)
