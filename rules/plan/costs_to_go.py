"""Time beyond the forecast: the rest of the season for one who knows past winters, and not this one.

Backward from the season's end: each night of each past winter is met knowing its own last forecast, and beyond it only
the mean of what all winters bring. Whoever plans can do that too, so the plan never counts on care it will not manage.
Each past winter's own best course would know in October that January kills the tree, or that nothing does: trips then
go to trees that the plan cannot save. What such choices cost is then added up winter by winter, for the cold of a
winter hangs together: nights drawn anew each time would make every winter as hard as the hardest. Left out is heat kept
from an earlier state, and that a hard December tells of a hard January.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rules.wood.night_losses import LOST_LEVELS, lost_either_way, tails_at

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class NightsToCome:
    """Nights of past winters as one who plans would meet them; a lane is one tree in one winter.

    Parameters
    ----------
    colder, milder
        Share of the wood each night alone takes where its last forecast was so much too warm, or too cold, shape
        (lanes, nights, states).
    standing_cost
        What the states cost besides injury, same shape [trips].
    step
        Price of each change of state with its visit, shape (lanes, from, to) [trips].
    worth
        Worth of the live wood, shape (lanes,) [trips].
    end
        What each state costs after the last night, by the share lost until then, shape (lanes, states, LOST_LEVELS)
        [trips].
    """

    colder: Floats
    milder: Floats
    standing_cost: Floats
    step: Floats
    worth: Floats
    end: Floats


def costs_to_go(nights: NightsToCome, mean: Callable[[Floats], Floats]) -> Iterator[Floats]:
    """Expected cost from each night on to the season's end, the last night first.

    Parameters
    ----------
    nights
        What the nights would bring.
    mean
        From each lane's own costs (lanes, states, LOST_LEVELS) to what one expects who does not know the winter.

    Yields
    ------
    numpy.ndarray
        Shape (lanes, states, LOST_LEVELS) [trips]; the state is the one the cover stands in before that evening's
        choice.
    """
    own, levels = nights.end, LOST_LEVELS.astype(nights.colder.dtype)
    expected = mean(own)
    for night in range(nights.colder.shape[1] - 1, -1, -1):
        lost = lost_either_way(levels, nights.colder[:, night, :, None], nights.milder[:, night, :, None])
        known = nights.standing_cost[:, night, :, None] + nights.worth[:, None, None] * (lost - levels)
        thought, comes = (nights.step[..., None] + (known + tail)[:, None] for tail in tails_at((expected, own), lost))
        own = _chosen(comes, thought.argmin(axis=2))
        expected = mean(own)
        yield expected


def _chosen(comes: Floats, state: npt.NDArray[np.int64]) -> Floats:
    """The cost of the state gone to, shape (lanes, from, LOST_LEVELS)."""
    lanes, before, after, levels = comes.shape
    at = np.arange(lanes * before)[:, None] * (after * levels) + np.arange(levels)
    taken: Floats = np.take(comes.reshape(-1), at + state.reshape(-1, levels) * levels)
    return taken.reshape(lanes, before, levels)
