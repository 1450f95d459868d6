"""From temperature and hardiness to injury: how likely, and what share of the wood."""

from typing import Final

import numpy as np
import numpy.typing as npt

Z_TEN_PERCENT: Final = 1.2815515655446004  # the 10 % point of the standard normal, tables of the normal integral

FARTHEST_Z: Final = 38.0  # beyond it the share is 0 or 1 in any number we keep
HABITUAL_HOURS: Final = (
    3.0  # thresholds are for an ordinary night, which stays about this long near its lowest; assumed
)
DOUBLING_C: Final = 0.5  # twice the time below hurts as half a degree colder; assumed, direction only is published
TIP_SHARE: Final = 0.2  # share of the live wood in the last 15 cm under the cap; assumed
# How far a second night hurts what outlived the first: 0 the same tissue is the tender one each time, 1 every night
# draws anew. Assumed, near 0: at a quarter, sixty nights that take 2 % each would take a quarter of the wood together,
# and a winter of nights that wood can take would kill it.
REPEAT_SHARE: Final = 0.05
NO_FROST_C: Final = -0.5  # tissue this warm is not frozen at all; it is in full a degree below. Assumed

Values = npt.NDArray[np.float64]


def normal_share(z: npt.ArrayLike) -> Values:
    """Share of a standard normal population below `z`.

    Hastings' rational form (Abramowitz & Stegun 1964, 26.2.17, from memory), wrong by less than 7.5e-8: a plan asks
    for hundreds of thousands of these, and the error function of the standard library takes one at a time. Single
    precision stays single.

    >>> round(float(normal_share(-Z_TEN_PERCENT)), 6)
    0.1
    """
    z = np.asarray(z)
    away = np.empty(z.shape, dtype=np.float32 if z.dtype == np.float32 else np.float64)
    np.minimum(np.abs(z, out=away), FARTHEST_Z, out=away)
    t, tail = np.empty_like(away), np.empty_like(away)
    np.multiply(away, 0.2316419, out=t)
    t += 1.0
    np.reciprocal(t, out=t)
    np.multiply(t, 1.330274429, out=tail)
    for power in (-1.821255978, 1.781477937, -0.356563782, 0.319381530):  # in place: most of a plan's time is here
        tail += power
        tail *= t
    away *= away
    away *= -0.5
    tail *= np.exp(away, out=away)
    tail *= 0.3989422804014327
    return np.where(z > 0.0, np.subtract(1.0, tail, dtype=tail.dtype), tail)


def dose_width_c(lt10_c: float, lt50_c: float) -> float:
    """Width of the dose curve: one standard deviation [°C] of a normal curve through its 10 % and 50 % points.

    Parameters
    ----------
    lt10_c, lt50_c
        Temperatures that injure 10 % and 50 % of the tissue [°C]; the second must be the colder.

    Raises
    ------
    ValueError
        If the 50 % point is not colder than the 10 % point.

    Notes
    -----
    A normal dose curve is an assumption; 'Elberta' peach buds are steeper on the cold side (Proebsting & Mills
    1966, read in a quotation).

    >>> round(dose_width_c(-9.0, -12.0), 2)
    2.34
    """
    if not lt50_c < lt10_c:
        raise ValueError(f"the 50 % point must be colder than the 10 % point: {lt50_c:g} °C is not below {lt10_c:g} °C")
    return (lt10_c - lt50_c) / Z_TEN_PERCENT


def chance_colder(tissue_c: Values, spread_c: Values | float, lt10_c: Values | float, lt10_sd_c: float) -> Values:
    """Chance that the wood gets colder than it can take, averaged over the members.

    Parameters
    ----------
    tissue_c
        Lowest temperature of the wood in each member [°C], shape (members, ...).
    spread_c
        One standard deviation of it besides the forecast: site and cover [°C].
    lt10_c, lt10_sd_c
        What the wood can take, and its own spread [°C].

    Returns
    -------
    numpy.ndarray
        Chances 0-1, shape (...).
    """
    width = np.sqrt(np.square(spread_c) + lt10_sd_c**2)
    return np.asarray(normal_share((np.asarray(lt10_c) - tissue_c) / np.maximum(width, 0.05)).mean(axis=0))


