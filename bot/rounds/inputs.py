"""What a garden's outlook stands on, and how its people want to be told: the garden file and the logbook as values."""

from bot.nudges import Quiet
from bot.rounds.gathering import RoundInputs
from bot.settings import Garden
from bot.wording.formats import Style
from rules.garden.cover import Cover
from rules.learning import learn_site, read_inside
from rules.outlook.inputs import OutlookInputs
from rules.site.microclimate import PRIORS, SiteOffset


def inputs_of(garden: Garden, round_inputs: RoundInputs) -> OutlookInputs:
    """What an outlook stands on, from the garden file and the logbook."""
    return OutlookInputs(
        site=garden.site,
        trees=garden.trees_tended,
        covers=garden.covers,
        forecast=round_inputs.forecast,
        past=round_inputs.past,
        records=round_inputs.records,
        doubts=round_inputs.doubts,
        climate=round_inputs.climate,
        away=round_inputs.away,
        refused=round_inputs.refused,
        offsets=_offsets(garden, round_inputs),
        covers_read=_covers_read(garden, round_inputs),
        forecast_error=round_inputs.service,
        accepted=round_inputs.accepted,
        free=garden.free,
        asked=round_inputs.asked,
    )


def _offsets(garden: Garden, round_inputs: RoundInputs) -> dict[str, SiteOffset]:
    """What is held of the air at each tree from readings there, and from those inside its cover."""
    found = {name: one for name, one in round_inputs.learned.items() if one.readings}
    for tree in garden.trees:
        if (inside := round_inputs.inside.get(tree.name)) is not None:
            before = found.get(tree.name) or learn_site([], PRIORS[tree.standing])
            found[tree.name] = read_inside(before, inside.air_shift_c, inside.air_left)
    return {name: one.offset for name, one in found.items()}


def _covers_read(garden: Garden, round_inputs: RoundInputs) -> dict[str, Cover]:
    covers = {tree.name: garden.covers[tree.cover] for tree in garden.trees if tree.cover}
    return {name: one.read(covers[name]) for name, one in round_inputs.inside.items() if name in covers}


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
