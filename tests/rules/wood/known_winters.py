"""The shipping wood model replayed on real winters, bare trees, beside what gardeners know of them."""

import tomllib
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any, Final

import numpy as np

from rules.garden.species import SpeciesRow, species_row
from rules.wood.course import BELIEVED_SHARE, winters_course
from rules.wood.injury import expected_share_lost, lost_together
from rules.wood.organs import organ_lt10_c
from tests.rules.wood.winter_records import DATA, Floats, Record, record

LAST_NIGHT: Final = 266  # 31 May: after it no wood is in question


@dataclass(frozen=True, kw_only=True, eq=False)
class Replayed:
    """One species through all winters of a record.

    `lt10_c`, `lt50_c` [°C] and `night_c`, the low of the night after each day, shape (days, winters); `lost` share of
    the wood by each spring, `nights_below` the 10 % point, `leaf_out` day of the season (NaN: never), shape (winters,).
    """

    at: Record
    lt10_c: Floats
    lt50_c: Floats
    night_c: Floats
    lost: Floats
    nights_below: Floats
    leaf_out: Floats
    readiness: Floats
    developed: Floats

    @property
    def half_lost(self) -> int:
        """Winters that take more than half of the wood."""
        return int((self.lost > 0.5).sum())

    def middle_leaf_out(self) -> int:
        """Day of the season on which the middle winter leafs out."""
        return int(np.median(self.leaf_out))


@cache
def replayed(species: str, cultivar: str, place: str) -> Replayed:
    """Bare trees of a species at a place."""
    return replayed_row(species_row(species, cultivar), place)


def replayed_row(row: SpeciesRow, place: str, warmer_c: float = 0.0) -> Replayed:
    """Bare trees of one row of the species table, changed as it may be, at a place so much warmer."""
    at = record(place, warmer_c)
    course = winters_course([row], at.site, at.first, at.mean_c, at.min_c, at.max_c)
    lt50_c = course.hc_c[..., 0]
    return _judged(row, at, lt50_c, course.readiness[..., 0], course.developed[..., 0])


def half_way(row: SpeciesRow, told: Replayed) -> Replayed:
    """The same with each winter drawn half way to the usual course, which is the middle of the other winters."""
    others = [np.median(np.delete(told.lt50_c, i, axis=1), axis=1) for i in range(told.at.winters)]
    off_c = (1.0 - BELIEVED_SHARE) * (1.0 - told.developed) * (told.lt50_c - np.stack(others, axis=1))
    return _judged(row, told.at, told.lt50_c - off_c, told.readiness, told.developed)


def _judged(row: SpeciesRow, at: Record, lt50_c: Floats, readiness: Floats, developed: Floats) -> Replayed:
    lt10_c = organ_lt10_c(row, row.watched, lt50_c, readiness)[0]
    night_c = np.concatenate([at.min_c[1:], np.full((1, at.winters), np.nan)])
    green = developed >= 1.0
    below = (night_c < lt10_c)[:LAST_NIGHT].sum(axis=0)
    return Replayed(
        at=at, lt10_c=lt10_c, lt50_c=lt50_c, night_c=night_c, lost=_lost(night_c, lt10_c, lt50_c),
        nights_below=below, leaf_out=np.where(green.any(axis=0), green.argmax(axis=0), np.nan),
        readiness=readiness, developed=developed,
    )  # fmt: skip


def _lost(night_c: Floats, lt10_c: Floats, lt50_c: Floats) -> Floats:
    """Share lost by the end of May, by the same dose curve and the same putting together of nights as everywhere."""
    lost = np.zeros(night_c.shape[1])
    for winter in range(night_c.shape[1]):
        for day in np.flatnonzero(night_c[:LAST_NIGHT, winter] < lt10_c[:LAST_NIGHT, winter] + 6.0):
            tissue = np.array([night_c[day, winter]])
            tonight = expected_share_lost(tissue, 0.0, lt10_c[day, winter], lt50_c[day, winter], 0.0)
            lost[winter] = lost_together(lost[winter], tonight)
    return lost


def known_rows() -> list[dict[str, Any]]:
    """What gardeners know, row by row."""
    rows: list[dict[str, Any]] = tomllib.loads((DATA / "known_winters.toml").read_text("utf-8"))["known"]
    return rows


def day_of(month_day: str) -> int:
    """Day of the season of a date "04-15"; the season begins on 7 September."""
    month, day = (int(part) for part in month_day.split("-"))
    return (date(2026 if month >= 9 else 2027, month, day) - date(2026, 9, 7)).days
