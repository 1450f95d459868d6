"""The sketch of a cover cut open, not to scale: upright cage, wrap or box, low mound, or room; where each part is."""

from typing import TYPE_CHECKING, Final

from bot.charts.theme import EDGE_PX, Paint, Sheet
from rules.garden.condition import Layer, Top
from rules.garden.cover import CoverState, Preset
from rules.garden.materials import BlanketPlace, Cap, Film
from rules.outlook.views.section import CoverSection

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT_PX: Final = 60  # outer cage
RIGHT_PX: Final = 560
CENTRE_PX: Final = (LEFT_PX + RIGHT_PX) / 2
RING_PX: Final = 140
WRAP_PX: Final = 12  # a ring without fill
TOP_PX: Final = 420
MOUND_TOP_PX: Final = 800
LEAST_HIGH_PX: Final = 240  # of a cage that a tree stands far out of
GROUND_PX: Final = 1130
CAP_PX: Final = 46
SHEET_PX: Final = 16  # of a top that is drawn over, not laid on
SOIL_PX: Final = 190
EAVE_PX: Final = 560


def is_mound(section: CoverSection) -> bool:
    """Whether the tree lies bent down under it."""
    return section.cover.preset is Preset.MOUND


def sticks_out(section: CoverSection) -> bool:
    """Whether the tree stands taller than its cover."""
    cover = section.cover
    return not cover.is_shelter and not is_mound(section) and (cover.tree_height_m or 0.0) > cover.height_m


def ring_px(section: CoverSection) -> float:
    """How thick the side is drawn."""
    return RING_PX if Layer.FILL in section.cover.built_of and not section.cover.is_shelter else WRAP_PX


def top_px(section: CoverSection) -> float:
    """Height of the top of the cover on the sheet; a cage that the tree stands out of is lower by its share."""
    if is_mound(section):
        return MOUND_TOP_PX
    if not sticks_out(section):
        return TOP_PX
    share = section.cover.height_m / (section.cover.tree_height_m or section.cover.height_m)
    return GROUND_PX - max(LEAST_HIGH_PX, share * (GROUND_PX - TOP_PX))


def tip_px(section: CoverSection) -> tuple[float, float]:
    """Where the tip of the stem is."""
    if is_mound(section):
        return RIGHT_PX - 150.0, GROUND_PX - 60.0
    if sticks_out(section):
        return CENTRE_PX + 4, TOP_PX
    return CENTRE_PX + 4, (EAVE_PX if section.cover.is_shelter else top_px(section)) + 50


def depth_px(section: CoverSection, depth_m: float) -> float:
    """Where a depth of the soil is."""
    return GROUND_PX + 24 + (SOIL_PX - 50) * depth_m / section.depths_m[-1]


def has_cap(section: CoverSection) -> bool:
    """Whether a cap or lid is over it, shut or pushed aside: a mound and a room have none."""
    return section.cover.opens and section.cover.condition.top is not Top.GONE


def draw_sketch(sheet: Sheet, section: CoverSection) -> None:
    """The ground, the cover, the tree in it, the bucket."""
    marks, paint = sheet.marks, sheet.paint
    marks.fill_between([EDGE_PX - 20, RIGHT_PX + 30], GROUND_PX, GROUND_PX + SOIL_PX, color=paint.soil, linewidth=0)
    if section.cover.is_shelter:
        _room(marks, paint, section)
    elif is_mound(section):
        _mound(marks, paint, section)
    else:
        _upright(marks, paint, section)
    _stems(marks, paint, section)
    if section.water_c is not None:
        left = LEFT_PX + ring_px(section) + 25
        marks.fill_between(
            [left, left + 70], GROUND_PX - 70, GROUND_PX - 4, facecolor=paint.closed, edgecolor=paint.ink
        )
    marks.plot([EDGE_PX - 20, RIGHT_PX + 30], [GROUND_PX] * 2, color=paint.ink, linewidth=3)


def _upright(marks: "Axes", paint: Paint, section: CoverSection) -> None:
    left, right = LEFT_PX + ring_px(section), RIGHT_PX - ring_px(section)
    if (fill_top := _reach_px(section, Layer.FILL)) < GROUND_PX:
        for ends in ([LEFT_PX, left], [right, RIGHT_PX]):
            marks.fill_between(
                ends, fill_top, GROUND_PX, facecolor=paint.straw, edgecolor=paint.faint, hatch="xx", lw=0.6
            )
    outside = section.cover.blanket_place is BlanketPlace.OUTSIDE
    if (blanket_top := _reach_px(section, Layer.BLANKET)) < GROUND_PX:
        for x in (LEFT_PX + 7, RIGHT_PX - 7) if outside else (left, right):
            marks.plot([x, x], [blanket_top, GROUND_PX], color=paint.act, linewidth=5, linestyle=(0, (3, 1)))
    film_top = _reach_px(section, Layer.FILM)
    for x in (LEFT_PX, RIGHT_PX):
        marks.plot([x, x], [top_px(section), GROUND_PX], color=paint.faint, linewidth=1.5)
        if film_top < GROUND_PX:
            marks.plot([x, x], [film_top, GROUND_PX], color=paint.closed, linewidth=4)
    if has_cap(section):
        _cap(marks, paint, section, left, right)


