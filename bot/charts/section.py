"""A cover cut open at its coldest hour, the temperature of every part beside it; a sketch, not to scale."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Final

from bot.charts.scales import spread
from bot.charts.theme import EDGE_PX, SMALL_PT, WIDTH_PX, Picture, Sheet, Theme
from bot.wording.covers.words import words_of
from bot.wording.formats import Style, sentence
from rules.garden.cover import Blanket, Cap, CoverState, Fill, Film
from rules.outlook.section import CoverSection

if TYPE_CHECKING:
    from matplotlib.axes import Axes

HEIGHT_PX: Final = 1400
LEFT_PX: Final = 60  # outer cage
RIGHT_PX: Final = 560
RING_PX: Final = 140
TOP_PX: Final = 420
GROUND_PX: Final = 1130
CAP_PX: Final = 46
SOIL_PX: Final = 190
NAMES_PX: Final = 615
STEP_PX: Final = 66
SHELLS: Final = ("inner", "middle", "outer")


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part of the sketch: its words, its number, and where on the sheet it is."""

    name: str
    number: str
    x_px: float
    y_px: float
    bold: bool = False


def draw_section(section: CoverSection, style: Style, now: datetime, theme: Theme = Theme.LIGHT) -> Picture:
    """The cut through one cover as a picture.

    Raises
    ------
    ChartsMissing
        matplotlib is not installed.
    """
    sheet = Sheet(theme, height_px=HEIGHT_PX)
    sheet.head(f"Cover cut open: {section.tree}", _lines(section, style, now))
    _sketch(sheet, section, style)
    parts = sorted(section_parts(section, style), key=lambda part: part.y_px)
    places = spread([part.y_px for part in parts], STEP_PX, TOP_PX - 110, HEIGHT_PX - 60)
    for part, y in zip(parts, places, strict=True):
        _label(sheet, part, y)
    return Picture(sheet=sheet, text=section_text(section, style, now))


def section_text(section: CoverSection, style: Style, now: datetime) -> str:
    """The cut in one line of words."""
    parts = "; ".join(f"{part.name} {part.number}" for part in section_parts(section, style))
    return f"Cover of {section.tree}, cut open. {' '.join(_lines(section, style, now))} {sentence(parts)}"


def _lines(section: CoverSection, style: Style, now: datetime) -> list[str]:
    when = f"{style.day(section.at_utc, now)}, {style.clock(section.at_utc)}"
    state = words_of(section.cover).stands[section.state]
    spare = style.step(section.wood_c - section.lt10_c)
    verdict = f"{spare} too cold" if section.wood_c < section.lt10_c else f"{spare} to spare"
    doubt = "" if section.sd_c is None else f", give or take {style.step(section.sd_c)},"
    feels = f"{style.degrees(section.wood_c)}{doubt}"
    line = f"The wood feels {feels} and is safe to {style.degrees(section.lt10_c)}: {verdict}."
    return [f"The coldest hour this week, {state}: {when}.", line]


def _ring_px(section: CoverSection) -> float:
    return 12.0 if section.cover.fill is Fill.NONE else RING_PX


def section_parts(section: CoverSection, style: Style) -> list[Part]:
    """Every part with its temperature, the outdoor air first and the deepest soil last."""
    cover, middle, ring = section.cover, (TOP_PX + GROUND_PX) / 2, _ring_px(section)
    inner, centre = RIGHT_PX - ring, (LEFT_PX + RIGHT_PX) / 2
    skin = "film" if cover.film is not Film.NONE else "outer face"
    shut = cover.cap is not Cap.NONE and section.state == CoverState.CLOSED
    cap = f"{words_of(cover).top or 'top'}, outside" if shut else "top, outside"
    found = [
        ("air outside", section.air_c, RIGHT_PX + 25, TOP_PX - 90),
        *([] if section.cap_c is None else [(cap, section.cap_c, centre, TOP_PX - CAP_PX / 2)]),
        ("tip of stem", section.top_c, centre + 4, TOP_PX + 50),
        ("air inside", section.inside_c, inner - 25, TOP_PX + 170),
        ("wood", section.wood_c, centre, middle),
    ]
    if cover.blanket is not Blanket.NONE:
        found.append(("at the blanket", section.lining_c, inner, middle + 60))
    if cover.fill is not Fill.NONE:
        thick = ring / len(section.fill_c)
        found += [
            (f"{cover.fill}, {name}", value, inner + thick * (i + 0.5), middle + 110 + 55 * i)
            for i, (name, value) in enumerate(zip(SHELLS, section.fill_c, strict=True))
        ]
    found.append((skin, section.skin_c, RIGHT_PX, middle + 270))
    parts = [Part(name=n, number=style.degrees(c), x_px=x, y_px=y, bold=n == "wood") for n, c, x, y in found]
    return [*parts, *_water(section, style), *_soil(section, style)]


