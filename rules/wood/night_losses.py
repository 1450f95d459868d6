"""What nights take of the wood, one after the other, and what the wood that is left is worth to come."""

from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.species import SpeciesRow
from rules.garden.tree import Phase
from rules.wood.injury import Z_TEN_PERCENT, frozen_share, lost_together, normal_share, with_tip

Floats = npt.NDArray[np.float64]

HARDEST_FIRST: Final = (Phase.RESTING, Phase.HARDENING, Phase.RIPENING, Phase.GROWING)
LOST_LEVELS: Final = np.linspace(0.0, 1.0, 11)  # shares of the wood for which time beyond the forecast is priced
OFF_C: Final = (-2.5, 0.0, 3.0)  # and how far the wood is then off a bare tree's [°C]


def harm_of(lt50_c: Floats, width_c: Floats, middle_c: Floats, tip_c: Floats) -> Floats:
    """Share one night alone takes of the wood, arrays that broadcast; without frost none."""
    middle, tip = (
        normal_share((lt50_c - tissue_c) / width_c) * frozen_share(tissue_c) for tissue_c in (middle_c, tip_c)
    )
    return with_tip(middle, tip)


def lost_after(
    lost: Floats, lt50_c: Floats, width_c: Floats, unforeseen_c: Floats, middle_c: Floats, tip_c: Floats
) -> Floats:
    """Expected share lost after one more night, arrays that broadcast.

    A night that comes out colder than told takes more than one that comes out milder leaves, once wood is lost: what is
    dead dies no second time. So the error comes out first, at one sd on either side (exact to the third moment), and
    only then are the losses put together.
    """
    return lost_either_way(lost, *harms(lt50_c, width_c, unforeseen_c, middle_c, tip_c))


def harms(
    lt50_c: Floats, width_c: Floats, unforeseen_c: Floats, middle_c: Floats, tip_c: Floats
) -> tuple[Floats, Floats]:
    """Share one night alone takes, one sd of the last forecast's error colder, and as much milder."""
    colder, milder = (harm_of(lt50_c, width_c, middle_c + by, tip_c + by) for by in (-unforeseen_c, unforeseen_c))
    return colder, milder


def lost_either_way(lost: Floats, colder: Floats, milder: Floats) -> Floats:
    """Expected share lost after a night that comes out colder or milder, each as likely."""
    return np.asarray((lost_together(lost, colder) + lost_together(lost, milder)) / 2.0)


def dose_width_at(row: SpeciesRow, lt50_c: Floats) -> Floats:
    """Width of the dose curve of a tree's watched organ at a 50 % point [°C]: tender wood dies within fewer degrees.

    The table's step from 10 to 50 % slides from phase to phase with the 50 % point.
    """
    points = [row.wood_hardiness(phase) for phase in HARDEST_FIRST]
    steps = np.interp(lt50_c, [one.lt50_c for one in points], [one.lt10_c - one.lt50_c for one in points])
    return np.asarray(steps / Z_TEN_PERCENT)
