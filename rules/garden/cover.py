"""A winter cover as a grower builds it: layers, sizes, cap, extras; and its three states."""

import math
from enum import StrEnum
from typing import Any, Self

from pydantic import model_validator

from rules.garden.condition import AS_BUILT, CoverCondition, Layer, Top
from rules.garden.materials import Blanket, BlanketPlace, Cap, Fill, Film, Ground, materials
from rules.garden.tree import Noun


class CoverState(StrEnum):
    """How a cover stands: not on the tree, on with its cap open, on with its cap shut."""

    BARE = "bare"
    VENTED = "vented"
    CLOSED = "closed"


STATES = tuple(CoverState)
STATE_INDEX: dict[CoverState, int] = {CoverState.BARE: 0, CoverState.VENTED: 1, CoverState.CLOSED: 2}


class Preset(StrEnum):
    """Covers by the grower's own words; each fills in whatever the garden file leaves out."""

    STRAW_BLANKET_FILM = "straw cage with blanket and film"
    STRAW_FILM = "straw cage with film"
    STRAW = "straw cage"
    LEAF = "leaf cage"
    LEAF_FILM = "leaf cage with film"
    BLANKET_FILM = "blanket and film"
    BLANKET = "blanket wrap"
    BURLAP = "burlap wrap"
    FILM = "film alone"
    BOX = "box with fill"
    MOUND = "bent down and mounded"
    POT = "pot under a roof"
    GARAGE = "garage"
    CELLAR = "cellar"
    PORCH = "unheated porch"
    GREENHOUSE = "greenhouse"


ROOMS = frozenset({Preset.GARAGE, Preset.CELLAR, Preset.PORCH, Preset.GREENHOUSE})  # a pot is carried in, none is built


# Bounds of what one person builds round one tree; assumed, no source. (lowest, highest) in the unit of the name.
BOUNDS: dict[str, tuple[float, float]] = {
    "inner_diameter_m": (0.04, 6.0),
    "outer_diameter_m": (0.04, 8.0),
    "height_m": (0.1, 6.0),
    "fill_height_m": (0.0, 6.0),
    "blanket_height_m": (0.0, 6.0),
    "film_height_m": (0.0, 6.0),
    "tree_height_m": (0.1, 20.0),
    "lid_m": (0.0, 0.1),
    "plug_m": (0.0, 1.0),
    "boards_m": (0.0, 0.1),
    "vent_hole_m": (0.01, 6.0),
    "water_l": (0.0, 1000.0),
    "snow_bank_m": (0.0, 1.5),
    "wood_kg": (0.1, 500.0),
    "minutes_to_wrap": (0.0, 1440.0),
    "minutes_to_close": (0.0, 1440.0),
}
THINNEST_FILL_M = 0.02


