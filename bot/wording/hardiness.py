"""The sentences about what wood can take: all trees in a list, one tree organ by organ."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from bot.wording.covers.words import stands_words
from bot.wording.dead_wood import dead_in_words
from bot.wording.formats import Style, sentence
from bot.wording.why import SOURCE
from rules.garden.species import Organ
from rules.garden.tree import Phase, Purpose
from rules.outlook.garden_outlook import Outlook
from rules.wood.hardiness import Hardiness
from rules.wood.margins import TreeMargins

CHILL_TOLD = (Phase.HARDENING, Phase.RESTING, Phase.WAKING)
HALF_AN_HOUR_MIN = 30
WHERE = {Organ.ROOTS: " (by the soil's temperature)"}


def tree_list(outlook: Outlook, style: Style) -> str:
    """The trees by number: how each stands, its phase, what it can take."""
    return "\n".join(f"{n}. {_tree(one, style)}" for n, one in enumerate(outlook.trees, start=1))


def _tree(one: TreeMargins, style: Style) -> str:
    give = ", to give away" if one.tree.purpose == Purpose.GIVE_AWAY else ""
    return f"{one.tree.name}: {stands(one)}, {_phase_and_safe_to(one, style)}{give}"


def _phase_and_safe_to(one: TreeMargins, style: Style) -> str:
    wood = one.hardiness
    dead = dead_in_words(wood.lost)
    return dead or f"{wood.phase}, safe to {style.degrees(wood.lt10_c)} ± {style.step(wood.sd_c).split()[0]}"


def stands(one: TreeMargins) -> str:
    """How the cover of a tree stands, in words."""
    if one.tree.left_bare:
        return "bare on purpose"
    if one.cover is None:
        return "no cover"
    return stands_words(one.cover, one.state) if one.state else "cover unknown"


def tree_states(
    trees: Sequence[TreeMargins], told: Mapping[str, tuple[datetime, str]], style: Style, now: datetime
) -> str:
    """How some trees stand, since when, and who told it: the answer to "did I close porch?".

    `told` has, by tree, when what was told last of its cover was so, and the person who told it.
    """
    lines = []
    for one in trees:
        at_utc, person = told.get(one.tree.name, (None, ""))
        since = f" since {style.day(at_utc, now)} {style.clock(at_utc)} ({person})" if at_utc else ""
        lines.append(f"{one.tree.name}: {stands(one)}{since}; {_phase_and_safe_to(one, style)}.")
    return "\n".join(lines)


def how_hard(one: TreeMargins, style: Style) -> str:
    """What each organ of a tree can take, how sure, where it is from, its phase and its chill."""
    wood = one.hardiness
    lines = [
        f"{one.tree.name} is {wood.phase}. {_chill(wood)}".strip(),
        *_organs(wood, style),
        _stage(wood, style),
        _source(wood, style),
        _own_numbers(one, style),
    ]
    return "\n".join(line for line in lines if line)


def _chill(wood: Hardiness) -> str:
    if wood.phase not in CHILL_TOLD:
        return ""
    return "Its chill is met: warm days wake it now." if wood.chill_met else "Its chill is not met yet."


def _organs(wood: Hardiness, style: Style) -> list[str]:
    """The watched organ first; organs that are safe to the same are told together."""
    told: dict[tuple[str, str, str], list[str]] = {}
    for organ in sorted(wood.organs, key=lambda organ: organ is not wood.watched):
        found = wood.organs[organ]
        key = (style.degrees(found.lt10_c), style.degrees(found.lt50_c), WHERE.get(organ, ""))
        told.setdefault(key, []).append(str(organ))
    return [
        f"{sentence(' and '.join(organs)).rstrip('.')}{where}: a tenth is lost at {tenth}, half at {half}."
        for (tenth, half, where), organs in told.items()
    ]


def _stage(wood: Hardiness, style: Style) -> str:
    """What the published table says of the buds at their stage, in the words of who stands before the tree."""
    if wood.stage is None:
        return ""
    row, critical = wood.stage.row, wood.stage.row.critical
    known = "as you told me" if wood.stage.seen else "by the model, give or take a stage"
    most = f", {style.degrees(critical.t90_c)} nine in ten" if critical.t90_c is not None else ""
    lasting = "half an hour" if row.minutes == HALF_AN_HOUR_MIN else f"{row.minutes} minutes"
    tenth = style.degrees(critical.t10_c)
    return f"Buds: {row.stage} ({known}). For {lasting}, {tenth} takes one in ten of them{most}."


def _source(wood: Hardiness, style: Style) -> str:
    source, spread = sentence(SOURCE[wood.source]).rstrip("."), style.step(wood.sd_c)
    return f"{source} ({wood.label}), ± {spread}, air beside the stem."


def _own_numbers(one: TreeMargins, style: Style) -> str:
    own = [f"{phase} {style.degrees(lt10_c)}" for phase, lt10_c in one.tree.safe_to_c.items()]
    return f"Your own numbers: {', '.join(own)}." if own else ""
