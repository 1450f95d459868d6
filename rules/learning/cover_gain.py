"""What a thermometer inside a cover teaches of its straw, cap, leaks and soil, and of the air about it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Cover
from rules.garden.records import Deed, DeedKind, Place, Reading
from rules.heat.night_lows import night_lows
from rules.heat.properties import LEAST_SHARE, ReadCover
from rules.learning.cover_moves import UNKNOWNS, CoverMoves
from rules.learning.pairs import FIELD_SD_C, SetAside, Why
from rules.learning.robust_line import robust_update
from rules.learning.site_offset import NIGHT_CORRELATION, OUTSIDE_SD_C, WILD

Floats = npt.NDArray[np.float64]

BIAS_SD_C: Final = 0.3  # of a household thermometer's calibration, and
RANDOM_SD_C: Final = 0.4  # of one look at it; together `THERMOMETER_SD_C`; assumed
# Of what was learned when the cover is wrapped anew, half of the variance: same hands, new straw. Assumed, no source.
KEPT_BY_WRAPPING: Final = 0.7
_OUTSIDE: Final = np.eye(len(UNKNOWNS))[UNKNOWNS.index("outside")]
LEAST_FELT_C: Final = 0.02  # errors of the told air that move no reading by this are left out


@dataclass(frozen=True, kw_only=True, eq=False)
class LearnedCover:
    """What is known of one cover's unknown numbers after the readings inside it.

    `mean` and `covariance` of the numbers, in prior sd, in the order of `UNKNOWNS`, that of the air outside being
    `outside_sd_c`; `readings` how many were believed; `wrapped` how often the cover was wrapped anew since the first of
    them; `set_aside` those not believed. `air_told` is whether that air has a thermometer of its own: then readings
    inside are not asked about it.
    """

    mean: Floats
    covariance: Floats
    readings: int
    wrapped: int
    set_aside: tuple[SetAside, ...]
    outside_sd_c: float = OUTSIDE_SD_C
    air_told: bool = False

    @property
    def air_shift_c(self) -> float:
        """By how much the air at the tree is held to be warmer on every night [°C] than it was before."""
        return float(self.mean[-1]) * self.outside_sd_c

    @property
    def air_left(self) -> float:
        """Share of the variance of that air which is left [0-1]."""
        return 1.0 if self.air_told else float(self.covariance[-1, -1])

    def corrected(self, moves: CoverMoves) -> tuple[Floats, Floats]:
        """Wood inside [°C] with what was learned, and 1 sd of it, each (hours,), under any weather and state.

        The spread is that of the cover and of the tree's lasting offset together: inside readings teach their sum
        better than either.
        """
        return moves.wood_c + self.mean @ moves.wood_moves_c, self.spread_c(moves.wood_moves_c)

    def spread_c(self, moves_c: Floats) -> Floats:
        """One sd of the temperature inside [°C], (hours,): never below a third of what it was before.

        `moves_c` as in `CoverMoves`, shape (unknowns, hours).
        """
        left = np.sqrt(np.einsum("ih,ij,jh->h", moves_c, self.covariance, moves_c))
        return np.asarray(np.maximum(left, LEAST_SHARE * np.sqrt((moves_c**2).sum(axis=0))))

    def read(self, cover: Cover) -> Cover:
        """The cover as it has shown itself, for the heat balance; as described where nothing was read."""
        if not self.readings:
            return cover
        return ReadCover(
            **cover.model_dump(),
            shown=tuple(self.mean[:-1].tolist()),
            doubt=tuple(map(tuple, self.covariance[:-1, :-1].tolist())),
            with_air_c=tuple((self.outside_sd_c * self.covariance[:-1, -1]).tolist()),
        )


@dataclass(frozen=True, kw_only=True)
class ColdestInside:
    """What is held of the wood in the coldest hour of some weather [°C].

    `shift_c` is how much warmer than under the cover as described, `sd_c` one sd, `before_sd_c` that before readings.
    """

    shift_c: float
    sd_c: float
    before_sd_c: float


def coldest_inside(learned: LearnedCover, moves: CoverMoves) -> ColdestInside:
    """What was learned of a cover, as it shows in the coldest hour of the weather it was marched through."""
    at = int(np.argmin(moves.wood_c))
    asked_c = moves.wood_moves_c[:, [at]]
    return ColdestInside(
        shift_c=float(learned.mean @ asked_c[:, 0]),
        sd_c=float(learned.spread_c(asked_c)[0]),
        before_sd_c=float(moves.spread_c[at]),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Matched:
    """One reading beside what was expected [°C], and what each unknown, and each day's error of 1 °C, moves there."""

    reading: Reading
    expected_c: float
    own_c: Floats
    days_c: Floats

    @property
    def inside(self) -> bool:
        """Whether it was read inside the cover."""
        return self.reading.place is Place.INSIDE

    def set_aside(self, found_c: float) -> SetAside:
        """It is kept, but not believed."""
        return SetAside(reading=self.reading, why=Why.FAR_OFF, expected_c=self.expected_c + found_c)