def _water(section: CoverSection, style: Style) -> list[Part]:
    if section.water_c is None:
        return []
    ice = f", {section.ice_share:.0%} ice" if section.ice_share else ""
    x = LEFT_PX + _ring_px(section) + 60
    return [Part(name="water bucket", number=f"{style.degrees(section.water_c)}{ice}", x_px=x, y_px=GROUND_PX - 30)]


def _soil(section: CoverSection, style: Style) -> list[Part]:
    centre = (LEFT_PX + RIGHT_PX) / 2
    return [
        Part(
            name=f"soil at {style.size(depth)}",
            number=style.degrees(under),
            x_px=centre,
            y_px=_depth_px(section, depth),
        )
        for depth, under in zip(section.depths_m, section.soil_c, strict=True)
    ]


def _depth_px(section: CoverSection, depth_m: float) -> float:
    return GROUND_PX + 24 + (SOIL_PX - 50) * depth_m / section.depths_m[-1]


def _sketch(sheet: Sheet, section: CoverSection, style: Style) -> None:
    marks, paint, ring = sheet.marks, sheet.paint, _ring_px(section)
    left, right = LEFT_PX + ring, RIGHT_PX - ring
    marks.fill_between([EDGE_PX - 20, RIGHT_PX + 30], GROUND_PX, GROUND_PX + SOIL_PX, color=paint.soil, linewidth=0)
    if section.cover.fill is not Fill.NONE:
        for ends in ([LEFT_PX, left], [right, RIGHT_PX]):
            marks.fill_between(
                ends, TOP_PX, GROUND_PX, facecolor=paint.straw, edgecolor=paint.faint, hatch="xx", lw=0.6
            )
    if section.cover.blanket is not Blanket.NONE:
        for x in (left, right):
            marks.plot([x, x], [TOP_PX, GROUND_PX], color=paint.act, linewidth=5, linestyle=(0, (3, 1)))
    film = section.cover.film is not Film.NONE
    for x in (LEFT_PX, RIGHT_PX):
        marks.plot(
            [x, x], [TOP_PX, GROUND_PX], color=paint.closed if film else paint.faint, linewidth=4 if film else 1.5
        )
    _cap(marks, sheet, section, left, right)
    _stems(marks, sheet)
    if section.water_c is not None:
        marks.fill_between(
            [left + 25, left + 95], GROUND_PX - 70, GROUND_PX - 4, facecolor=paint.closed, edgecolor=paint.ink
        )
    marks.plot([EDGE_PX - 20, RIGHT_PX + 30], [GROUND_PX] * 2, color=paint.ink, linewidth=3)
    for depth, beside in zip(section.depths_m, section.beside_c, strict=True):
        sheet.write(f"beside {style.degrees(beside)}", EDGE_PX - 8, _depth_px(section, depth), size_pt=SMALL_PT)


def _cap(marks: "Axes", sheet: Sheet, section: CoverSection, left: float, right: float) -> None:
    """The cap shut, or pushed aside where the cover is vented."""
    if section.cover.cap is Cap.NONE:
        return
    shift, lift = (150.0, 70.0) if section.state == CoverState.VENTED else (0.0, 0.0)
    ends = [left - 10 - shift, right + 10 - shift]
    low = TOP_PX - lift
    marks.fill_between(
        ends, low - CAP_PX, low, facecolor=sheet.paint.night, edgecolor=sheet.paint.ink, hatch="--", linewidth=1.6
    )


def _stems(marks: "Axes", sheet: Sheet) -> None:
    centre, ink = (LEFT_PX + RIGHT_PX) / 2, sheet.paint.ink
    for slant, top in ((-62.0, TOP_PX + 120), (4.0, TOP_PX + 50), (58.0, TOP_PX + 90)):
        marks.plot([centre, centre + slant * 0.8, centre + slant], [GROUND_PX, (top + GROUND_PX) / 2, top],
                   color=ink, linewidth=4, solid_capstyle="round")  # fmt: skip


def _label(sheet: Sheet, part: Part, y: float) -> None:
    paint, marks = sheet.paint, sheet.marks
    marks.plot([part.x_px], [part.y_px], "o", color=paint.ground, markeredgecolor=paint.ink, markersize=6, zorder=6)
    marks.plot([part.x_px, NAMES_PX - 40, NAMES_PX - 10], [part.y_px, y, y], color=paint.faint, linewidth=1, zorder=5)
    room = WIDTH_PX - EDGE_PX - NAMES_PX
    wide = len(part.number) > 8
    sheet.write(part.name, NAMES_PX, y, bold=part.bold, room_px=room * (0.5 if wide else 0.62))
    sheet.write(part.number, WIDTH_PX - EDGE_PX, y, bold=True, align="right", room_px=room * (0.49 if wide else 0.38))
