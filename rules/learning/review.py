"""The season looked back on: what was said, what came, what was done, and what to hold next autumn."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np

from rules.garden.records import Deed
from rules.garden.tree import Phase
from rules.learning.tree_hardiness import LearnedHardiness, Outcome
from rules.wood.hardiness import Hardiness

WARNED_CHANCE: Final = 0.2  # from this chance of harm on a night counts as one we warned of; assumed
ONE_TRIP: Final = timedelta(hours=1)  # deeds no further apart than this were one trip to the garden
WORTH_SAYING_C: Final = 0.5  # smaller shifts of a threshold are not proposed; assumed


@dataclass(frozen=True, kw_only=True)
class NightLookedBackOn:
    """One night at one tree: the low that was forecast the evening before, the low that came [°C], and the chance of
    harm that was told [0-1], with whether the wood did get colder than it was held to be safe to."""

    tree: str
    evening: date
    forecast_c: float
    came_c: float
    chance: float
    too_cold: bool


@dataclass(frozen=True, kw_only=True)
class WouldHave:
    """What another way would have cost this season: trips to the garden, and share of wood lost by tree [0-1]."""

    way: str
    trips: float
    lost: Mapping[str, float]


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """A threshold to hold from next autumn: what the tree can take at `phase`, before and after [°C], and why."""

    tree: str
    phase: Phase
    lt10_before_c: float
    lt10_after_c: float
    sd_c: float
    outcomes: int

    @property
    def key(self) -> str:
        """Its name for the answer: accepted or refused."""
        return f"{self.tree}:{self.phase}"

    @property
    def shift_c(self) -> float:
        """Change of the threshold [°C]; below 0 the tree is held to be hardier."""
        return self.lt10_after_c - self.lt10_before_c


@dataclass(frozen=True, kw_only=True)
class TreeSeason:
    """One tree's season: share of wood expected lost, what was lost (None: nobody has said), nights too cold."""

    tree: str
    expected_lost: float
    lost: float | None
    nights_too_cold: int


@dataclass(frozen=True, kw_only=True)
class SeasonReview:
    """One season of one garden.

    `bias_c` and `rms_c` [°C] are forecast minus came over `nights`; `warned` nights had a chance of harm of 1 in 5 or
    more, `warned_cold` of them were too cold; `unwarned_cold` were too cold unwarned; `expected_cold` is the sum of the
    chances told: what the count of cold ones should have been. `trips` were made.
    """

    nights: int
    bias_c: float | None
    rms_c: float | None
    warned: int
    warned_cold: int
    unwarned_cold: int
    expected_cold: float
    trips: int
    trees: tuple[TreeSeason, ...]
    would_have: tuple[WouldHave, ...]
    proposals: tuple[Proposal, ...]


def season_review(
    nights: Sequence[NightLookedBackOn],
    deeds: Sequence[Deed],
    outcomes: Sequence[Outcome],
    expected_lost: Mapping[str, float],
    proposals: Sequence[Proposal] = (),
    would_have: Sequence[WouldHave] = (),
) -> SeasonReview:
    """The review of one season.

    Parameters
    ----------
    nights
        Every night at every tree for which a forecast was kept.
    deeds, outcomes
        Of the season.
    expected_lost
        Share of wood the plan expected to lose, by tree; its keys are the trees of the review.
    proposals
        From `proposed`.
    would_have
        What the plan with what is now known, or other ways, would have cost: reckoned elsewhere.
    """
    off = np.array([night.forecast_c - night.came_c for night in nights])
    warned = [night for night in nights if night.chance >= WARNED_CHANCE]
    told = {one.tree: one.lost for one in sorted(outcomes, key=lambda one: one.lost)}
    return SeasonReview(
        nights=len(nights),
        bias_c=float(off.mean()) if len(off) else None,
        rms_c=float(np.sqrt((off**2).mean())) if len(off) else None,
        warned=len(warned),
        warned_cold=sum(night.too_cold for night in warned),
        unwarned_cold=sum(night.too_cold for night in nights) - sum(night.too_cold for night in warned),
        expected_cold=sum(night.chance for night in nights),
        trips=trips(deeds),
        trees=tuple(
            TreeSeason(
                tree=tree,
                expected_lost=share,
                lost=told.get(tree),
                nights_too_cold=sum(night.too_cold for night in nights if night.tree == tree),
            )
            for tree, share in expected_lost.items()
        ),
        would_have=tuple(would_have),
        proposals=tuple(proposals),
    )


def trips(deeds: Sequence[Deed]) -> int:
    """Trips to the garden: deeds no more than an hour after the one before belong to the same one."""
    times = sorted(deed.at_utc for deed in deeds)
    return sum(i == 0 or time - times[i - 1] > ONE_TRIP for i, time in enumerate(times))


def proposed(
    learned: Mapping[str, Sequence[LearnedHardiness]], lt10_c: Mapping[tuple[str, Phase], float]
) -> tuple[Proposal, ...]:
    """Thresholds worth changing by half a degree or more, by tree; `lt10_c` are those held now [°C]."""
    return tuple(
        Proposal(
            tree=tree,
            phase=one.phase,
            lt10_before_c=lt10_c[tree, one.phase],
            lt10_after_c=lt10_c[tree, one.phase] + one.shift_c,
            sd_c=one.sd_c,
            outcomes=one.outcomes,
        )
        for tree, found in learned.items()
        for one in found
        if one.outcomes and abs(one.shift_c) >= WORTH_SAYING_C
    )


def shifted(found: Hardiness, learned: LearnedHardiness) -> Hardiness:
    """What a tree can take tonight with an accepted shift; as it was in any other phase.

    The spread of the table gives way to what is left of it; doubts about past weather stay.
    """
    if learned.phase is not found.phase or not learned.outcomes:
        return found
    lt10_c, lt50_c = found.lt10_c + learned.shift_c, found.lt50_c + learned.shift_c
    rest_c2 = max(found.sd_c**2 - learned.prior_sd_c**2, 0.0)
    watched = replace(found.organs[found.watched], lt10_c=lt10_c, lt50_c=lt50_c)
    return replace(
        found,
        lt10_c=lt10_c,
        lt50_c=lt50_c,
        sd_c=float(np.sqrt(rest_c2 + learned.sd_c**2)),
        organs={**found.organs, found.watched: watched},
    )
