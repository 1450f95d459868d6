"""A covered tree and its bare twin compared, with what one pair can and cannot show."""

from dataclasses import dataclass
from math import ceil
from statistics import NormalDist
from typing import Final

import numpy as np

from rules.learning.tree_hardiness import EYE_SD, SEEN_SHARE, Outcome

TREE_SD_C: Final = 1.0  # 1 sd by which the thresholds of one tree lie off those of its name; assumed, no source
SURE: Final = 0.05  # a difference that luck alone brings less often than this is called shown


@dataclass(frozen=True, kw_only=True)
class TwinVerdict:
    """What one pair shows of its cover.

    `worth_c` is by how much warmer [°C] the covered twin's wood lived, as the damage tells it, with `worth_sd_c`; None
    where the pair shows nothing: both unhurt, or both dead. `expected_c` is what the heat model held. `by_luck` is the
    chance that two trees without any cover differ this much; `pairs_needed` how many such pairs would make it plain.
    """

    covered: Outcome
    bare: Outcome
    worth_c: float | None
    worth_sd_c: float | None
    expected_c: float
    by_luck: float
    pairs_needed: int | None

    @property
    def is_shown(self) -> bool:
        """Whether luck alone is an unlikely reason."""
        return self.by_luck < SURE

    @property
    def at_least(self) -> bool:
        """Whether the worth is a lower bound: one twin unhurt, or one dead to the ground."""
        return self.worth_c is not None and (_at_end(self.covered.lost) or _at_end(self.bare.lost))


def compare_twins(covered: Outcome, bare: Outcome) -> TwinVerdict:
    """One pair's outcomes of the same winter side by side.

    Raises
    ------
    ValueError
        The two are not of one night, or not of one dose curve: then nothing can be compared.

    Notes
    -----
    On the scale of the dose curve two trees differ by the cover's degrees, by how the trees themselves differ, and by
    the eye that judged them. One pair cannot tell the three apart; it can only say how often the last two alone would
    bring as much.
    """
    if covered.evening != bare.evening:
        raise ValueError(f"twins must be judged by one night, got {covered.evening} and {bare.evening}")
    if abs(covered.width_c - bare.width_c) > 0.5 * bare.width_c:
        raise ValueError(f"twins must share one dose curve, got widths {covered.width_c:.1f} and {bare.width_c:.1f} °C")
    width_c, normal = bare.width_c, NormalDist()
    expected_c = covered.tissue_c - bare.tissue_c
    sd_c = float(np.sqrt(2 * (TREE_SD_C**2 + (EYE_SD * width_c) ** 2)))
    if _at_end(covered.lost) and _at_end(bare.lost) and abs(covered.lost - bare.lost) < 0.5:
        return TwinVerdict(
            covered=covered, bare=bare, worth_c=None, worth_sd_c=None, expected_c=expected_c, by_luck=1.0,
            pairs_needed=None,
        )  # fmt: skip
    worth_c = width_c * (normal.inv_cdf(_seen(bare.lost)) - normal.inv_cdf(_seen(covered.lost)))
    return TwinVerdict(
        covered=covered,
        bare=bare,
        worth_c=worth_c,
        worth_sd_c=sd_c,
        expected_c=expected_c,
        by_luck=1 - normal.cdf(worth_c / sd_c),
        pairs_needed=ceil((normal.inv_cdf(1 - SURE) * sd_c / worth_c) ** 2) if worth_c > 0 else None,
    )


def _seen(lost: float) -> float:
    return min(max(lost, SEEN_SHARE), 1 - SEEN_SHARE)


def _at_end(lost: float) -> bool:
    return lost < SEEN_SHARE or lost > 1 - SEEN_SHARE