def unread_cover(outside_sd_c: float = OUTSIDE_SD_C) -> LearnedCover:
    """A cover in which no thermometer was ever read: the prior."""
    size = len(UNKNOWNS)
    return LearnedCover(
        mean=np.zeros(size), covariance=np.eye(size), readings=0, wrapped=0, set_aside=(), outside_sd_c=outside_sd_c
    )


def learn_cover(
    readings: Sequence[Reading],
    tree: str,
    moves: CoverMoves,
    deeds: Sequence[Deed],
    zone: ZoneInfo,
    *,
    field_sd_c: float = FIELD_SD_C,
    air_sd_c: float | None = None,
) -> LearnedCover:
    """The cover of one tree from the readings inside it.

    Parameters
    ----------
    readings
        Of any tree and place. Those inside this tree's cover count, and after dark those of its air, which tell the
        weather's error of that night from the cover's.
    tree
        Its name.
    moves
        From `cover_moves` over all the hours of the readings, with the states the deeds left.
    deeds
        Of any tree; each `wrapped` of this one lets go of half of what was learned before it.
    zone
        The garden's.
    field_sd_c
        One sd [°C] of a night's told air.
    air_sd_c
        One sd [°C] of the tree's lasting offset, where its own thermometer taught it and the weather of `moves` has it;
        None where there is none. It then stands: readings inside share the weather's errors with those of the air, and
        would otherwise count them twice.

    Notes
    -----
    Kalman's update about the model as described, made robust: each reading is weighed by the chance that it is not
    wild and by how far off it is. The told air's error of each night and the thermometer's own are unknowns beside the
    cover's, found with them and thrown away. With no readings it is the prior.
    """
    own = [one for one in readings if one.tree == tree]
    found = [_matched(one, moves, zone) for one in sorted(own, key=lambda one: one.at_utc)]
    known = [one for one in found if isinstance(one, Matched)]
    wraps = sorted(deed.at_utc for deed in deeds if deed.tree == tree and deed.kind is DeedKind.WRAPPED)
    learned = unread_cover(moves.outside_sd_c)
    first = known[0].reading.at_utc if known else None
    later = [wrap for wrap in wraps if first is not None and wrap > first]
    for begin, end in zip([None, *later], [*later, None], strict=True):
        learned = learned if begin is None else _wrapped_anew(learned)
        inside = [one for one in known if _within(one.reading.at_utc, begin, end)]
        learned = _updated(learned, inside, field_sd_c)
    unmatched = tuple(one for one in found if isinstance(one, SetAside))
    learned = learned if air_sd_c is None else _given_air(learned, air_sd_c)
    return replace(learned, set_aside=(*learned.set_aside, *unmatched))


def _within(moment: datetime, begin: datetime | None, end: datetime | None) -> bool:
    return (begin is None or moment >= begin) and (end is None or moment < end)


