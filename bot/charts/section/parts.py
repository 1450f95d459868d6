"""A cover cut open at its coldest hour, the temperature of every part beside it; a sketch, not to scale."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from bot.charts.scales import spread
from bot.charts.section.sketch import (
    CAP_PX,
    CENTRE_PX,
    EAVE_PX,
    GROUND_PX,
    LEFT_PX,
    RIGHT_PX,
    TOP_PX,
    depth_px,
    draw_sketch,
    has_cap,
    is_mound,
    ring_px,
    sticks_out,
    tip_px,
    top_px,
)
from bot.charts.theme import EDGE_PX, SMALL_PT, WIDTH_PX, Picture, Sheet, Theme
from bot.wording.covers.words import words_of
from bot.wording.formats import Style, sentence
from rules.garden.condition import Layer
from rules.garden.cover import CoverState
from rules.garden.materials import Blanket, BlanketPlace
from rules.outlook.views.section import CoverSection

HEIGHT_PX: Final = 1400
NAMES_PX: Final = 615
STEP_PX: Final = 66
SHELLS: Final = ("inner", "middle", "outer")

Found = list[tuple[str, float, float, float]]  # name, temperature [°C], where on the sheet [px]


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part of the sketch: its words, its number, and where on the sheet it is."""

    name: str
    number: str
    x_px: float
    y_px: float
    bold: bool = False


SUN_STEP_C: Final = 3.0  # what wind and sky alone do not do to a surface at the coldest hour; assumed


def draw_section(section: CoverSection, style: Style, now: datetime, theme: Theme = Theme.LIGHT) -> Picture:
    """The cut through one cover as a picture.

    Raises
    ------
    ChartsMissing
        matplotlib is not installed.
    """
    sheet = Sheet(theme, height_px=HEIGHT_PX)
    sheet.head(f"Cover cut open: {section.tree}", _lines(section, style, now))
    draw_sketch(sheet, section)
    _beside(sheet, section, style)
    parts = sorted(section_parts(section, style), key=lambda part: part.y_px)
    places = spread([part.y_px for part in parts], STEP_PX, TOP_PX - 70, HEIGHT_PX - 60)
    for part, y in zip(parts, places, strict=True):
        _label(sheet, part, y)
    sheet.foot(_in_the_sun(section))
    return Picture(sheet=sheet, text=section_text(section, style, now))


def section_text(section: CoverSection, style: Style, now: datetime) -> str:
    """The cut in one line of words."""
    parts = "; ".join(f"{part.name} {part.number}" for part in section_parts(section, style))
    said = [*_lines(section, style, now), sentence(parts), _in_the_sun(section)]
    return f"Cover of {section.tree}, cut open. {' '.join(said)}".strip()


def _lines(section: CoverSection, style: Style, now: datetime) -> list[str]:
    when = f"{style.day(section.at_utc, now)}, {style.clock(section.at_utc)}"
    state = words_of(section.cover).stands[section.state]
    spare = style.step(section.wood_c - section.lt10_c)
    verdict = f"{spare} too cold" if section.wood_c < section.lt10_c else f"{spare} to spare"
    doubt = "" if section.sd_c is None else f", give or take {style.step(section.sd_c)},"
    feels = f"{style.degrees(section.wood_c)}{doubt}"
    inside = " in the cover" if sticks_out(section) else ""
    line = f"The wood{inside} feels {feels} and is safe to {style.degrees(section.lt10_c)}: {verdict}."
    return [f"The coldest hour this week, {state}: {when}.", line, *_in_the_open(section, style)]


def _in_the_sun(section: CoverSection) -> str:
    """Why its outside is warmer than the air in the coldest hour; empty where it is not."""
    outer_c = max(section.skin_c, section.air_c if section.cap_c is None else section.cap_c)
    return "The sun warms its outside already; the wood lags." if outer_c > section.air_c + SUN_STEP_C else ""


def _in_the_open(section: CoverSection, style: Style) -> list[str]:
    """How the wood fares that stands out above its cover."""
    if not sticks_out(section):
        return []
    out_m = (section.cover.tree_height_m or 0.0) - section.cover.height_m
    lowest_c = section.lowest_air_c
    short = style.step(section.lt10_c - lowest_c)
    verdict = f"{short} too cold" if lowest_c < section.lt10_c else f"{short} to spare"
    return [f"The top {style.size(out_m)} stands out bare: down to {style.degrees(lowest_c)}, {verdict}."]


def section_parts(section: CoverSection, style: Style) -> list[Part]:
    """Every part with its temperature, the outdoor air first and the deepest soil last."""
    top, high = _top_and_high(section)
    middle, tip = top + high / 2, tip_px(section)
    wood = (CENTRE_PX, GROUND_PX - 95) if is_mound(section) else (CENTRE_PX, middle)
    found = [
        ("air outside", section.air_c, RIGHT_PX + 25, top - 90),
        *_over(section, top),
        ("tip, bare" if sticks_out(section) else "tip of stem", section.top_c, *tip),
        ("wood", section.wood_c, *wood),
        *(_heap(section) if is_mound(section) else _side(section, middle, high)),
    ]
    parts = [Part(name=n, number=style.degrees(c), x_px=x, y_px=y, bold=n == "wood") for n, c, x, y in found]
    return [*parts, *_water(section, style), *_soil(section, style)]


