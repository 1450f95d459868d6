"""Time beyond the forecast: the rest of the season for one who knows past winters, and not this one.

Backward from the season's end: each night of each past winter is met knowing its own last forecast, and beyond it only
the mean of what all winters bring. Whoever plans can do that too, so the plan never counts on care it will not manage.
Each past winter's own best course would know in October that January kills the tree, or that nothing does: trips then
go to trees that the plan cannot save. What is left out: a cold night makes the next one likely cold too, here each is
drawn anew, so hard and mild winters are a little too alike; and heat kept from an earlier state.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rules.plan_search import LOST_LEVELS, lost_either_way, tail_at

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class NightsToCome:
    """Nights of past winters as one who plans would meet them; a lane is one tree in one winter.

    Parameters
    ----------
    colder, milder
        Share of the wood each night alone takes where its last forecast was so much too warm, or too cold, shape
        (lanes, nights, states).
    holding
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
    holding: Floats
    step: Floats
    worth: Floats
    end: Floats


def costs_to_go(nights: NightsToCome, mean: Callable[[Floats], Floats]) -> Iterator[Floats]:
    """Cost from each night on to the season's end, the last night first.

    Parameters
    ----------
    nights
        What the nights would bring.
    mean
        From costs (lanes, states, LOST_LEVELS) to what is expected before the night is known, same shape.

    Yields
    ------
    numpy.ndarray
        Shape (lanes, states, LOST_LEVELS) [trips]; the state is the one the cover stands in before that evening's
        choice.
    """
    tail = nights.end
    for night in range(nights.colder.shape[1] - 1, -1, -1):
        lost = lost_either_way(LOST_LEVELS, nights.colder[:, night, :, None], nights.milder[:, night, :, None])
        wood = nights.worth[:, None, None] * (lost - LOST_LEVELS)
        onward = nights.holding[:, night, :, None] + wood + tail_at(tail, lost)
        tail = mean((nights.step[..., None] + onward[:, None]).min(axis=2))
        yield tail
