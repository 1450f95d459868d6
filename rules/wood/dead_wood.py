"""What the nights so far have taken of a tree above ground, as far as can be told, and what its grower found."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.records import Dieback, SightingKind
from rules.garden.species import Organ
from rules.garden.tree import Phase, Site, Tree
from rules.wood.course import WoodCourse
from rules.wood.injury import Z_TEN_PERCENT, frozen_share, lost_together, normal_share
from rules.wood.season import BLOOM_KINDS

Floats = npt.NDArray[np.float64]

FELT_SD_C: Final = 1.5  # of the coldest the wood felt, where no thermometer was; assumed
LITTLE: Final = 0.1  # lost since it was looked at: what was found still holds
HELD_DEAD: Final = 0.8  # share lost from which on the rest pays no care; assumed, as the plan's own bound
BROWNS_AFTER: Final = timedelta(days=10)  # dead bark stays green until it has thawed for some days; common practice
ODDS: Final = np.array([NormalDist().inv_cdf((i + 0.5) / 9) for i in range(9)])  # sd that doubts may lie off
ALIVE: Final = (
    SightingKind.BUDS_SWELLING,
    *BLOOM_KINDS,
    SightingKind.LEAFED_OUT,
    SightingKind.FRUIT_PEA_SIZE,
)


@dataclass(frozen=True, kw_only=True)
class WoodLost:
    """What this season has taken of one organ above ground.

    Parameters
    ----------
    organ
        The organ decisions rest on: wood, or of some species the flower buds.
    share
        Expected share of it lost [0-1], all doubts in; as the grower found it where `told`.
    evening
        Evening of the night that took the most; None where none took any.
    air_c, lt10_c
        Lowest air at the tree (inside a cover) in that night, and what the organ was safe to [°C].
    told
        Whether the share is what its grower found, and no later night took more.
    cover_untold
        Whether nobody has said how its cover stood in that night: then nothing is held lost, it is asked.
    """

    organ: Organ
    share: float = 0.0
    evening: date | None = None
    air_c: float | None = None
    lt10_c: float | None = None
    told: bool = False
    cover_untold: bool = False

    @property
    def held_dead(self) -> bool:
        """Whether so much is gone that the rest pays no care: nothing is asked for it any more."""
        return self.share >= HELD_DEAD and not self.cover_untold

    @property
    def in_question(self) -> bool:
        """Whether it is dead if its cover was off in that night, of which nobody has told."""
        return self.share >= HELD_DEAD and self.cover_untold

    @property
    def shows_from(self) -> date | None:
        """The day from which on a scratch of the bark tells; None where nothing is in question."""
        return self.evening + BROWNS_AFTER if self.evening and self.held_dead and not self.told else None


def wood_lost(
    wood: WoodCourse, tree: Tree, site: Site, diebacks: Sequence[Dieback], learned_c: Mapping[Phase, float]
) -> WoodLost:
    """What the nights of a season have taken of the watched organ of one tree.

    Parameters
    ----------
    wood
        Its season up to today.
    tree, site
        Which, with its grower's own limits, which hold for the nights gone by too; and where it stands.
    diebacks
        What was told of any tree, oldest first; of this one in this season the last with a share counts.
    learned_c
        Change of what it was safe to that was accepted of its winters, by phase [°C].

    Notes
    -----
    The doubts of wood and felt cold are the same night after night: each way they may lie is followed through the
    season by itself, and the shares are averaged. A tree seen budding above ground is not held dead.
    """
    middle_c = wood.lasting_lt10_c
    own_c = [tree.safe_to_c.get(phase, middle_c[i] + learned_c.get(phase, 0.0)) for i, phase in enumerate(wood.phases)]
    lt10_c = np.array(own_c)
    alone = _alone(wood, lt10_c, np.hypot(wood.row.sd_c(wood.lasting_lt50_c), wood.rates_sd_c))
    told = [one for one in diebacks if one.tree == tree.name and one.lost is not None and _day(one, wood, site) >= 0]
    first, share = 0, 0.0
    if told:
        first, share = _day(told[-1], wood, site), told[-1].lost or 0.0
    elif budding := [s.day for s in wood.sightings if s.believed and s.sighting.sight in ALIVE]:
        first = max(budding)
    nights = alone[first:]
    lost = np.full(len(ODDS), share)
    for night in nights[nights.max(axis=1) > 0.0]:
        lost = lost_together(lost, night)
    found = WoodLost(organ=wood.row.watched, share=float(lost.mean()), told=bool(told) and lost.mean() - share < LITTLE)
    if not len(nights) or nights.max() <= 0.0:
        return found
    worst = first + int(nights.mean(axis=1).argmax())
    evening = wood.start + timedelta(days=worst)
    return replace(found, evening=evening, air_c=float(wood.night_c[worst]), lt10_c=float(lt10_c[worst]))


def _alone(wood: WoodCourse, lt10_c: Floats, own_sd_c: Floats) -> Floats:
    """Share each night alone would take, for each of the odds, shape (days, odds); a night nobody knows takes none."""
    step_c = wood.lasting_lt10_c - wood.lasting_lt50_c
    off_c = np.hypot(own_sd_c, FELT_SD_C)[:, None] * ODDS
    night_c = np.where(np.isnan(wood.night_c), np.inf, wood.night_c)[:, None]
    beyond = ((lt10_c - step_c)[:, None] + off_c - night_c) / (step_c[:, None] / Z_TEN_PERCENT)
    return np.asarray(normal_share(beyond) * frozen_share(night_c))


def _day(one: Dieback, wood: WoodCourse, site: Site) -> int:
    return (one.at_utc.astimezone(site.zone).date() - wood.start).days