def _matched(reading: Reading, moves: CoverMoves, zone: ZoneInfo) -> Matched | SetAside:
    """What a reading is compared with: its own hour, or for a low the coldest of its night as the model has it."""
    inside = reading.place is Place.INSIDE
    expected_c = moves.air_c if inside else moves.outside_c
    at = moves.index_of(reading.at_utc)
    if not 0 <= at < len(expected_c):
        return SetAside(reading=reading, why=Why.NO_WEATHER)
    if reading.is_minimum:
        noon = reading.at_utc.astimezone(zone).replace(hour=12, minute=0, second=0, microsecond=0)
        stop = min(moves.index_of(noon), len(expected_c))
        night = slice(max(0, stop - 24), stop)
        at = int(night_lows(expected_c, [night], inside)[1][0])
    if not inside and not moves.dark[at]:
        return SetAside(reading=reading, why=Why.BY_DAY)
    if inside and not moves.air_moves_c[:-1, at].any():
        return SetAside(reading=reading, why=Why.BARE, expected_c=float(expected_c[at]))
    own = moves.air_moves_c[:, at] if inside else _OUTSIDE * moves.outside_sd_c
    days = moves.air_days_c[:, at] if inside else moves.outside_days_c[:, at]
    return Matched(reading=reading, expected_c=float(expected_c[at]), own_c=own, days_c=days)


def _wrapped_anew(learned: LearnedCover) -> LearnedCover:
    """Half of the cover's own is let go; the air outside is what it was."""
    kept = np.full(len(UNKNOWNS), KEPT_BY_WRAPPING)
    kept[UNKNOWNS.index("outside")] = 1.0
    return replace(
        learned,
        mean=kept * learned.mean,
        covariance=np.outer(kept, kept) * learned.covariance + np.diag(1 - kept**2),
        wrapped=learned.wrapped + 1,
    )


def _given_air(learned: LearnedCover, air_sd_c: float) -> LearnedCover:
    """What is known of the cover if the air outside is off by nothing, to so many degrees, whatever was read inside."""
    left = (air_sd_c / learned.outside_sd_c) ** 2
    pull = learned.covariance[:, -1] / learned.covariance[-1, -1]
    told = learned.covariance - np.outer(pull, learned.covariance[-1])
    mean = learned.mean - pull * learned.mean[-1]
    return replace(learned, mean=mean, covariance=told + left * np.outer(pull, pull), air_told=True)


def _updated(learned: LearnedCover, known: Sequence[Matched], field_sd_c: float) -> LearnedCover:
    if not any(one.inside for one in known):
        return learned
    passing, passing_covariance = _passing(known, field_sd_c)
    columns = np.hstack([np.stack([one.own_c for one in known]), passing])
    size, more = len(UNKNOWNS), passing.shape[1]
    mean, covariance, wild = robust_update(
        np.append(learned.mean, np.zeros(more)),
        np.block([[learned.covariance, np.zeros((size, more))], [np.zeros((more, size)), passing_covariance]]),
        columns,
        np.array([one.reading.air_c - one.expected_c for one in known]),
        np.full(len(known), RANDOM_SD_C),
    )
    wrong = [i for i in np.flatnonzero(wild > WILD).tolist() if known[i].inside]
    return replace(
        learned,
        mean=mean[:size],
        covariance=covariance[:size, :size],
        readings=learned.readings + sum(one.inside for one in known) - len(wrong),
        set_aside=(*learned.set_aside, *(known[i].set_aside(float(columns[i] @ mean)) for i in wrong)),
    )


def _passing(known: Sequence[Matched], field_sd_c: float) -> tuple[Floats, Floats]:
    """Columns and prior covariance of the two thermometers' errors, and of the told air's on each day that reaches."""
    days_c = field_sd_c * np.stack([one.days_c for one in known])
    reaches = np.flatnonzero(np.abs(days_c).max(axis=0) > LEAST_FELT_C)
    thermometer = BIAS_SD_C * np.array([[one.inside, not one.inside] for one in known])
    covariance = np.eye(2 + len(reaches))
    covariance[2:, 2:] = NIGHT_CORRELATION ** np.abs(np.subtract.outer(reaches, reaches))
    return np.hstack([thermometer, days_c[:, reaches]]), covariance
