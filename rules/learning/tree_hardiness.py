"""What a winter's outcome teaches of one tree's hardiness: dieback, or none, against the cold its wood felt."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.species import SpeciesRow
from rules.garden.tree import Phase
from rules.wood.injury import dose_width_c, normal_share

Floats = npt.NDArray[np.float64]

SEEN_SHARE: Final = 0.05  # less dieback than this is "no damage", and above 1 - this "all dead"; assumed
TISSUE_SD_C: Final = 1.5  # of the coldest the wood felt, where it was not measured inside the cover; assumed
EYE_SD: Final = 0.4  # of a share told by eye, in sd of the dose curve (30 % for 20 or 43 %); assumed, no source
ODD_SHARE: Final = 0.1  # winters whose outcome has another cause: voles, drought, a night not seen; assumed
LEAST_SD_C: Final = 0.5  # assumed: wood of one tree differs by this from year to year
ONE_WINTER_C: Final = 1.5  # furthest one winter's outcome may lower what a tree is held to be safe to; assumed
REACH_SD: Final = 5.0
POINTS: Final = 401


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What one winter, or one cold spell, left of one tree's wood.

    Parameters
    ----------
    tree, evening, phase
        Which tree; the night that did it, or would have: the one furthest below the LT10; its phase then.
    tissue_c
        Coldest the wood felt in it [°C], inside its cover.
    lt10_c, lt50_c
        What the model, without anything learned, held for that night: 10 and 50 % injury [°C].
    lost
        Share of the live wood lost [0-1]; 0 is "no damage", 1 "dead to the ground".
    tissue_sd_c
        One sd of `tissue_c` [°C].

    Raises
    ------
    ValueError
        A share outside 0-1.
    """

    tree: str
    evening: date
    phase: Phase
    tissue_c: float
    lt10_c: float
    lt50_c: float
    lost: float
    tissue_sd_c: float = TISSUE_SD_C

    def __post_init__(self) -> None:
        if not 0 <= self.lost <= 1:
            raise ValueError(f"lost is {self.lost:g}, the share of wood lost must be 0 to 1")

    @property
    def width_c(self) -> float:
        """Width of the dose curve [°C]."""
        return dose_width_c(self.lt10_c, self.lt50_c)

    @property
    def shows_c(self) -> float:
        """Shift of both thresholds [°C] that would explain the outcome exactly; below 0 is hardier.

        Of "no damage" the smallest change that would, of "all dead" likewise.
        """
        seen = min(max(self.lost, SEEN_SHARE), 1 - SEEN_SHARE)
        return self.tissue_c + self.width_c * NormalDist().inv_cdf(seen) - self.lt50_c


@dataclass(frozen=True, kw_only=True)
class LearnedHardiness:
    """Shift of one tree's 10 and 50 % points in one phase [°C], below 0 hardier, and 1 sd of it.

    `prior_sd_c` is the table's own; `outcomes` how many winters taught; `odd` those whose outcome looks to have had
    another cause; `other_phase` how many were of another time of the tree's year and did not count.
    """

    phase: Phase
    shift_c: float
    sd_c: float
    prior_sd_c: float
    outcomes: int
    odd: tuple[Outcome, ...]
    other_phase: int


def learn_hardiness(outcomes: Sequence[Outcome], row: SpeciesRow, phase: Phase) -> LearnedHardiness:
    """How much hardier or more tender one tree is than its row of the species table, in one phase.

    Parameters
    ----------
    outcomes
        Of this tree. Those of other phases do not count: what wood can take at rest says nothing of it waking.
    row, phase
        Its row, for the prior's spread; the phase asked about.

    Notes
    -----
    Grid Bayes over the shift. The share lost, on the scale of the normal dose curve, is the predicted one plus normal
    errors of the felt cold and of the eye; "no damage" and "all dead" are censored: they say only which side. So
    survival of a mild night teaches nothing. A share of outcomes may have had another cause. Never is a tree called
    hardier than the furthest beyond its thresholds it was seen to come through, nor by more than 1.5 °C for one winter;
    the other way nothing holds it back.
    """
    known = sorted((one for one in outcomes if one.phase is phase), key=lambda one: one.evening)
    prior_sd_c = row_sd_c(row, phase)
    shift = np.linspace(-REACH_SD, REACH_SD, POINTS) * prior_sd_c
    chance = np.exp(-0.5 * (shift / prior_sd_c) ** 2)
    told_c, hardiest_c = 0.0, 0.0
    for one in known:
        chance = chance * ((1 - ODD_SHARE) * _likelihood(one, shift) + ODD_SHARE * _by_another_cause(one))
        hardiest_c = min(hardiest_c, one.shows_c)
        told_c = max(float(chance @ shift / chance.sum()), told_c - ONE_WINTER_C, hardiest_c)
    chance /= chance.sum()
    sd_c = float(np.sqrt(chance @ (shift - chance @ shift) ** 2))
    return LearnedHardiness(
        phase=phase,
        shift_c=told_c,
        sd_c=max(sd_c, LEAST_SD_C),
        prior_sd_c=prior_sd_c,
        outcomes=len(known),
        odd=tuple(one for one in known if _is_odd(one, shift, chance)),
        other_phase=len(outcomes) - len(known),
    )


def row_sd_c(row: SpeciesRow, phase: Phase) -> float:
    """Spread of the row's thresholds in a phase [°C], sliding with the threshold from green tissue to wood at rest."""
    return float(row.sd_c(row.lt50_c(phase)))


def _likelihood(one: Outcome, shift: Floats) -> Floats:
    """Chance (censored) or density (seen share) of an outcome at each shift."""
    sd = float(np.hypot(EYE_SD, one.tissue_sd_c / one.width_c))
    predicted = (one.lt50_c + shift - one.tissue_c) / one.width_c
    edge = NormalDist().inv_cdf(SEEN_SHARE)
    if one.lost < SEEN_SHARE:
        return normal_share((edge - predicted) / sd)
    if one.lost > 1 - SEEN_SHARE:
        return normal_share((predicted + edge) / sd)
    z = (NormalDist().inv_cdf(one.lost) - predicted) / sd
    density: Floats = np.exp(-0.5 * z**2) / (sd * np.sqrt(2 * np.pi))
    return density


def _by_another_cause(one: Outcome) -> float:
    """The same of an outcome that cold did not make: any share alike, in the measure of `_likelihood`."""
    if one.lost < SEEN_SHARE or one.lost > 1 - SEEN_SHARE:
        return SEEN_SHARE
    z = NormalDist().inv_cdf(one.lost)
    return float(np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi))


def _is_odd(one: Outcome, shift: Floats, chance: Floats) -> bool:
    cold = (1 - ODD_SHARE) * float(chance @ _likelihood(one, shift))
    return cold < ODD_SHARE * _by_another_cause(one)