def _reach_px(section: CoverSection, layer: Layer) -> float:
    """Height on the sheet up to which a layer reaches today; the ground where it is off or never was."""
    return GROUND_PX - (GROUND_PX - top_px(section)) * section.cover.reach_m(layer) / section.cover.height_m


def _cap(marks: "Axes", paint: Paint, section: CoverSection, left: float, right: float) -> None:
    """The cap shut, or pushed aside where the cover is vented; a tall tree stands through its middle."""
    shift, lift = (150.0, 70.0) if section.state == CoverState.VENTED else (0.0, 0.0)
    low, drawn_over = top_px(section) - lift, section.cover.cap in (Cap.FILM, Cap.GATHERED)
    spans = [(left - 10 - shift, right + 10 - shift)]
    if sticks_out(section):
        spans = [(left - 10 - shift, CENTRE_PX - 40), (CENTRE_PX + 40, right + 10 - shift)]
    high = low - (SHEET_PX if drawn_over else CAP_PX)
    for ends in spans:
        marks.fill_between(ends, high, low, facecolor=paint.night, edgecolor=paint.ink, hatch="--", linewidth=1.6)


def _mound(marks: "Axes", paint: Paint, section: CoverSection) -> None:
    """A low heap over the tree that lies in it, the sheet over all of it."""
    across = [LEFT_PX + (RIGHT_PX - LEFT_PX) * step / 40 for step in range(41)]
    high = GROUND_PX - MOUND_TOP_PX
    over = [GROUND_PX - high * (1 - ((x - CENTRE_PX) / (CENTRE_PX - LEFT_PX)) ** 2) ** 0.5 for x in across]
    fill = Layer.FILL in section.cover.built_of - section.cover.condition.off
    marks.fill_between(
        across, over, GROUND_PX, facecolor=paint.straw if fill else paint.ground, edgecolor=paint.faint,
        hatch="xx" if fill else None, lw=0.6,
    )  # fmt: skip
    if section.cover.film is not Film.NONE and Layer.FILM not in section.cover.condition.off:
        marks.plot(across, over, color=paint.closed, linewidth=4)


def _room(marks: "Axes", paint: Paint, section: CoverSection) -> None:
    """Walls and a roof, the pot inside; under a bare roof posts stand for the walls."""
    posts = section.cover.open_sides
    for x in (LEFT_PX, RIGHT_PX):
        marks.plot([x, x], [EAVE_PX, GROUND_PX], color=paint.ink, linewidth=3 if posts else 8)
    marks.plot([LEFT_PX - 25, CENTRE_PX, RIGHT_PX + 25], [EAVE_PX + 20, TOP_PX, EAVE_PX + 20], color=paint.ink, lw=6)
    marks.fill(
        [CENTRE_PX - 70, CENTRE_PX + 70, CENTRE_PX + 50, CENTRE_PX - 50],
        [GROUND_PX - 110, GROUND_PX - 110, GROUND_PX, GROUND_PX], facecolor=paint.soil, edgecolor=paint.ink, lw=2,
    )  # fmt: skip


def _stems(marks: "Axes", paint: Paint, section: CoverSection) -> None:
    x, tip = tip_px(section)
    foot = GROUND_PX - (110 if section.cover.is_shelter else 0)
    if is_mound(section):
        for end in (tip + 25, tip, tip - 45):  # bent at the foot, pegged along the ground
            marks.plot([LEFT_PX + 90, LEFT_PX + 140, x - 80, x], [foot, foot - 70, (foot - 70 + end) / 2, end],
                       color=paint.ink, linewidth=4, solid_capstyle="round")  # fmt: skip
        return
    spread = 0.45 if sticks_out(section) else 1.0  # drawn together, it goes through the top
    for slant, top in ((-62.0, tip + 70), (4.0, tip), (58.0, tip + 40)):
        across = [CENTRE_PX, CENTRE_PX + slant * 0.8 * spread, CENTRE_PX + slant * spread]
        marks.plot(across, [foot, (top + foot) / 2, top], color=paint.ink, linewidth=4, solid_capstyle="round")
