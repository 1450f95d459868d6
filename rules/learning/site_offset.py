"""What a tree's own thermometer teaches of its air at night."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.records import Place, Reading
from rules.garden.tree import Standing, Tree
from rules.learning.pairs import Pair, SetAside, Sky, Why, counted
from rules.learning.robust_line import robust_line
from rules.site.microclimate import PRIORS, SiteOffset

Floats = npt.NDArray[np.float64]

OUTSIDE_SD_C: Final = PRIORS[Standing.OPEN].sd_c(1.0)  # 1 sd of a tree's own air on a clear calm night, before readings
NIGHT_CORRELATION: Final = 0.21  # of the error from one night to the next, NWS minima, ten US valleys (computed)
NIGHT_COUNTS: Final = (1 - NIGHT_CORRELATION) / (1 + NIGHT_CORRELATION)  # share of an independent night each is worth
LEAST_SD_C: Final = 0.3  # no thermometer is trusted further than its own calibration; assumed
SCALE_SD: Final = 0.4  # of ln of the noise: stations differ by 0.22 (ten US valleys, computed), fields told by more
WILD: Final = 0.5
SLIP_FITS_SD: Final = 2.0  # how near a reading must come, its slip undone, for the slip to be named; assumed
SUN_WARMER_C: Final = 3.0  # assumed


@dataclass(frozen=True, kw_only=True, eq=False)
class LearnedOffset:
    """A tree's offset from the open field after its readings.

    `offset` goes into `at_tree`; its spread is right in clear calm hours and nowhere too small. `prior` is what stood
    before, `readings` and `nights` how many were believed, `set_aside` those kept but not believed, `noise_sd_c` 1 sd
    [°C] of one night's reading about the offset, as found. `covariance_c2` is that of (radiation_c, mixed_c) [°C²].
    """

    offset: SiteOffset
    prior: SiteOffset
    readings: int
    nights: int
    set_aside: tuple[SetAside, ...]
    noise_sd_c: float
    covariance_c2: Floats

    def mean_c(self, factor: float) -> float:
        """Offset [°C] in a night hour whose clear and calm share is `factor`."""
        return self.offset.radiation_c * factor + self.offset.mixed_c

    def sd_c(self, factor: float) -> float:
        """One sd of it [°C]."""
        return max(_sd(self.covariance_c2, factor), LEAST_SD_C)


def learn_site(pairs: Sequence[Pair], prior: SiteOffset) -> LearnedOffset:
    """The offset of one tree from its readings at night.

    Parameters
    ----------
    pairs
        From `Sky.pairs`, in any order. Readings of one night share the field's error of that night, so together they
        count as one; successive nights count as 0.65 of an independent one each.
    prior
        Of its standing.

    Notes
    -----
    With no pairs it is the prior. What is learned is reading minus the told field, so a service's constant error at
    this garden is in it: do not take that off a second time.
    """
    columns = np.array([[one.night * one.factor, one.night] for one in pairs]).reshape(-1, 2)
    sd = np.array([one.sd_c for one in pairs])
    found = robust_line(
        columns,
        np.array([one.difference_c for one in pairs]),
        sd,
        shared_weights([one.evening for one in pairs]),
        np.array([prior.radiation_c, prior.mixed_c]),
        np.array([prior.radiation_sd_c, prior.mixed_sd_c]),
        SCALE_SD,
    )
    wrong = found.wild > WILD
    odd = [(pairs[i], float(columns[i] @ found.mean)) for i in np.flatnonzero(wrong).tolist()]
    return LearnedOffset(
        offset=_offset(found.mean, found.covariance) if len(pairs) else prior,
        prior=prior,
        readings=int((~wrong).sum()),
        nights=len({one.evening for one, bad in zip(pairs, wrong, strict=True) if not bad}),
        set_aside=tuple(_reason(pair, offset_c, found.scale) for pair, offset_c in odd),
        noise_sd_c=float(found.scale * sd.mean()) if len(pairs) else float("nan"),
        covariance_c2=found.covariance,
    )


def learned_offsets(trees: Sequence[Tree], readings: Sequence[Reading], sky: Sky) -> Mapping[str, LearnedOffset]:
    """The offset of every tree of a garden by name, with all its set-aside readings.

    For the outlook, and for replaying a winter: readings and a sky up to a moment give what was known then. Of many
    readings in one night a few are taken, see `counted`.
    """
    learned = {}
    for tree in trees:
        own = [one for one in readings if one.tree == tree.name and one.place is Place.AIR]
        pairs, unmatched = sky.pairs(counted(own, sky.zone), tree.name)
        found = learn_site(pairs, PRIORS[tree.standing])
        learned[tree.name] = _with(found, unmatched)
    return learned


def shared_weights(groups: Sequence[object]) -> Floats:
    """Weight of each reading: those of one night share what one night is worth."""
    sizes = Counter(groups)
    return np.array([NIGHT_COUNTS / sizes[one] for one in groups])


def _with(found: LearnedOffset, unmatched: tuple[SetAside, ...]) -> LearnedOffset:
    return LearnedOffset(**{**vars(found), "set_aside": (*found.set_aside, *unmatched)})


def _sd(covariance: Floats, factor: float) -> float:
    return float(np.sqrt(max(0.0, np.array([factor, 1.0]) @ covariance @ np.array([factor, 1.0]))))


def _offset(mean: Floats, covariance: Floats) -> SiteOffset:
    """Two independent spreads that together are right at factor 1 and nowhere too small.

    As a rule the two terms' errors run against each other; they are then right at factor 0 too.
    """
    radiation_c2, both_c2, mixed_c2 = covariance[0, 0], covariance[0, 1], covariance[1, 1]
    together_c2 = max(both_c2, 0.0)
    mixed_sd_c = max(float(np.sqrt(mixed_c2 + together_c2)), LEAST_SD_C)
    radiation_sd_c = float(np.sqrt(max(radiation_c2 + 2 * both_c2 - together_c2, 0.0)))
    return SiteOffset(
        radiation_c=float(mean[0]), mixed_c=float(mean[1]), radiation_sd_c=radiation_sd_c, mixed_sd_c=mixed_sd_c
    )


def read_inside(learned: LearnedOffset, shift_c: float, left: float) -> LearnedOffset:
    """A tree's offset after what readings inside its cover say of the air about it.

    Parameters
    ----------
    learned
        From the readings of the air itself, or the prior.
    shift_c
        By how much warmer that air is held to be on clear calm nights [°C].
    left
        Share of the variance there that is left [0-1].

    Notes
    -----
    The two terms take their parts of it by their covariance with their sum, as for a reading of the sum.
    """
    whole = np.ones(2)
    pull = learned.covariance_c2 @ whole / (whole @ learned.covariance_c2 @ whole)
    mean = np.array([learned.offset.radiation_c, learned.offset.mixed_c]) + pull * shift_c
    told_c2 = (1 - left) * (whole @ learned.covariance_c2 @ whole)
    covariance = learned.covariance_c2 - told_c2 * np.outer(pull, pull)
    return replace(learned, offset=_offset(mean, covariance), covariance_c2=covariance)


def _reason(pair: Pair, offset_c: float, scale: float) -> SetAside:
    expected_c, read_c = pair.field_c + offset_c, pair.reading.air_c
    slips = {Why.SIGN_LOST: -read_c, Why.FAHRENHEIT: (read_c - 32) / 1.8}
    nearest = min(slips, key=lambda why: abs(slips[why] - expected_c))
    if abs(slips[nearest] - expected_c) < SLIP_FITS_SD * scale * pair.sd_c:
        why = nearest
    else:
        why = Why.SUN_STRUCK if pair.night < 1 and read_c > expected_c + SUN_WARMER_C else Why.FAR_OFF
    return SetAside(reading=pair.reading, why=why, expected_c=expected_c)
