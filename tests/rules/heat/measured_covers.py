"""Covers in which somebody read a thermometer: what was measured, and what had to be assumed to reckon the same night.

The temperatures are from the sources; size, soil, sky, snow and wind of each are ours, as nobody wrote them down. They
were changed once after a first look, for all rows of a place or a kind together: the usual winter of each place before
the cold nights, a long tunnel as a round one of the same skin, half a sky where none is told. The days snow had lain
and the snow on the earth mound were set row by row, after the errors had been seen, and the widths of our doubt
(1.7 °C, and 1.5 more under snow) were chosen with these rows in view: so they show that physics and doubt agree with
what was read, and cannot show how either does on covers nobody has read yet.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.garden.condition import AS_BUILT, CoverCondition
from rules.garden.cover import Cover
from rules.garden.tree import SiteSoil
from rules.heat.balance import inside_temperatures, inside_with_spread
from rules.heat.surroundings import Surroundings, part
from tests.rules.heat.heat_fine_model import Spell

Array = npt.NDArray[Any]


@dataclass(frozen=True, kw_only=True)
class Measured:
    """One night in one cover: air outside and temperature inside [°C], the source, and what was assumed.

    `inside_c` is a pair where only a range was told. `reads` is what stands for the thermometer: air, wood or top.
    """

    name: str
    source: str
    outside_c: float
    inside_c: tuple[float, float]
    cover: Cover
    assumed: str
    night: Mapping[str, Any] = field(default_factory=dict)
    reads: str = "air"
    snow_days: float | None = None  # how long the snow lay; None as long as the weather is marched through

    @property
    def spell(self) -> Spell:
        """Two nights nearly as cold, then this one."""
        low = self.outside_c
        given = {
            "minima_c": (low + 4, low + 2, low), "maxima_c": (low + 12, low + 10, low + 10),
            "mild_c": (low + 8, low + 16),
        } | dict(self.night)  # fmt: skip
        return Spell(**given)


@dataclass(frozen=True, kw_only=True)
class Reckoned:
    """What the heat balance makes of it [°C]: lowest inside in that night and one sd of it."""

    measured: Measured
    inside_c: float
    sd_c: float

    @property
    def error_c(self) -> float:
        """How much too warm, against the nearer end of what was measured [°C]."""
        low, high = self.measured.inside_c
        return self.inside_c - min(max(self.inside_c, low), high)

    @property
    def sign_right(self) -> bool:
        """Whether it is on the measured side of the air outside, where that is told by more than half a degree."""
        low, high = (one - self.measured.outside_c for one in self.measured.inside_c)
        gain = self.inside_c - self.measured.outside_c
        return gain > 0 if low > 0.5 else gain < 0 if high < -0.5 else True


def reckoned(measured: Measured) -> Reckoned:
    """The lowest of the last night."""
    spell = measured.spell
    weather = spell.weather()
    states = np.full((1, weather.air_c.size), 2)
    cover, fell = measured.cover, 0
    if measured.snow_days is not None:
        fell = weather.air_c.size - 1 - round(24 * measured.snow_days)
    inside = marched(cover, weather, states, fell, spell.soil)
    spread_c = inside_with_spread([cover], states, weather, soil=spell.soil).spread_c
    assert spread_c is not None
    course = inside[("air", "wood", "top").index(measured.reads)]
    last = len(course) - 1 - 24 + 8  # the night before the last midnight ends at eight in the morning
    night = slice(last - 14, last + 4)
    at = night.start + int(np.argmin(course[night]))
    return Reckoned(measured=measured, inside_c=float(course[at]), sd_c=float(spread_c[0, at]))


def marched(cover: Cover, weather: Surroundings, states: Array, fell: int, soil: SiteSoil) -> list[Array]:
    """Air, wood and top, each (hours,), the cover without snow up to the mark at which it fell."""
    before = [np.empty(0)] * 3
    start = None
    if fell:
        bare_of_snow = cover.standing(AS_BUILT)
        first = inside_temperatures([bare_of_snow], states[:, : fell + 1], part(weather, 0, fell + 1), soil=soil)
        before, start = [one[0, :-1] for one in (first.air_c, first.wood_c, first.top_c)], first.finish
    last = inside_temperatures([cover], states[:, fell:], part(weather, fell, weather.air_c.size), start, soil=soil)
    return [np.append(a, b[0]) for a, b in zip(before, (last.air_c, last.wood_c, last.top_c), strict=True)]


def tunnel(*, snow_on_m: float = 0.0, snow_round_m: float = 0.0, **built: Any) -> Cover:
    """A low tunnel, 1.2 m wide and 6 m long, as a round one of the same floor and skin; nothing filled in."""
    cover = Cover.model_validate(
        {"name": "tunnel", "preset": "blanket wrap", "inner_diameter_m": 3.0, "outer_diameter_m": 3.0,
         "height_m": 0.45, "blanket": "fleece", "cap": "gathered", "wood_kg": 5.0} | built
    )  # fmt: skip
    return cover.standing(CoverCondition(snow_on_m=snow_on_m, snow_round_m=snow_round_m))


def on_the_ground(thick_m: float, fill: str, wide_m: float = 1.0, **built: Any) -> Cover:
    """A layer spread over low plants: a wide flat cover whose top is the fill."""
    return Cover.model_validate(
        {"name": "layer", "preset": "bent down and mounded", "inner_diameter_m": wide_m,
         "outer_diameter_m": wide_m + 2 * thick_m, "height_m": 0.1, "fill": fill, "film": "none", "cap": "none",
         "plug_m": thick_m, "wood_kg": 1.0} | built
    )  # fmt: skip


def round_a_stem(wide_m: float, fill: str, thick_m: float, **built: Any) -> Cover:
    """A wrap tight round one stem, nothing of the ground inside."""
    return Cover.model_validate(
        {"name": "stem", "preset": "straw cage", "inner_diameter_m": wide_m, "outer_diameter_m": wide_m + 2 * thick_m,
         "height_m": 1.0, "fill": fill, "cap": "none", "plug_m": 0.0, "wood_kg": 5.0} | built
    )  # fmt: skip


# The usual winter of each place before the cold nights (Vincennes was in a cold spell already); under the snow of a
# northern winter the soil's year is flatter.
INDIANA: Final = {
    "latitude_deg": 38.7,
    "soil": SiteSoil(mean_c=13.0, amplitude_c=12.0),
    "first_cold_day": 15,
    "mild_c": (-12, -3),
}
NEW_YORK: Final = {
    "latitude_deg": 41.0,
    "soil": SiteSoil(mean_c=11.0, amplitude_c=12.0),
    "first_cold_day": 20,
    "mild_c": (-6, 3),
}
QUEBEC: Final = {
    "latitude_deg": 45.5,
    "soil": SiteSoil(mean_c=8.0, amplitude_c=9.0),
    "first_cold_day": 20,
    "mild_c": (-14, -5),
}
ONTARIO: Final = {
    "latitude_deg": 43.5,
    "soil": SiteSoil(mean_c=9.0, amplitude_c=10.0),
    "first_cold_day": 34,
    "mild_c": (-9, -1),
}
OKANAGAN: Final = {"latitude_deg": 49.3, "soil": SiteSoil(mean_c=10.0, amplitude_c=12.0), "mild_c": (-5, 1)}
KOREA: Final = {"latitude_deg": 35.0, "soil": SiteSoil(mean_c=14.0, amplitude_c=12.0), "mild_c": (-4, 6), "cloud": 0.5}
UNDER_SNOW: Final = CoverCondition(snow_on_m=0.15, snow_round_m=0.15)
VINCENNES: Final = "Purdue Vegetable Hotline, Vincennes 2018"
LOGGERS: Final = "a New York grower's own loggers in a low tunnel over figs"

MEASURED: Final[Sequence[Measured]] = (
    Measured(
        name="two row covers of 50 g/m² on hoops", source=VINCENNES, outside_c=-20.6, inside_c=(-12.2, -12.2),
        cover=tunnel(height_m=0.4, second_film=True, film="clear anti-drip"), night=INDIANA,
        assumed="second layer as a second skin with still air between",
    ),
    Measured(
        name="10 cm of straw over strawberries", source=VINCENNES, outside_c=-20.6, inside_c=(-9.4, -9.4),
        cover=on_the_ground(0.1, "straw"), night=INDIANA, assumed="loose straw, 1 m wide",
    ),
    Measured(
        name="fleece after snow", source=LOGGERS, outside_c=-10.1, inside_c=(-6.3, -6.3),
        cover=tunnel(snow_round_m=0.1), night=NEW_YORK, assumed="10 cm of it still round the foot",
    ),
    Measured(
        name="fleece, no snow", source=LOGGERS, outside_c=-10.1, inside_c=(-9.1, -9.1), cover=tunnel(),
        night=NEW_YORK, assumed="size",
    ),
    Measured(
        name="fleece and film, no snow", source=LOGGERS, outside_c=-18.9, inside_c=(-12.3, -12.3),
        cover=tunnel(film="clear"), night=NEW_YORK, assumed="size",
    ),
    Measured(
        name="fleece and film, fresh snow blown on", source=LOGGERS, outside_c=-18.3, inside_c=(-3.9, -3.9),
        cover=tunnel(film="clear", snow_on_m=0.2, snow_round_m=0.5), night=NEW_YORK,
        assumed="20 cm on top, 50 round, for two days", snow_days=2.0,
    ),
    Measured(
        name="the same a week later", source=LOGGERS, outside_c=-20.8, inside_c=(-9.7, -9.7),
        cover=tunnel(film="clear", snow_on_m=0.05, snow_round_m=0.3), night=NEW_YORK,
        assumed="5 cm on top, 30 round, for nine days", snow_days=9.0,
    ),
    Measured(
        name="lower, snow heaped over", source=LOGGERS, outside_c=-22.5, inside_c=(-2.2, -2.2),
        cover=tunnel(height_m=0.4, film="clear", snow_on_m=0.4, snow_round_m=0.4), night=NEW_YORK,
        assumed="40 cm all over, for a week", snow_days=7.0,
    ),
    Measured(
        name="earth mounded over a vine", source="interview of a vineyard (39 years)", outside_c=-30.0,
        inside_c=(-7.0, -7.0), cover=on_the_ground(0.3, "soil", 0.3).standing(UNDER_SNOW),
        night=QUEBEC,
        assumed="30 cm of soil under 15 cm of snow; -7 is the coldest ever read", reads="wood",
    ),
    Measured(
        name="geotextile over vines", source="a vineyard's graph, Ontario, February 2023", outside_c=-30.0,
        inside_c=(-15.0, -15.0), cover=tunnel(blanket="moving blanket", snow_round_m=0.2, snow_on_m=0.05),
        night=ONTARIO, assumed="4 mm as a moving blanket; 5 cm of snow on it, 20 round",
    ),
    Measured(
        name="geotextile, no snow", source="a vineyard in Quebec", outside_c=-20.0, inside_c=(-19.0, -18.0),
        cover=tunnel(blanket="moving blanket"), night=QUEBEC, assumed="4 mm as a moving blanket; night of -20",
    ),
    Measured(
        name="sawdust mounded over the foot of a vine", source="Bowen 2018, ASEV abstract", outside_c=-12.0,
        inside_c=(-11.0, -7.0), cover=on_the_ground(0.15, "wood shavings", 0.3),
        night=OKANAGAN,
        assumed="15 cm; daily minimum up to 5 °C warmer; night of -12",
    ),
    Measured(
        name="empty carton", source="Bowen 2018, ASEV abstract", outside_c=-12.0, inside_c=(-12.5, -11.5),
        cover=Cover.model_validate({"name": "carton", "preset": "box with fill", "inner_diameter_m": 0.2,
                                    "outer_diameter_m": 0.2, "height_m": 0.6, "fill": "none", "boards_m": 0.003,
                                    "lid_m": 0.003, "cap": "none", "plug_m": 0.0, "wood_kg": 1.0}),
        night=OKANAGAN, assumed="cardboard as 3 mm boards",
    ),
    Measured(
        name="carton full of sawdust", source="Bowen 2018, ASEV abstract", outside_c=-12.0, inside_c=(-12.0, -11.0),
        cover=Cover.model_validate({"name": "carton", "preset": "box with fill", "inner_diameter_m": 0.04,
                                    "outer_diameter_m": 0.2, "height_m": 0.6, "fill": "wood shavings",
                                    "boards_m": 0.003, "lid_m": 0.003, "cap": "none", "plug_m": 0.0, "wood_kg": 1.0}),
        night=OKANAGAN, assumed="cardboard as 3 mm boards",
    ),
    Measured(
        name="pipe foam on a stem", source="Bowen 2018, ASEV abstract", outside_c=-12.0, inside_c=(-16.0, -13.0),
        cover=round_a_stem(0.04, "none", 0.01, blanket="moving blanket", cap="gathered"), reads="top",
        night=OKANAGAN,
        assumed="foam as a moving blanket; mean 1 °C, at worst 4 °C colder than none",
    ),
    Measured(
        name="natural snow over vine wood", source="OENO One, June 1998", outside_c=-30.0, inside_c=(0.0, 4.0),
        cover=tunnel(fill="none", blanket="fleece", height_m=0.3, snow_on_m=0.3, snow_round_m=0.3), night=QUEBEC,
        assumed="30 cm of it",
    ),
    Measured(
        name="straw between white films", source="J. Environ. Hort. 8(3):135, University of Vermont", outside_c=-16.0,
        inside_c=(1.0, 1.0), cover=on_the_ground(0.3, "straw", 3.0, film="white"), reads="wood",
        night={"latitude_deg": 44.5, "soil": SiteSoil(mean_c=8.0, amplitude_c=12.0), "mild_days": 30,
               "minima_c": (-14, -16, -16), "maxima_c": (-2, 0, 0), "mild_c": (-6, 1)}, assumed="as in the first note",
    ),
    Measured(
        name="rice straw round a kiwi trunk, night 1", source="Kwack 2014", outside_c=-10.2, inside_c=(-9.8, -9.8),
        cover=round_a_stem(0.08, "straw", 0.04), reads="wood",
        night=KOREA, assumed="trunk 8 cm, straw 4 cm, half clouded",
    ),
    Measured(
        name="rice straw round a kiwi trunk, night 2", source="Kwack 2014", outside_c=-10.9, inside_c=(-9.9, -9.9),
        cover=round_a_stem(0.08, "straw", 0.04), reads="wood",
        night=KOREA, assumed="trunk 8 cm, straw 4 cm, half clouded",
    ),
    Measured(
        name="foil mat round a kiwi trunk, night 1", source="Kwack 2014", outside_c=-10.2, inside_c=(-6.3, -6.3),
        cover=round_a_stem(0.08, "none", 0.01, blanket="bubble foil", cap="gathered"), reads="wood",
        night=KOREA, assumed="trunk 8 cm, half clouded",
    ),
    Measured(
        name="foil mat round a kiwi trunk, night 2", source="Kwack 2014", outside_c=-10.9, inside_c=(-2.6, -2.6),
        cover=round_a_stem(0.08, "none", 0.01, blanket="bubble foil", cap="gathered"), reads="wood",
        night=KOREA, assumed="trunk 8 cm, half clouded",
    ),
    Measured(
        name="wide plastic tunnel, film wet inside", source="Savage 1980", outside_c=-2.0, inside_c=(-0.7, -0.7),
        cover=Cover.model_validate({"name": "tunnel", "preset": "film alone", "film": "clear anti-drip",
                                    "inner_diameter_m": 6.0, "outer_diameter_m": 6.0, "height_m": 2.2, "wood_kg": 50}),
        night={"latitude_deg": 30.0, "soil": SiteSoil(mean_c=16.0, amplitude_c=6.0), "minima_c": (-1, -2, -2),
               "maxima_c": (15, 15, 15), "mild_c": (1, 16), "day_wind_m_s": 2.5}, assumed="as in the first note",
    ),
    Measured(
        name="plastic house, Hangzhou", source="2014 paper, single film", outside_c=0.0, inside_c=(2.0, 2.0),
        cover=Cover.model_validate({"name": "house", "preset": "film alone", "film": "clear anti-drip",
                                    "inner_diameter_m": 6.0, "outer_diameter_m": 6.0, "height_m": 2.5, "wood_kg": 50}),
        night={"latitude_deg": 30.0, "soil": SiteSoil(mean_c=17.0, amplitude_c=12.0), "minima_c": (1, 0, 0),
               "maxima_c": (10, 10, 10), "mild_c": (2, 11), "cloud": 0.5}, assumed="night of 0, half clouded",
    ),
    Measured(
        name="the same, double film", source="2014 paper, double film", outside_c=0.0, inside_c=(3.0, 3.0),
        cover=Cover.model_validate({"name": "house", "preset": "film alone", "film": "clear anti-drip",
                                    "second_film": True, "inner_diameter_m": 6.0, "outer_diameter_m": 6.0,
                                    "height_m": 2.5, "wood_kg": 50}),
        night={"latitude_deg": 30.0, "soil": SiteSoil(mean_c=17.0, amplitude_c=12.0), "minima_c": (1, 0, 0),
               "maxima_c": (10, 10, 10), "mild_c": (2, 11), "cloud": 0.5}, assumed="night of 0, half clouded",
    ),
    Measured(
        name="fleece in the field, spring", source="Oregon State, 1983-88", outside_c=6.7, inside_c=(8.0, 8.6),
        cover=tunnel(height_m=0.2, cap="gathered", wood_kg=1.0),
        night={"latitude_deg": 44.6, "soil": SiteSoil(mean_c=12.0, amplitude_c=8.0), "first_cold_day": 130,
               "minima_c": (6.7, 6.7, 6.7), "maxima_c": (18, 18, 18), "mild_c": (6.7, 18), "cloud": 0.5,
               "mild_cloud": 0.5}, assumed="mean of a spring, half clouded",
    ),
)  # fmt: skip
