"""Winter water over real winters of a dry place: asked for about once a month, never on ice, never after rain."""

import gzip
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest

from rules.garden.cover import Cover, CoverState
from rules.garden.tree import Phase, Site, Tree
from rules.jobs import DayWeather, GardenFacts, Job, JobKind, JobMark, JobReason, MarkState, TreeFacts, jobs_due
from tests.high_plains import FILE

SITE = Site(latitude_deg=40, longitude_deg=-103, elevation_m=1300, time_zone="UTC")
FIG = TreeFacts(
    tree=Tree(name="Porch fig", species="fig", cover="cage"),
    cover=Cover(name="cage"),
    state=CoverState.CLOSED,
    phase=Phase.RESTING,
)
SEEN_AHEAD = 7
# Their rain and snow from November to March: 0 to 18 mm, and the two wettest of the record with 109 and 138 mm.
DRY_WINTERS, WET_WINTERS = (1982, 1984, 1995, 2017), (1991, 2006)


@pytest.fixture(scope="module")
def real() -> dict[date, DayWeather]:
    """The high plains from 1982 to 2018 by day: aquacrop 3.1.0, champion_climate.txt, Apache-2.0/MIT."""
    with gzip.open(FILE, "rt") as text:
        rows = [line.split() for line in text.read().splitlines()[1:]]
    return {
        date(int(year), int(month), int(day)): DayWeather(
            high_c=float(high), mean_c=(float(low) + float(high)) / 2, fallen_mm=float(fallen)
        )
        for day, month, year, low, high, fallen, _ in rows
    }


def watered(real: dict[date, DayWeather], first: int) -> list[tuple[date, Job]]:
    """The days of one winter on which water is asked for, by a grower who gives it on that day."""
    marks: list[JobMark] = []
    found = []
    for offset in range(151):
        today = date(first, 11, 1) + timedelta(days=offset)
        near = [today + timedelta(days=i) for i in range(-30, SEEN_AHEAD + 1)]
        facts = GardenFacts(today=today, site=SITE, trees=[FIG], days={day: real[day] for day in near}, marks=marks)
        for job in [job for job in jobs_due(facts, today, today) if job.kind is JobKind.WATER]:
            found.append((today, job))
            at = datetime(today.year, today.month, today.day, 12, tzinfo=UTC)
            marks = [*marks, JobMark(kind=JobKind.WATER, tree="Porch fig", state=MarkState.DONE, at_utc=at)]
    return found


@pytest.mark.parametrize("first", [*DRY_WINTERS, *WET_WINTERS])
def test_water_is_asked_for_on_mild_days_of_dry_months_alone(first: int, real: dict[date, DayWeather]) -> None:
    # air above 40 °F = 4.4 °C, ground not frozen, at most monthly: Klett & Wilson 2008, Colorado State University
    # Extension; the three days' mean for the ground and the 25 mm are assumed
    asked = watered(real, first)
    for today, job in asked:
        assert real[today].high_c > 4.4
        assert sum(real[today - timedelta(days=i)].mean_c or 0.0 for i in range(3)) > 0
        fallen_mm = sum(real[today - timedelta(days=i)].fallen_mm or 0.0 for i in range(1, 31))
        assert fallen_mm < 25
        assert job.reason is JobReason.DRY_WINTER
        assert job.amount == pytest.approx(fallen_mm)
    days = [today for today, _ in asked]
    assert all((after - before).days >= 28 for before, after in pairwise(days))


def test_a_dry_winter_is_watered_each_month_and_a_wet_one_seldom(real: dict[date, DayWeather]) -> None:
    # "monthly November through March" in dry winters (Klett & Wilson 2008): five times
    dry = [len(watered(real, first)) for first in DRY_WINTERS]
    wet = [len(watered(real, first)) for first in WET_WINTERS]
    assert all(4 <= count <= 6 for count in dry)
    assert max(wet) <= min(dry)
    assert min(wet) <= 2
