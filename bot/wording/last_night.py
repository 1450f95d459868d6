"""The sentences about the night just past."""

from collections.abc import Mapping

from bot.wording.formats import Style
from rules.outlook.last_night import NightBehind, TreeNight
from rules.wood.hardiness import Hardiness

UNKNOWN = "I know no hours of last night here: the weather service told none, or I was not running."


def last_night(night: NightBehind, hardiness: Mapping[str, Hardiness], style: Style) -> str:
    """One line for the open, one a tree."""
    head = f"Last night: {style.degrees(night.air.air_c)} in the open near {style.round_clock(night.air.at_utc)}, "
    head += f"as the weather service has it{'' if night.air.complete else ', which lacks some of its hours'}."
    trees = [_tree(one, hardiness.get(one.tree.name), style) for one in night.trees]
    return "\n".join([f"{head} As its cover stood, the wood felt about:" if trees else head, *trees])


def _tree(one: TreeNight, hardiness: Hardiness | None, style: Style) -> str:
    said = f"{one.tree.name} {style.degrees(one.wood.air_c)}"
    if hardiness is not None:
        safe = style.degrees(hardiness.lt10_c, unit=False)
        said += (
            f", colder than the {safe} it is safe to"
            if one.wood.air_c < hardiness.lt10_c
            else f"; it is safe to {safe}"
        )
    lowest_c = min((reading.air_c for reading in one.readings), default=None)
    read = f" You read {style.degrees(lowest_c, tenths=True)} beside it." if lowest_c is not None else ""
    return f"{said}.{read}"
