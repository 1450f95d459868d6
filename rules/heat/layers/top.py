"""The top of a cover as it stands: shut, with a hole, or open to the sky; and what the tip of the stem sees there."""

from math import atan2, cos, pi, sin
from typing import Any, Final

from rules.garden.condition import Layer, Top
from rules.garden.cover import Cover, CoverState
from rules.garden.materials import Cap, materials
from rules.heat.layers.side import BOARD_W_MK, SNOW_W_MK, STILL_AIR_M2K_W, standing_m
from rules.heat.layers.skin import leaks

OPEN_TOP_LEAKS: Final = (5.0, 3.0)  # air changes [1/h] and [1/h per m/s]; guesses, nobody has measured them
HOLE_LEAKS_PER_H: Final = 1.5  # what any hole in the top adds
DEFAULT_HOLE_M: Final = 0.1
TIP_M: Final = 0.15  # the tip is the last so much of the stem
WALL_SUN_ABSORBED: Final = 0.6  # of sun that falls into an open top, on fill and bark: assumed


def top(cover: Cover, state: CoverState, fill_w_mk: float) -> dict[str, Any]:
    """The properties of the top in a state, with the air that goes through the cover; `fill_w_mk` of a plug."""
    still, windy = leaks(cover)
    mouth = _mouth(cover, state)
    if open_to_the_sky(cover, state):
        still, windy = max(still, OPEN_TOP_LEAKS[0]), max(windy, OPEN_TOP_LEAKS[1])
        return {
            "leaks_per_h": still, "wind_leaks_per_h": windy, "cap_m2k_w": 0.0, "cap_absorbed": WALL_SUN_ABSORBED,
            "vent_hole_m": 2 * cover.inner_radius_m, "open_top": 1.0, "mouth": mouth,
        }  # fmt: skip
    closed = {"cap_m2k_w": _cap_m2k_w(cover, fill_w_mk), "mouth": mouth}
    if not (cover.cap is Cap.VENTED or (state is CoverState.VENTED and cover.vent_hole_m is not None)):
        return closed | {"leaks_per_h": still, "wind_leaks_per_h": windy, "vent_hole_m": 0.0}
    hole_m = cover.vent_hole_m or DEFAULT_HOLE_M
    # 0.5 air changes per m/s more for a 20 cm hole, and with its area: assumed
    windy += 0.5 * (hole_m / 0.2) ** 2
    return closed | {"leaks_per_h": still + HOLE_LEAKS_PER_H, "wind_leaks_per_h": windy, "vent_hole_m": hole_m}


def open_to_the_sky(cover: Cover, state: CoverState) -> bool:
    """Whether nothing lies over the top: folded back, blown off, never built or fallen in, and no fill in its place."""
    if cover.top_now is Top.SHUT and standing_m(cover) == cover.height_m:
        return state is CoverState.VENTED and cover.vent_hole_m is None
    return not (cover.plug_m > 0 and cover.reach_m(Layer.FILL) > 0)


def _cap_m2k_w(cover: Cover, fill_w_mk: float) -> float:
    """All that lies over the top, surfaces not counted [m²K/W]."""
    on = cover.built_of - cover.condition.off
    over = cover.condition.snow_on_m / SNOW_W_MK
    over += cover.plug_m / (fill_w_mk if Layer.FILL in on else 0.07) if cover.plug_m else 0.0
    if cover.top_now is not Top.SHUT:
        return float(over)
    over += materials()["cap"][cover.cap]["resistance_m2k_w"] + cover.lid_m / BOARD_W_MK
    if cover.cap is Cap.GATHERED and cover.reach_m(Layer.BLANKET) == cover.height_m:
        over += materials()["blanket"][cover.blanket]["resistance_m2k_w"]
    return float(over + (STILL_AIR_M2K_W if cover.second_film and Layer.FILM in on else 0.0))


def _mouth(cover: Cover, state: CoverState) -> float:
    """How much the tip is out in the open [0-1]: 0 under a shut top, 1 where the tree stands taller than its cover."""
    tip_m, high_m = cover.tree_height_m or cover.height_m, standing_m(cover)
    if tip_m > high_m:
        return 1.0
    return seen_share(high_m - tip_m + TIP_M / 2, cover.inner_radius_m) if open_to_the_sky(cover, state) else 0.0


def seen_share(depth_m: float, radius_m: float) -> float:
    """Share of the sky that an upright stem in the middle of an open top still sees so far below the rim [0-1].

    The rest of it is wall. Each direction counts as a cylinder shows itself to it, with the sine of its zenith angle;
    the integral over the opening, a cone of half angle θ, is (θ - sin θ cos θ)/π, half of the sphere at the rim.

    >>> seen_share(0.0, 0.3), round(seen_share(0.075, 0.3), 3), round(seen_share(3.0, 0.3), 4)
    (1.0, 0.694, 0.0004)
    """
    angle = atan2(radius_m, depth_m)
    return (angle - sin(angle) * cos(angle)) * 2 / pi
