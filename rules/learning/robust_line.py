"""Numbers learned from few, rough and sometimes wild differences: two and a noise on a grid, many by least squares."""

from dataclasses import dataclass
from math import exp, lgamma, pi, sqrt
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

FREEDOM: Final = 10  # Student t with excess kurtosis 1, as the errors of NWS minima in ten US valleys have (computed)
WILD_SHARE: Final = 0.05  # readings that are mistyped or sun-struck; assumed, no source
WILD_WIDTH_C: Final = 60.0  # over which such a one may fall anywhere; assumed
COARSE, FINE = 25, 33  # grid points along each number
REACH_SD: Final = 5.0  # how far the grid reaches
_AT_ZERO: Final = exp(lgamma((FREEDOM + 1) / 2) - lgamma(FREEDOM / 2)) / sqrt((FREEDOM - 2) * pi)
ROUNDS: Final = 60  # of weighing anew, at most
SCALES: Final = np.linspace(-3.0, 2.5, 12)  # of the noise, in sd of its logarithm


@dataclass(frozen=True, kw_only=True, eq=False)
class Line:
    """What was learned of value = a x + b y + noise.

    `mean` (2,), `covariance` (2, 2); `scale` is the root mean square factor on the stated noise; `wild` (rows,) the
    chance that each row is not of this noise at all [0-1].
    """

    mean: Floats
    covariance: Floats
    scale: float
    wild: Floats


def robust_line(
    columns: Floats, values: Floats, sd: Floats, weights: Floats, prior_mean: Floats, prior_sd: Floats, scale_sd: float
) -> Line:
    """Posterior of two coefficients and of the noise.

    Parameters
    ----------
    columns, values, sd
        x and y, shape (rows, 2); what was found; 1 sd of its noise as stated, each shape (rows,).
    weights
        How much of a row counts [0-1]: rows that share one error share one weight.
    prior_mean, prior_sd
        Of the two coefficients, shape (2,), independent normals.
    scale_sd
        One sd of the logarithm of the factor on the stated noise.

    Notes
    -----
    Each row is, but for a small share that may be anywhere, a Student t about the line. No single row can then pull
    without bound, and the further off it is the less it pulls. Grids: one over 5 prior sd either way, a finer one over
    what that leaves. Nothing is random and nothing is remembered, so to drop a row is to have never had it.
    """
    if not len(values):
        return Line(mean=prior_mean, covariance=np.diag(prior_sd**2), scale=1.0, wild=np.empty(0))
    rows = _Rows(columns, values, sd, weights)
    axes = [np.linspace(-REACH_SD, REACH_SD, COARSE) * s + m for m, s in zip(prior_mean, prior_sd, strict=True)]
    found = rows.posterior(axes, prior_mean, prior_sd, scale_sd)
    width = [max(np.sqrt(found.covariance[i, i]), axes[i][1] - axes[i][0]) for i in (0, 1)]
    axes = [np.linspace(-REACH_SD, REACH_SD, FINE) * width[i] + found.mean[i] for i in (0, 1)]
    return rows.posterior(axes, prior_mean, prior_sd, scale_sd)


def student_density(standard: Floats) -> Floats:
    """Density of a Student t of 10 degrees of freedom scaled to unit variance.

    >>> round(float(student_density(np.array(0.0))), 4)  # scipy.stats.t.pdf(0, 10, scale=0.8**0.5)
    0.435
    """
    wide = 1 + standard**2 / (FREEDOM - 2)
    squared = wide * wide
    density: Floats = _AT_ZERO / (squared * squared * wide * np.sqrt(wide))  # wide ** -5.5, many times faster
    return density


def good_and_wild(off: Floats, sd: Floats) -> tuple[Floats, float]:
    """Density of a value this far off if it is honest, and if it is wild, each times its share."""
    return (1 - WILD_SHARE) * student_density(off / sd) / sd, WILD_SHARE / WILD_WIDTH_C


@dataclass(frozen=True, eq=False)
class _Rows:
    columns: Floats
    values: Floats
    sd: Floats
    weights: Floats

    def posterior(self, axes: list[Floats], prior_mean: Floats, prior_sd: Floats, scale_sd: float) -> Line:
        a, b = (side.ravel() for side in np.meshgrid(*axes, indexing="ij"))
        prior = -0.5 * ((a - prior_mean[0]) / prior_sd[0]) ** 2 - 0.5 * ((b - prior_mean[1]) / prior_sd[1]) ** 2
        off = self.values - np.outer(a, self.columns[:, 0]) - np.outer(b, self.columns[:, 1])
        logs, wild = zip(*(self._at_scale(off, np.exp(scale_sd * z)) for z in SCALES), strict=True)
        whole = np.stack(logs) + prior - 0.5 * SCALES[:, None] ** 2
        chance = np.exp(whole - whole.max())
        chance /= chance.sum()
        return _moments(a, b, chance, np.exp(scale_sd * SCALES), wild)

    def _at_scale(self, off: Floats, scale: float) -> tuple[Floats, Floats]:
        """Log likelihood of each grid point, and the chance that each row is wild, (points, rows)."""
        width = scale * self.sd
        good, anywhere = good_and_wild(off, width)
        either = good + anywhere
        return np.log(either) @ self.weights, anywhere / either


def _moments(a: Floats, b: Floats, chance: Floats, scales: Floats, wild: tuple[Floats, ...]) -> Line:
    points = np.stack([a, b])
    share = chance.sum(axis=0)
    mean = points @ share
    off = points - mean[:, None]
    spoilt = sum(chance[i] @ wild[i] for i in range(len(scales)))
    return Line(
        mean=mean,
        covariance=(off * share) @ off.T,
        scale=float(np.sqrt(chance.sum(axis=1) @ scales**2)),
        wild=np.asarray(spoilt),
    )


def robust_update(
    mean: Floats, covariance: Floats, columns: Floats, values: Floats, noise: Floats
) -> tuple[Floats, Floats, Floats]:
    """Mean and covariance of many coefficients after rows of values, and the chance that each row is wild.

    Each row is judged by what the prior and all the other rows expect there, seen through what they leave unknown: its
    pull is that of a Student t, and falls to nothing as the chance grows that it is wild. So no row can pull by more
    than two sd of what it says. Rounds start from what the prior alone expects, lest wild rows vouch for each other.
    """
    precision = np.linalg.inv(covariance)
    doubt = np.einsum("ri,ij,rj->r", columns, covariance, columns)
    weight, wild = _pull((values - columns @ mean) / np.sqrt(doubt + noise**2), np.sqrt(doubt + noise**2))
    for _ in range(ROUNDS):
        told = (noise**2 + doubt) / weight - doubt
        spread = np.linalg.inv(precision + (columns.T / told) @ columns)
        found = spread @ (precision @ mean + columns.T @ (values / told))
        seen = np.einsum("ri,ij,rj->r", columns, spread, columns)
        alone = 1 - np.minimum(seen / told, 1 - 1e-9)
        doubt = seen / alone
        sd = np.sqrt(doubt + noise**2)
        before, (new, wild) = weight, _pull((values - columns @ found) / alone / sd, sd)
        weight = (before + new) / 2
        if np.abs(weight - before).max() < 1e-6:
            break
    return found, spread, wild


def _pull(standard: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """Weight of each row by how far off it is in sd, and the chance that it is wild."""
    good, anywhere = good_and_wild(standard * sd, sd)
    wild = anywhere / (good + anywhere)
    student = np.minimum((FREEDOM + 1) / (FREEDOM - 2 + standard**2), 1.0)
    return np.maximum(student * (1 - wild), 1e-9), wild
