"""The outermost surface of a cover as it stands: what sun and long wave do to it, and how much air goes through it."""

from typing import Any, Final

from rules.garden.condition import Layer
from rules.garden.cover import Cover
from rules.garden.materials import Blanket, BlanketPlace, materials
from rules.heat.layers.side import standing_m

# Air changes [1/h] and [1/h per m/s] by how tight the skin is; guesses, nobody has measured them.
FILM_LEAKS: Final = (0.5, 0.5)
BOARD_LEAKS: Final = (1.0, 0.5)
CLOTH_LEAKS: Final = (3.0, 1.0)
OPEN_SIDE_LEAKS: Final = (30.0, 20.0)
SECOND_FILM_TIGHTNESS: Final = 0.6  # leaks left with a second film, assumed
SNOW_STOPS: Final = 0.9  # of the leaks of a skin that lies under snow, assumed


def skin(cover: Cover) -> dict[str, Any]:
    """What the outer surface does with sun and long wave."""
    foil = cover.blanket is Blanket.FOIL and _outermost_blanket(cover)
    outer = materials()["skin"]["foil" if foil else "bare"]
    bare, share = outer["sun_absorbed"], _film_share(cover)
    if not share:
        return {"side_absorbed": bare, "cap_absorbed": bare, "emissivity": outer["emissivity"]}
    row, films = materials()["film"][cover.film], 2 if cover.second_film else 1
    empty = not (cover.reach_m(Layer.FILL) or cover.reach_m(Layer.BLANKET))
    clear = row["sun_passed"] > 0
    dry = row["long_wave_passed"] > 0 and empty
    return {
        "side_absorbed": row["sun_absorbed"] if share == 1 else share * row["sun_absorbed"] + (1 - share) * bare,
        "cap_absorbed": 0.5 if clear else row["sun_absorbed"],  # sun through a clear top ends inside: assumed half
        "sun_passed": row["sun_passed"] ** films * share,
        "sun_inside": 0.6 if empty else 0.0,  # the rest strikes the far film and leaves: assumed
        "long_wave_passed": row["long_wave_passed"] ** films if empty else 0.0,
        "emissivity": row["emissivity"] if empty else 0.9,  # a clear film over a fill radiates as the fill does
        "inside_m2k_w": 0.2 if dry else 0.13,  # a dry film exchanges less long wave with the inside
    }


def leaks(cover: Cover) -> tuple[float, float]:
    """Air changes of the closed cover [1/h] and [1/h per m/s]."""
    if cover.open_sides:
        return OPEN_SIDE_LEAKS
    share = 0.0 if cover.condition.torn else _film_share(cover)
    tight = SECOND_FILM_TIGHTNESS if cover.second_film else 1.0
    without = BOARD_LEAKS if cover.reach_m(Layer.BOARDS) else CLOTH_LEAKS
    left = 1 - SNOW_STOPS * _snowed_share(cover)
    still, windy = (left * (share * tight * f + (1 - share) * w) for f, w in zip(FILM_LEAKS, without, strict=True))
    return still, windy


def _outermost_blanket(cover: Cover) -> bool:
    """Whether the blanket is the outermost layer where no film is."""
    outside = cover.blanket_place is BlanketPlace.OUTSIDE or not cover.reach_m(Layer.FILL)
    return outside and cover.reach_m(Layer.BLANKET) == standing_m(cover) and not cover.boards_m


def _film_share(cover: Cover) -> float:
    """Share of the side, by height, that has a film [0-1]."""
    return min(1.0, cover.reach_m(Layer.FILM) / standing_m(cover))


def _snowed_share(cover: Cover) -> float:
    """Share of sides and top that lie under snow [0-1]."""
    high_m = standing_m(cover)
    deep_m = min(high_m, cover.condition.snow_round_m)
    side_m2, top_m2 = 2 * cover.outer_radius_m * deep_m, cover.outer_radius_m**2
    whole_m2 = 2 * cover.outer_radius_m * high_m + top_m2
    return (side_m2 + (top_m2 if cover.condition.snow_on_m > 0 else 0.0)) / whole_m2
