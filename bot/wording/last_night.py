"""The sentences about the night just past."""

from collections.abc import Mapping

from bot.wording.formats import Style
from rules.hardiness import Hardiness
from rules.night_behind import NightBehind, TreeNight

UNKNOWN = "I know no hours of last night here: the weather service told none, or I was not running."


def last_night(night: NightBehind, bears: Mapping[str, Hardiness], style: Style) -> str:
    """One line for the open, one a tree."""
    part = "" if night.air.complete else " I do not know all of its hours."
    head = f"Last night: {style.degrees(night.air.air_c)} in the open near {style.round_clock(night.air.at_utc)}, "
    head += f"as the weather service has it.{part}"
    return "\n".join([head, *(_tree(one, bears.get(one.tree.name), style) for one in night.trees)])


def _tree(one: TreeNight, bears: Hardiness | None, style: Style) -> str:
    said = f"{one.tree.name}: the wood felt about {style.degrees(one.wood.air_c)} as its cover stood"
    if bears is not None:
        turn = "colder than" if one.wood.air_c < bears.bears_c else "within"
        said += f", {turn} the {style.degrees(bears.bears_c)} it bears"
    lowest_c = min((reading.air_c for reading in one.readings), default=None)
    read = f" You read {style.degrees(lowest_c, tenths=True)} beside it." if lowest_c is not None else ""
    return f"{said}.{read}"
