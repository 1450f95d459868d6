"""What a garden's outlook stands on, and how its people want to be told: the garden file and the logbook as values."""

from bot.nudges import Quiet
from bot.rounds.gathering import Inputs
from bot.settings import Garden
from bot.wording.formats import Style
from rules.garden.cover import Cover
from rules.learning import learn_site, read_inside
from rules.outlook.inputs import Ground
from rules.site.microclimate import PRIORS, SiteOffset
from rules.weather.members import unbiased


def ground_of(garden: Garden, inputs: Inputs) -> Ground:
    """What an outlook stands on, from the garden file and the logbook."""
    return Ground(
        site=garden.site,
        trees=garden.trees,
        covers=garden.covers,
        forecast=unbiased(inputs.forecast, inputs.service) if inputs.forecast else None,
        past=inputs.past,
        records=inputs.records,
        doubts=inputs.doubts,
        climate=inputs.climate,
        away=inputs.away,
        offsets=_offsets(garden, inputs),
        covers_read=_covers_read(garden, inputs),
        forecast_error=inputs.service,
        accepted=inputs.accepted,
    )


def _offsets(garden: Garden, inputs: Inputs) -> dict[str, SiteOffset]:
    """What is held of the air at each tree from readings there, and from those inside its cover."""
    found = {name: one for name, one in inputs.learned.items() if one.readings}
    for tree in garden.trees:
        if (inside := inputs.inside.get(tree.name)) is not None:
            before = found.get(tree.name) or learn_site([], PRIORS[tree.standing])
            found[tree.name] = read_inside(before, inside.air_shift_c, inside.air_left)
    return {name: one.offset for name, one in found.items()}


def _covers_read(garden: Garden, inputs: Inputs) -> dict[str, Cover]:
    covers = {tree.name: garden.covers[tree.cover] for tree in garden.trees if tree.cover}
    return {name: one.read(covers[name]) for name, one in inputs.inside.items() if name in covers}


def style_of(garden: Garden) -> Style:
    """The grower's units, clock and zone."""
    units = garden.units
    return Style(
        zone=garden.site.zone, fahrenheit=units.fahrenheit, wind=units.wind, length=units.length,
        decimal_comma=units.decimal == "comma",
    )  # fmt: skip


def quiet_of(garden: Garden) -> Quiet:
    """The hours in which nothing is sent."""
    return Quiet(start=garden.quiet_from, end=garden.quiet_until, zone=garden.site.zone)
