"""What to beware of: which cautions of a job concern a tree, and those of acts of the plan."""

from collections.abc import Iterable

from rules.garden.records import DeedKind
from rules.garden.supplies import cages
from rules.jobs.facts import Facts, GardenFacts
from rules.jobs.nouns import Caution
from rules.jobs.seasons import covering
from rules.plan.garden_plan import Act


def cautions_of(acts: Iterable[Act], garden: GardenFacts) -> list[Caution]:
    """What to beware of in these acts of the plan, in the order of `Caution`; a tree the garden lacks has none."""
    meant: set[Caution] = set()
    known = {one.tree.name: one for one in garden.trees}
    for act in acts:
        if (one := known.get(act.tree)) and act.kind is not DeedKind.BLANKETED:
            facts = Facts(garden=garden, one=one, year=garden.year_of(garden.today))
            rule = next(rule for rule in covering.RULES if rule.kind is covering.kind_of(act, one.phase))
            meant |= {caution for caution in rule.cautions if fits(caution, facts)}
    return [caution for caution in Caution if caution in meant]


def fits(caution: Caution, facts: Facts) -> bool:
    """Whether a caution concerns this tree: no sap without a fig, no dust without straw, no lines without stakes."""
    if caution is Caution.FIG_SAP:
        return facts.species == "fig"
    if caution in (Caution.STRAW_DUST, Caution.NO_HEAT, Caution.DAMP_STRAW):
        return facts.has_loose_fill
    if caution is Caution.HERBICIDE:
        return facts.has_straw
    if caution is Caution.BURIED_LINES:
        return facts.takes_stakes
    if caution is Caution.STAKE_ENDS:
        return facts.cover is not None and bool(cages(facts.cover))
    if caution is Caution.TWO_PEOPLE:
        return facts.is_mound
    return True
