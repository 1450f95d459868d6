"""From the geometry of covers to what must be bought: straw, film, blanket, mesh, stakes, ties, straps, lids."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

from rules.garden.cover import Cover, Preset
from rules.garden.materials import Blanket, BlanketPlace, Cap, Fill, Film, materials
from rules.garden.shed import Shed, SupplyKind, SupplyUnit, supply_rows

STRAW_KG_M3: Final = 60.0  # loose-packed in a cage, as the heat balance takes it; assumed between 40 and 80 from memory
LOOSE_PER_PACKED: Final = 2.0  # raked leaves against packed ones; assumed, no source
FILM_OVERLAP_M: Final = 0.3  # at the seam, and in all at top and bottom; assumed, no source
BLANKET_OVERLAP_M: Final = 0.15  # at the seam; assumed, no source
SKIRT_M: Final = 0.3  # a film lid or the film on a mound hangs over this far all round; assumed, no source
MESH_OVERLAP_M: Final = 0.1  # at the seam; assumed, no source
MESH_HEIGHT_M: Final = 1.8  # of a roll; a higher cage takes another course; assumed, no source
STAKE_EVERY_M: Final = 0.8  # round the outer cage; common practice, no source
FEWEST_STAKES: Final = 3
STRAP_EVERY_M: Final = 0.75  # up the cover; common practice, no source
FEWEST_STRAPS: Final = 2
TIE_EVERY_M: Final = 0.3  # up each seam of mesh; assumed, no source
BRANCH_TIES: Final = 3  # to draw the branches together; common practice, no source
DUST: Final = 1e-9  # so that 3.0000000000000004 pieces are three


@cache
def bought_as(layer: str) -> Mapping[str, SupplyKind]:
    """What each material of one table ("fill", "blanket", "film") is bought as."""
    return {name: SupplyKind(row["bought_as"]) for name, row in materials()[layer].items()}


@dataclass(frozen=True, kw_only=True)
class SupplyLine:
    """One thing on the list: how much is needed with waste and how much there is, in `unit`; pieces to buy.

    `piece` is the size of one piece in `unit`.
    """

    kind: SupplyKind
    amount: float
    have: float
    unit: SupplyUnit
    piece: float
    buy: int


def needs(covers: Sequence[Cover], shed: Shed | None = None, *, potted: Sequence[Cover] = ()) -> list[SupplyLine]:
    """What a set of covers takes, what the shed holds of it, and what is to be bought, in the order of `SupplyKind`.

    Parameters
    ----------
    covers
        One entry a tree in the ground; the same cover twice is built twice.
    shed
        Stock and sizes of pieces; None is an empty shed and the sizes of the table.
    potted
        Covers of trees in pots, which take no stakes.

    >>> [(line.kind.value, round(line.amount), line.buy) for line in needs([Cover(name="porch")])][0]
    ('straw', 54, 3)
    """
    parts = [part for cover in (*covers, *potted) for part in takes(cover).items()]
    for cover in covers:
        parts += [(SupplyKind.STAKES, float(_stakes(cover))), (SupplyKind.STAKE_ENDS, float(_stakes(cover)))]
    wanted = _summed(parts)
    return [_line(kind, wanted[kind], shed or Shed()) for kind in SupplyKind if kind in wanted]


def to_buy(lines: Sequence[SupplyLine]) -> list[SupplyLine]:
    """The shopping list: the lines the shed does not cover."""
    return [line for line in lines if line.buy]


def takes_stakes(cover: Cover) -> bool:
    """Whether stakes are driven for this cover, if it stands in the ground."""
    return _stakes(cover) > 0


def takes(cover: Cover) -> dict[SupplyKind, float]:
    """What one cover is built of, each in its unit, without waste and without stakes."""
    return {} if cover.is_room else _summed([*_sheets(cover), *_body(cover)])


def _sheets(cover: Cover) -> Iterator[tuple[SupplyKind, float]]:
    """Film, blanket and lid; a roof keeps its own."""
    if cover.is_shelter:
        return
    if cover.film is not Film.NONE:
        yield bought_as("film")[cover.film], _film_m2(cover)
    if cover.cap is Cap.FILM and cover.preset is not Preset.MOUND:
        yield bought_as("film").get(cover.film, SupplyKind.CLEAR_FILM), (cover.outer_diameter_m + 2 * SKIRT_M) ** 2
    if cover.blanket is not Blanket.NONE:
        outside = cover.blanket_place is BlanketPlace.OUTSIDE
        round_m = cover.outer_diameter_m if outside else cover.inner_diameter_m
        yield bought_as("blanket")[cover.blanket], _sleeve_m2(round_m, cover.height_m, BLANKET_OVERLAP_M, 0.0)
    if cover.cap in (Cap.INSULATED, Cap.VENTED):
        yield SupplyKind.CAPS, 1.0


def _body(cover: Cover) -> Iterator[tuple[SupplyKind, float]]:
    """Fill, cages, boards, and what holds them together."""
    if cover.fill is not Fill.NONE:
        yield bought_as("fill")[cover.fill], _fill(cover)
    if cover.boards_m > 0 and not cover.is_shelter:
        yield SupplyKind.BOARDS, cover.side_area_m2
    yield SupplyKind.WIRE_MESH, _mesh_m(cover)
    yield SupplyKind.TIES, _ties(cover)
    yield SupplyKind.STRAPS, _straps(cover)


def _summed(parts: Iterable[tuple[SupplyKind, float]]) -> dict[SupplyKind, float]:
    total: dict[SupplyKind, float] = {}
    for kind, amount in parts:
        total[kind] = total.get(kind, 0.0) + amount
    return {kind: amount for kind, amount in total.items() if amount > 0}


def cages(cover: Cover) -> tuple[float, ...]:
    """Diameters of the wire cages of a cover [m]: two round loose fill, one round packed fill or under film alone.

    A wrap is tied to the branches, a mound and a roof have none, and boards stand for the outer cage.
    """
    if cover.is_shelter or cover.preset is Preset.MOUND:
        return ()
    if cover.fill is Fill.NONE:
        return (cover.inner_diameter_m,) if cover.film is not Film.NONE else ()
    inner = () if cover.packed else (cover.inner_diameter_m,)
    return inner if cover.boards_m > 0 else (*inner, cover.outer_diameter_m)


def _fill(cover: Cover) -> float:
    """Straw [kg]; leaves as they are raked [m³]; anything else [m³]."""
    if bought_as("fill")[cover.fill] is SupplyKind.STRAW:
        return cover.fill_volume_m3 * STRAW_KG_M3
    return cover.fill_volume_m3 * (LOOSE_PER_PACKED if cover.fill is Fill.LEAVES else 1.0)


def _film_m2(cover: Cover) -> float:
    sheets = 2 if cover.second_film else 1
    if cover.preset is Preset.MOUND:
        return sheets * (cover.outer_diameter_m + 2 * cover.height_m + 2 * SKIRT_M) ** 2
    return sheets * _sleeve_m2(cover.outer_diameter_m, cover.height_m, FILM_OVERLAP_M, FILM_OVERLAP_M)


def _sleeve_m2(diameter_m: float, height_m: float, seam_m: float, ends_m: float) -> float:
    return (math.pi * diameter_m + seam_m) * (height_m + ends_m)


def _mesh_m(cover: Cover) -> float:
    courses = math.ceil(cover.height_m / MESH_HEIGHT_M - DUST)
    return courses * sum(math.pi * diameter_m + MESH_OVERLAP_M for diameter_m in cages(cover))


def _stakes(cover: Cover) -> int:
    """Stakes hold the outermost cage; a box and a mound stand by their weight, a wrap by its tree."""
    if not cages(cover) or cover.boards_m > 0:
        return 0
    return max(FEWEST_STAKES, math.ceil(math.pi * cover.outer_diameter_m / STAKE_EVERY_M - DUST))


def _ties(cover: Cover) -> int:
    if cover.is_shelter:
        return 0
    return BRANCH_TIES + len(cages(cover)) * math.ceil(cover.height_m / TIE_EVERY_M - DUST)


def _straps(cover: Cover) -> int:
    """Straps hold film and blanket against the wind; a mound is weighed down, a box holds itself."""
    loose = cover.film is not Film.NONE or cover.blanket is not Blanket.NONE
    if not loose or cover.is_shelter or cover.boards_m > 0 or cover.preset is Preset.MOUND:
        return 0
    return max(FEWEST_STRAPS, math.ceil(cover.height_m / STRAP_EVERY_M - DUST))


def _line(kind: SupplyKind, bare: float, shed: Shed) -> SupplyLine:
    row = supply_rows()[kind]
    piece = shed.piece_of(kind)
    amount = bare * (1 + row.waste)
    have = shed.have.get(kind, 0.0) * piece
    buy = max(0, math.ceil((amount - have) / piece - row.slack - DUST))
    return SupplyLine(kind=kind, amount=amount, have=have, unit=row.unit, piece=piece, buy=buy)