def _top_and_high(section: CoverSection) -> tuple[float, float]:
    top = float(EAVE_PX if section.cover.is_shelter else top_px(section))
    return top, GROUND_PX - top


def _over(section: CoverSection, top: float) -> Found:
    """What lies over the top, by its own name."""
    if section.cap_c is None:
        return []
    if section.cover.is_shelter:
        return [("roof, outside", section.cap_c, CENTRE_PX, TOP_PX)]
    if is_mound(section):
        return [(f"{_skin(section)}, on top", section.cap_c, CENTRE_PX, top)]
    shut = has_cap(section) and section.state == CoverState.CLOSED
    cap = f"{words_of(section.cover).top or 'top'}, outside" if shut else "top, outside"
    return [(cap, section.cap_c, CENTRE_PX - 70, top - CAP_PX / 2)]


def _skin(section: CoverSection) -> str:
    """The outermost thing of the side."""
    on = section.cover.built_of - section.cover.condition.off
    if section.cover.is_shelter:
        return "wall, outside"
    if Layer.FILM in on:
        return "sheet" if is_mound(section) else "film"
    outside = Layer.BLANKET in on and section.cover.blanket_place is BlanketPlace.OUTSIDE
    if outside:
        return "blanket"
    return "boards" if section.cover.boards_m > 0 else "outer face"


def _heap(section: CoverSection) -> Found:
    """A mound is packed round the branches: no room for air inside, no shells to tell apart."""
    return [(f"{_skin(section)}, side", section.skin_c, RIGHT_PX - 12, GROUND_PX - 80)]


def _side(section: CoverSection, middle: float, high: float) -> Found:
    """From the air inside to the outermost face, each layer that is on."""
    ring, on = ring_px(section), section.cover.built_of - section.cover.condition.off
    inner = RIGHT_PX - ring
    found: Found = [("air inside", section.inside_c, inner - 25, middle - 0.26 * high)]
    if section.cover.is_shelter:
        return found if section.cover.open_sides else [*found, (_skin(section), section.skin_c, RIGHT_PX, middle + 90)]
    if Layer.BLANKET in on and section.cover.blanket_place is BlanketPlace.INSIDE:
        blanket = "burlap" if section.cover.blanket is Blanket.BURLAP else "blanket"
        found.append((f"at the {blanket}", section.lining_c, inner, middle + 0.08 * high))
    if Layer.FILL in on:
        thick = ring / len(section.fill_c)
        found += [
            (f"{section.cover.fill}, {name}", value, inner + thick * (i + 0.5), middle + (0.15 + 0.08 * i) * high)
            for i, (name, value) in enumerate(zip(SHELLS, section.fill_c, strict=True))
        ]
    return [*found, (_skin(section), section.skin_c, RIGHT_PX, middle + 0.38 * high)]


def _water(section: CoverSection, style: Style) -> list[Part]:
    if section.water_c is None:
        return []
    ice = f", {section.ice_share:.0%} ice" if section.ice_share else ""
    x = LEFT_PX + ring_px(section) + 60
    return [Part(name="water bucket", number=f"{style.degrees(section.water_c)}{ice}", x_px=x, y_px=GROUND_PX - 30)]


def _soil(section: CoverSection, style: Style) -> list[Part]:
    return [
        Part(
            name=f"soil at {style.size(depth)}",
            number=style.degrees(under),
            x_px=CENTRE_PX,
            y_px=depth_px(section, depth),
        )
        for depth, under in zip(section.depths_m, section.soil_c, strict=True)
    ]


def _beside(sheet: Sheet, section: CoverSection, style: Style) -> None:
    """The soil beside the cover, at the same depths."""
    for depth, beside in zip(section.depths_m, section.beside_c, strict=True):
        sheet.write(f"beside {style.degrees(beside)}", EDGE_PX - 8, depth_px(section, depth), size_pt=SMALL_PT)


def _label(sheet: Sheet, part: Part, y: float) -> None:
    paint, marks = sheet.paint, sheet.marks
    marks.plot([part.x_px], [part.y_px], "o", color=paint.ground, markeredgecolor=paint.ink, markersize=6, zorder=6)
    marks.plot([part.x_px, NAMES_PX - 40, NAMES_PX - 10], [part.y_px, y, y], color=paint.faint, linewidth=1, zorder=5)
    room = WIDTH_PX - EDGE_PX - NAMES_PX
    wide = len(part.number) > 8
    sheet.write(part.name, NAMES_PX, y, bold=part.bold, room_px=room * (0.5 if wide else 0.62))
    sheet.write(part.number, WIDTH_PX - EDGE_PX, y, bold=True, align="right", room_px=room * (0.49 if wide else 0.38))
