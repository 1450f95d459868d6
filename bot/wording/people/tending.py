"""The sentences about whose way covers are tended, when somebody can work, and whether a cover can stay shut."""

from collections.abc import Mapping, Sequence

from bot.wording.formats import Style, names
from rules.garden.materials import Fill, Film
from rules.garden.tree import Phase, Tending
from rules.plan.grower.free_hours import ALL_DAY, DAYS
from rules.plan.grower.way_price import WayPrice
from rules.wood.margins import TreeMargins

Price = WayPrice | None
HARDLY = 0.25  # trips a winter below which a price is not told; no source
LITTLE_WOOD = 0.02  # and share of the wood
FEW_LEAVES = 0.1  # share of them from which on a tree counts as in leaf; assumed
WAYS = {
    Tending.FEWEST_TRIPS: "I ask for the fewest trips that the wood is worth",
    Tending.EARLY: "one opening from mid-March, shut for nights the wood does not bear, off after the last frost",
    Tending.AS_TAUGHT: "open top while it hardens, open in warm spells, shut before each frost, off in June or when "
    "you say so",
}


def way_chosen(tending: Tending, trees: Sequence[str], prices: Sequence[str]) -> str:
    """That the way is followed from now on, what it is, and its price, told this once."""
    whose = names(list(trees)) if trees else "All covers"
    told = [line for line in prices if line]
    lines = [f"{whose}: {tending}. That is: {WAYS[tending]}."]
    lines += [*told, "I follow it from now on, and won't argue."] if tending is not Tending.FEWEST_TRIPS else []
    return "\n".join(lines)


def way_followed(tending: Tending, prices: Sequence[str]) -> str:
    """What a way that the garden file chose costs, told with the first ask that follows it."""
    return "\n".join([f"Told once: you tend {tending} ({WAYS[tending]}).", *prices, "I follow it, and won't argue."])


def price_line(tree: str, price: Price) -> str:
    """What the way costs one tree more than the fewest trips, by past winters; empty where nobody can tell."""
    if price is None:
        return ""
    trips = f"about {price.trips:.1f} trips a winter more" if price.trips >= HARDLY else "hardly a trip more"
    wood = ""
    if abs(price.lost) >= LITTLE_WOOD:
        wood = f", and {abs(price.lost):.0%} {'more' if price.lost > 0 else 'less'} of its wood lost in a mean winter"
    return f"By past winters that is {trips} for {tree}{wood or ', and no more wood lost'}."


def hours_chosen(hours: Mapping[str, str]) -> str:
    """On which days, at which hours somebody can work."""
    days = [day for day in DAYS if day in hours]
    span = hours[days[0]]
    when = "" if span == ALL_DAY else f", {_span(span)}"
    return (
        f"Noted: you can work on {names([f'{day.capitalize()}s' for day in days])}{when}. "
        'I plan each job for such a time. "Any time" undoes it.'
    )


def _span(span: str) -> str:
    first, last = span.split("-")
    return f"from {first} on" if not last else f"until {last}" if first == "0:00" else f"{first} to {last}"


def any_time() -> str:
    """That nothing is left out any more."""
    return "Noted: you can work on any day while it is light."


def stay_shut(one: TreeMargins) -> str:
    """Whether one tree's cover can stay shut, with what is known and what is not."""
    cover = one.cover
    opaque = cover is None or cover.film in (Film.NONE, Film.WHITE) or cover.fill is not Fill.NONE
    leaves = one.hardiness.ahead.wood.leaves[-1] if one.hardiness.ahead else 0.0
    if one.hardiness.phase is Phase.GROWING:
        return "No: its buds have broken. Shoots in the dark grow pale; take it off once no frost is told."
    if leaves >= FEW_LEAVES and one.hardiness.phase in (Phase.RIPENING, Phase.HARDENING):
        return "Not while it has leaves: shut in they rot. Leave the top off until they are down or a frost comes."
    if not opaque:
        return (
            "Film is another matter: in sun it gets far too warm inside and wakes the tree. Open it on sunny days, "
            "or hang something opaque over it."
        )
    return (
        "Yes: dry, leafless wood is well in the dark (figs winter in cellars and garages). Opening would bring leaves "
        "about a week sooner, for two trips more. Seen mould, or a thermometer inside far above the air? Then open it."
    )


def too_warm_inside(tree: str, warmer_c: float, style: Style) -> str:
    """What a thermometer inside settles in spring."""
    return (
        f"By day that is {style.step(warmer_c)} warmer than I reckon inside: so {tree} wakes early. Open it; I ask to "
        "shut it before a night it does not bear."
    )
