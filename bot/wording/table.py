"""The outlook as a plain table for a terminal: each tree, each night, each state of its cover."""

from collections.abc import Sequence

from bot.wording.formats import Style, chance
from rules.outlook.garden_outlook import Outlook
from rules.wood.margins import Night, Tissue, TreeMargins


def outlook_table(outlook: Outlook, style: Style, doubts: Sequence[str]) -> str:
    """Every number of the outlook a person may want to see, with its unit named once above."""
    lines = [
        f"{_head(outlook, style)} Temperatures in {'°F' if style.fahrenheit else '°C'}.",
        "Field and tree: lowest air of the night. Then for each state of the cover what the wood would feel,",
        "its tip in brackets, ± one standard deviation of what is unknown besides the forecast, chance too cold.",
    ]
    for one in outlook.trees:
        lines += ["", *_tree(one, style)]
    return "\n".join([*lines, "", *_acts(outlook, style), *doubts])


def _head(outlook: Outlook, style: Style) -> str:
    since = outlook.issued_utc or outlook.fetched_utc
    local = outlook.now.astimezone(style.zone)
    moment = f"{local:%a} {local.day} {local:%b %Y}, {style.clock(outlook.now)}"
    if since is None:
        return f"{moment}, no forecast."
    return f"{moment}, forecast of {style.day(since, outlook.now)} {style.clock(since)} ({outlook.service})."


def _tree(one: TreeMargins, style: Style) -> list[str]:
    wood = one.hardiness
    numbers = f"safe to {style.degrees(wood.lt10_c, tenths=True)} ± {style.step(wood.sd_c)} ({wood.source})"
    state = one.state.value if one.state else "cover not told, taken as off"
    head = f"{one.tree.name}: {one.tree.species}, {one.tree.standing}, {state}, {wood.phase}, {numbers}"
    return [head, *(_night(night, style) for night in one.nights)] if one.nights else [head, "  no nights known"]


def _night(night: Night, style: Style) -> str:
    def shown(celsius: float) -> str:
        return f"{style.degrees(celsius, tenths=True, unit=False):>6}"

    name = f"{night.evening:%a} {night.evening.day:>2}" + ("" if night.complete else "*")
    states = "  ".join(f"{state.value} {_tissue_c(one, style)}" for state, one in night.tissue.items())
    return f"  {name:<7} field {shown(night.field_c)}  tree {shown(night.air_c)}  {states}"


def _tissue_c(tissue: Tissue, style: Style) -> str:
    wood = style.degrees(tissue.wood_c, tenths=True, unit=False)
    tip = style.degrees(tissue.top_c, tenths=True, unit=False)
    return f"{wood:>6} ({tip}) ± {style.step(tissue.sd_c).split()[0]}, {chance(tissue.chance)}"


def _acts(outlook: Outlook, style: Style) -> list[str]:
    if not outlook.acts:
        return ["Nothing is due."]
    return [
        f"{style.day(act.by_utc, outlook.now)} by {style.clock(act.by_utc)}: {act.tree} {act.kind}, "
        f"{act.reason}, saves {act.saves_trips:.1f} for {act.price_trips:.1f} trips, "
        f"{chance(act.chance)} too cold without, {chance(act.chance_after)} with"
        for act in outlook.acts
    ]