def frozen_share(tissue_c: npt.ArrayLike) -> Values:
    """How far a night freezes tissue at all [0-1]: not at -0.5 °C and above, in full from -1.5 °C down (assumed).

    No frost, no loss, however much is in doubt: the doubts of a threshold must not make mild nights kill.

    >>> frozen_share([2.0, -0.5, -1.0, -6.0]).tolist()
    [0.0, 0.0, 0.5, 1.0]
    """
    return np.clip(NO_FROST_C - np.asarray(tissue_c), 0.0, 1.0)


def expected_share_lost(
    tissue_c: Values, spread_c: Values | float, lt10_c: float, lt50_c: float, lt10_sd_c: float
) -> Values:
    """Expected share of the wood lost, averaged over the members.

    A normal dose curve seen through normal doubts is again a normal curve, with the squares of the widths added; a
    night without frost takes nothing.

    Parameters
    ----------
    tissue_c
        Lowest temperature of the wood in each member [°C], shape (members, ...).
    spread_c
        One standard deviation of it besides the forecast [°C].
    lt10_c, lt50_c, lt10_sd_c
        10 % and 50 % points of the wood and their spread [°C].

    Returns
    -------
    numpy.ndarray
        Shares 0-1, shape (...).

    >>> round(float(expected_share_lost(np.array([-12.0]), 0.0, -9.0, -12.0, 0.0)), 6)
    0.5
    """
    width = np.sqrt(np.square(spread_c) + lt10_sd_c**2 + dose_width_c(lt10_c, lt50_c) ** 2)
    return np.asarray((normal_share((lt50_c - tissue_c) / width) * frozen_share(tissue_c)).mean(axis=0))


def dose_c(wood_c: Values) -> Values:
    """Temperature that hurts in an ordinary night as much as these hours do [°C], over the last axis.

    A soft minimum: an hour counts by exp(-T/s), so that HABITUAL_HOURS at one temperature give that temperature, twice
    as long is DOUBLING_C colder, and one sharp hour counts for less than its minimum. The form is assumed.

    Parameters
    ----------
    wood_c
        Hourly temperatures of the wood [°C], shape (..., hours), at least one hour.

    >>> hours = np.full(6, -8.0)
    >>> float(dose_c(hours[:3])), float(dose_c(hours))
    (-8.0, -8.5)
    """
    steep_c = DOUBLING_C / np.log(2.0)
    lowest = wood_c.min(axis=-1, keepdims=True)
    weights = np.exp((lowest - wood_c) / steep_c).sum(axis=-1)
    return np.asarray(lowest[..., 0] - steep_c * np.log(weights / HABITUAL_HOURS))


def with_tip(middle: npt.ArrayLike, tip: npt.ArrayLike) -> Values:
    """Share lost of a whole stem from the shares lost at its middle and at its tip, which is colder under a cap."""
    return np.asarray((1.0 - TIP_SHARE) * np.asarray(middle) + TIP_SHARE * np.asarray(tip))


def outside_share(cover_m: float, tree_m: float | None) -> float:
    """Share of a tree's wood above a cover that ends lower than the tree does, by length (even stems: assumed).

    >>> outside_share(1.8, 2.4), outside_share(1.8, 1.5), outside_share(1.8, None)
    (0.25, 0.0, 0.0)
    """
    return max(0.0, round(1.0 - cover_m / tree_m, 4)) if tree_m else 0.0


def lost_together(before: npt.ArrayLike, tonight: npt.ArrayLike) -> Values:
    """Share lost after two nights from what each alone would take; nothing is counted twice.

    What outlives a night is the harder part, so the next one as cold takes little more: the larger share, and
    REPEAT_SHARE of the smaller among the survivors.

    >>> float(lost_together(0.5, 0.0)), round(float(lost_together(0.5, 0.5)), 4)
    (0.5, 0.5125)
    """
    more, less = np.maximum(before, tonight), np.minimum(before, tonight)
    return np.asarray(more + REPEAT_SHARE * less * (1.0 - more))