class Cover(Noun):
    """One cover: two cages with a fill between, a blanket inside or outside of it, a film outside, a cap on top.

    Sizes are metres, `water_l` litres of water standing inside, `wood_kg` the green wood of the tree inside.
    `plug_m` is fill stuffed into the top under the cap; `packed` means leaves between the stems themselves;
    `snow_bank_m` is the thickness of snow heaped to half its height. `vent_hole_m` is the diameter of the hole when
    vented; None means the whole top comes off. A box counts as a cylinder, `boards_m` thick, its lid `lid_m`.
    `fill_height_m`, `blanket_height_m`, `film_height_m` are how far up each layer reaches and `tree_height_m` how high
    the tree stands; None is all the way, and a tree that ends inside. `condition` is how it stands today, as built
    unless somebody told otherwise: it is no part of the garden file.

    >>> Cover(name="porch", preset="film alone").film
    <Film.CLEAR: 'clear'>
    """

    name: str
    preset: Preset = Preset.STRAW_BLANKET_FILM
    inner_diameter_m: float = 0.6  # these four only where the preset is silent; each preset states them
    outer_diameter_m: float = 1.0
    height_m: float = 1.8
    fill: Fill = Fill.NONE
    blanket: Blanket = Blanket.NONE
    blanket_place: BlanketPlace = BlanketPlace.INSIDE
    film: Film = Film.NONE
    cap: Cap = Cap.INSULATED
    plug_m: float = 0.0
    boards_m: float = 0.0
    lid_m: float = 0.0
    fill_height_m: float | None = None
    blanket_height_m: float | None = None
    film_height_m: float | None = None
    tree_height_m: float | None = None
    packed: bool = False
    open_sides: bool = False
    vent_hole_m: float | None = None
    water_l: float = 0.0
    second_film: bool = False
    snow_bank_m: float = 0.0
    wood_kg: float = 10.0
    ground: Ground = Ground.LOAM
    minutes_to_wrap: float = 60.0
    minutes_to_close: float = 10.0
    condition: CoverCondition = AS_BUILT

    @model_validator(mode="before")
    @classmethod
    def _fill_in_from_preset(cls, given: Any) -> Any:
        if not isinstance(given, dict):
            return given
        rows = materials()["preset"]
        preset = given.get("preset", Preset.STRAW_BLANKET_FILM)
        return rows.get(str(preset), {}) | given

    @model_validator(mode="after")
    def _refuse_what_cannot_be_built(self) -> Self:
        for name, (low, high) in BOUNDS.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise ValueError(f"{name} of cover '{self.name}' is {value:g}, it must be {low:g} to {high:g}")
        self._refuse_cages_that_do_not_fit()
        self._refuse_layers_that_do_not_fit()
        return self

    def _refuse_cages_that_do_not_fit(self) -> None:
        if self.outer_diameter_m < self.inner_diameter_m:
            raise ValueError(
                f"outer_diameter_m of cover '{self.name}' is {self.outer_diameter_m:g} m, "
                f"it must be at least the inner {self.inner_diameter_m:g} m"
            )
        if self.fill is not Fill.NONE and self.fill_thickness_m < THINNEST_FILL_M:
            raise ValueError(
                f"{self.fill} of cover '{self.name}' is {self.fill_thickness_m:g} m thick, it must be at least "
                f"{THINNEST_FILL_M:g} m; without any, say fill = none"
            )
        if self.vent_hole_m is not None and self.vent_hole_m > self.inner_diameter_m:
            raise ValueError(
                f"vent_hole_m of cover '{self.name}' is {self.vent_hole_m:g} m, "
                f"it must be at most the inner {self.inner_diameter_m:g} m"
            )

    def _refuse_layers_that_do_not_fit(self) -> None:
        for layer in (Layer.FILL, Layer.BLANKET, Layer.FILM):
            reach_m = getattr(self, f"{layer}_height_m")
            if reach_m is None:
                continue
            if getattr(self, layer) == "none":
                raise ValueError(f"{layer}_height_m of cover '{self.name}' is given, but it has no {layer}")
            if reach_m > self.height_m:
                raise ValueError(
                    f"{layer}_height_m of cover '{self.name}' is {reach_m:g} m, "
                    f"it must be at most its height_m {self.height_m:g} m"
                )
        if self.blanket_place is BlanketPlace.OUTSIDE and self.blanket is Blanket.NONE:
            raise ValueError(f"blanket_place of cover '{self.name}' is given, but it has no blanket")
        if self.cap is Cap.GATHERED and not self.built_of & {Layer.BLANKET, Layer.FILM}:
            raise ValueError(f"cap of cover '{self.name}' is gathered, but it has no blanket and no film to gather")

    @property
    def is_room(self) -> bool:
        """Whether it is a room that pots are carried into."""
        return self.preset in ROOMS

    @property
    def opens(self) -> bool:
        """Whether it has a top that is opened and shut by itself: a wrap without one, a mound, a room is on or off."""
        built = self.cap is not Cap.NONE or self.lid_m > 0
        return built and self.preset is not Preset.MOUND and not self.is_shelter

    @property
    def is_shelter(self) -> bool:
        """Whether the tree goes to it, and it was there before: a roof, a room."""
        return self.open_sides or self.is_room

    @property
    def daylight(self) -> tuple[float, float, float]:
        """Share of daylight that reaches the leaves bare, vented, closed [0-1]: what is opaque, clear, or a room.

        Opaque 0.2-0.8 open, 0-0.2 shut; clear film or glass 0.6-0.9; a garage with a window next to nothing: assumed.
        """
        clear = self.film in (Film.CLEAR, Film.ANTI_DRIP) and self.fill is Fill.NONE and self.blanket is Blanket.NONE
        if clear or self.open_sides:
            return (1.0, 0.8, 0.7)
        return (1.0, 0.05, 0.05) if self.is_room else (1.0, 0.5, 0.1)

    @property
    def built_of(self) -> frozenset[Layer]:
        """The layers it has when all of it is on."""
        has = {
            Layer.FILL: self.fill is not Fill.NONE,
            Layer.BLANKET: self.blanket is not Blanket.NONE,
            Layer.FILM: self.film is not Film.NONE,
            Layer.BOARDS: self.boards_m > 0,
        }
        return frozenset(layer for layer, there in has.items() if there)

    def standing(self, condition: CoverCondition) -> Self:
        """The same cover in another condition, what a thermometer inside has shown of it kept."""
        return self.model_copy(update={"condition": condition})

    def reach_m(self, layer: Layer) -> float:
        """How far up a layer reaches today [m]; 0 where it is off or never was."""
        if layer not in self.built_of - self.condition.off:
            return 0.0
        built_m = getattr(self, f"{layer}_height_m", None)
        reach_m = self.height_m if built_m is None else float(built_m)
        sunk_m = self.condition.sunk_to_m
        return reach_m if layer is not Layer.FILL or sunk_m is None else min(reach_m, sunk_m)

    @property
    def top_now(self) -> Top:
        """What is over the top when the cover stands closed."""
        if self.condition.top is Top.GONE:
            return Top.GONE
        return Top.NONE if self.cap is Cap.NONE and not self.lid_m else Top.SHUT

    @property
    def inner_radius_m(self) -> float:
        """Radius of the inner cage [m]."""
        return self.inner_diameter_m / 2

    @property
    def outer_radius_m(self) -> float:
        """Radius of the outer cage [m]."""
        return self.outer_diameter_m / 2

    @property
    def fill_thickness_m(self) -> float:
        """Thickness of the ring between the cages [m]."""
        return self.outer_radius_m - self.inner_radius_m

    @property
    def fill_volume_m3(self) -> float:
        """Volume of fill in the ring and the plug [m³]; 0 without fill."""
        if self.fill is Fill.NONE:
            return 0.0
        ring_m2 = math.pi * (self.outer_radius_m**2 - self.inner_radius_m**2)
        high_m = self.height_m if self.fill_height_m is None else self.fill_height_m
        return ring_m2 * high_m + self.plug_m * self.top_area_m2

    @property
    def side_area_m2(self) -> float:
        """Outer side [m²], what a film must go round."""
        return math.pi * self.outer_diameter_m * self.height_m

    @property
    def top_area_m2(self) -> float:
        """Top of the inner cage [m²]."""
        return math.pi * self.inner_radius_m**2
