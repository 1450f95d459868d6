"""The year's jobs in an invented garden: each in its season, north and south, with its reason and its caution."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from statistics import NormalDist
from typing import Final

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from rules.garden.cover import Cover, CoverState, Preset
from rules.garden.records import Deed, DeedKind, Records, Sighting, SightingKind
from rules.garden.shed import Shed, SupplyKind
from rules.garden.species import Organ
from rules.garden.tree import Phase, Site, Standing, Tree
from rules.jobs import (
    RULES,
    Basis,
    Caution,
    DayWeather,
    GardenFacts,
    Job,
    JobKind,
    JobMark,
    JobReason,
    JobSettings,
    JobYear,
    MarkState,
    TreeFacts,
    cautions_of,
    days_of,
    garden_facts,
    jobs_at,
    jobs_by_day,
    jobs_due,
    jobs_to_announce,
)
from rules.jobs.due import comes_with
from rules.plan.garden_plan import Act, Reason
from rules.weather.daily_minima import DailyMinima
from rules.weather.freeze_dates import FreezeDates
from rules.weather.freeze_seasons import WhichFreeze
from rules.weather.hourly import HourlyWeather, Hours
from rules.weather.local_days import new_snow_m
from rules.wood.hardiness import Hardiness, HardinessSource
from rules.wood.margins import Night, TreeMargins

NORTH: Final = Site(latitude_deg=45, longitude_deg=0, elevation_m=300, time_zone="UTC")
SOUTH: Final = Site(latitude_deg=-45, longitude_deg=0, elevation_m=300, time_zone="UTC")
FIG: Final = Tree(name="Porch fig", species="fig", cover="cage")
KAKI: Final = Tree(name="Kaki", species="kaki", cover="cage")
POT: Final = Tree(name="Satsuma", species="satsuma", standing=Standing.POT, cover="box")
TWIN: Final = Tree(name="Trial fig", species="fig", left_bare=True, cover="cage")
CAGE: Final = Cover(name="cage")
BOX: Final = Cover(name="box", preset=Preset.STRAW_BLANKET_FILM, height_m=1.2)
COVER_JOBS: Final = set(JobKind) - {JobKind.SCRATCH_TEST, JobKind.MEASURE_DIEBACK, JobKind.COUNT_FRUIT}
AUTUMN: Final = date(2026, 8, 20)
EVERYTHING: Final = {JobKind.WAKE_EARLY: JobSettings(on=True)}


def trees(state: CoverState = CoverState.BARE, phase: Phase = Phase.RIPENING) -> list[TreeFacts]:
    return [
        TreeFacts(tree=FIG, cover=CAGE, state=state, phase=phase),
        TreeFacts(tree=KAKI, cover=CAGE, state=state, phase=phase),
        TreeFacts(tree=POT, cover=BOX, state=state, phase=phase),
        TreeFacts(tree=TWIN, cover=CAGE, state=CoverState.BARE, phase=phase),
    ]


def garden(today: date = AUTUMN, site: Site = NORTH, **more: object) -> GardenFacts:
    return replace(GardenFacts(today=today, site=site, trees=trees()), **more)  # type: ignore[arg-type]  # any field


def act(kind: DeedKind, day: date, reason: Reason = Reason.COLD, tree: str = "Porch fig") -> Act:
    state = {DeedKind.VENTED: CoverState.VENTED, DeedKind.STRIPPED: CoverState.BARE}.get(kind, CoverState.CLOSED)
    return Act(
        tree=tree,
        kind=kind,
        state=state,
        reason=reason,
        night=day,
        from_utc=datetime(day.year, day.month, day.day, 9, tzinfo=UTC),
        by_utc=datetime(day.year, day.month, day.day, 15, 30, tzinfo=UTC),
        minutes=10.0,
        chance=0.4,
        chance_after=0.0,
        saves_trips=5.0,
        price_trips=1.5,
    )


def night(evening: date, air_c: float, sd_c: float = 1.0) -> Night:
    return Night(
        evening=evening,
        field_c=air_c,
        air_c=air_c,
        air_low_c=air_c - 1.2816 * sd_c,
        air_high_c=air_c + 1.2816 * sd_c,
        lowest_utc=datetime(evening.year, evening.month, evening.day, 6, tzinfo=UTC) + timedelta(days=1),
        sunset_utc=None,
        sunrise_utc=None,
        gust_m_s=3.0,
        day_high_c=8.0,
        complete=True,
        tissue={},
    )


def noon(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC)


def wrapped(day: date, *names: str) -> Records:
    return Records(
        deeds=[
            Deed(tree=name, kind=DeedKind.WRAPPED, state=CoverState.CLOSED, at_utc=noon(day))
            for name in names or ("Porch fig", "Kaki", "Satsuma")
        ]
    )


def of(jobs: Sequence[Job], kind: JobKind) -> list[Job]:
    return [job for job in jobs if job.kind is kind]


def whole_year(facts: GardenFacts) -> list[Job]:
    year = facts.year_of(facts.today)
    return jobs_due(facts, year.start, year.last)


# What a careful grower in a cold valley would sign, as (first month, last month) of the northern year.
SEASONS: Final = {
    JobKind.TAPER: (8, 9),
    JobKind.CHECK_SUPPLIES: (8, 10),
    JobKind.LOCATE_LINES: (9, 10),
    JobKind.COUNT_FRUIT: (9, 10),
    JobKind.LAST_PICK: (9, 10),
    JobKind.TAKE_CUTTINGS: (10, 11),
    JobKind.TIE_BRANCHES: (10, 11),
    JobKind.PRUNE_TO_FIT: (10, 11),
    JobKind.WRAP: (10, 11),
    JobKind.FILL: (11, 12),
    JobKind.SNOW: (12, 2),
    JobKind.WATER: (11, 3),
    JobKind.LOOK_FOR_VOLES: (10, 3),  # the guard goes in before the straw
    JobKind.WAKE_EARLY: (3, 4),
    JobKind.STRIP: (4, 4),
    JobKind.DRY_AND_STORE: (4, 5),
    JobKind.MULCH: (4, 5),
    JobKind.SCRATCH_TEST: (5, 5),
    JobKind.MEASURE_DIEBACK: (5, 6),
    JobKind.REVIEW_WINTER: (6, 6),
}
# What only the forecast, the plan or the grower's deeds bring up.
OF_THE_DAY: Final = {
    JobKind.CLOSE,
    JobKind.OPEN,
    JobKind.VENT,
    JobKind.CLOSE_FOR_FROST,
    JobKind.CHECK_STRAPS,
}
HARMLESS: Final = {JobKind.TAPER, JobKind.COUNT_FRUIT, JobKind.WATER, JobKind.REVIEW_WINTER}
# The dangers of the safety chapter, job by job.
DANGERS: Final = {
    JobKind.LOCATE_LINES: {Caution.BURIED_LINES, Caution.STAKE_ENDS},
    JobKind.CHECK_SUPPLIES: {Caution.HERBICIDE, Caution.STRAW_DUST},
    JobKind.LAST_PICK: {Caution.FIG_SAP, Caution.LADDER_WIND},
    JobKind.TAKE_CUTTINGS: {Caution.FIG_SAP},
    JobKind.PRUNE_TO_FIT: {Caution.FIG_SAP},
    JobKind.WRAP: {
        Caution.BURIED_LINES,
        Caution.STAKE_ENDS,
        Caution.STRAW_DUST,
        Caution.NO_HEAT,
        Caution.LADDER_WIND,
    },
    JobKind.FILL: {Caution.STRAW_DUST, Caution.NO_HEAT},
    JobKind.STRIP: {Caution.STRAW_DUST, Caution.LADDER_WIND},
    JobKind.DRY_AND_STORE: {Caution.STRAW_DUST, Caution.DAMP_STRAW},
    JobKind.MULCH: {Caution.HERBICIDE, Caution.STRAW_DUST},
    JobKind.CHECK_STRAPS: {Caution.LADDER_WIND},
    JobKind.SNOW: {Caution.LADDER_WIND},
    JobKind.CLOSE: {Caution.LADDER_WIND},
    JobKind.WAKE_EARLY: {Caution.LATE_FROST},
}


def months(first: int, last: int) -> set[int]:
    return {(first - 1 + i) % 12 + 1 for i in range((last - first) % 12 + 1)}


@pytest.mark.parametrize(("site", "shift"), [(NORTH, 0), (SOUTH, 6)])
@pytest.mark.parametrize("kind", SEASONS)
def test_each_job_of_the_year_comes_in_its_season(kind: JobKind, site: Site, shift: int) -> None:
    facts = garden(date(2026, 8, 20) if shift == 0 else date(2026, 2, 20), site, settings=EVERYTHING)
    found = of(whole_year(facts), kind)
    assert found, f"{kind} never comes"
    allowed = {(month - 1 + shift) % 12 + 1 for month in months(*SEASONS[kind])}
    assert {day.month for job in found for day in (job.from_day, job.by_day)} <= allowed


def test_every_kind_is_in_the_table_of_seasons_or_of_the_day() -> None:
    assert set(SEASONS) | OF_THE_DAY == set(JobKind)
    assert {rule.kind for rule in RULES} == set(JobKind)


@pytest.mark.parametrize(
    ("kind", "reason", "phase", "job"),
    [
        (DeedKind.WRAPPED, Reason.COLD, Phase.HARDENING, JobKind.WRAP),
        (DeedKind.CLOSED, Reason.COLD, Phase.RESTING, JobKind.CLOSE),
        (DeedKind.CLOSED, Reason.COLD, Phase.WAKING, JobKind.CLOSE_FOR_FROST),
        (DeedKind.VENTED, Reason.HARDEN, Phase.HARDENING, JobKind.OPEN),
        (DeedKind.VENTED, Reason.SOFTEN, Phase.RESTING, JobKind.VENT),
        (DeedKind.VENTED, Reason.HOT, Phase.RESTING, JobKind.VENT),
        (DeedKind.STRIPPED, Reason.RISK_OVER, Phase.WAKING, JobKind.STRIP),
    ],
)
def test_an_act_of_the_plan_is_shown_as_the_job_it_is(
    kind: DeedKind, reason: Reason, phase: Phase, job: JobKind
) -> None:
    day = date(2027, 1, 14)
    asked = act(kind, day, reason)
    facts = garden(day, trees=trees(CoverState.CLOSED, phase), acts=[asked])
    (found,) = [one for one in jobs_due(facts, day, day) if one.acts]
    assert (found.kind, found.trees, found.acts, found.minutes) == (job, ("Porch fig",), (asked,), 10.0)
    assert (found.reason, found.basis) == (JobReason.PLAN, Basis.FORECAST)


def test_every_job_has_reason_minutes_source_and_the_cautions_its_danger_asks_for() -> None:
    day = date(2027, 1, 14)
    windy = {day + timedelta(days=1): DayWeather(high_c=2.0, gust_m_s=20.0, snow_m=0.2)}
    wintry = garden(day, trees=trees(CoverState.CLOSED, Phase.RESTING), acts=[act(DeedKind.CLOSED, day)], days=windy)
    jobs = [*whole_year(garden(settings=EVERYTHING)), *jobs_due(wintry, day, day + timedelta(days=6))]
    for job in jobs:
        assert job.trees
        assert job.minutes > 0
        assert job.source
        assert job.from_day <= job.by_day
        assert bool(job.cautions) != (job.kind in HARMLESS) or "Porch fig" not in job.trees
    for kind, dangers in DANGERS.items():
        found = [job for job in of(jobs, kind) if "Porch fig" in job.trees]
        assert found, f"{kind} is not there"
        assert all(dangers <= set(job.cautions) for job in found)


def test_cautions_fit_the_tree() -> None:
    kaki_only = garden(trees=[TreeFacts(tree=KAKI, cover=Cover(name="wrap", preset=Preset.BURLAP))])
    for job in whole_year(kaki_only):
        strange = {Caution.FIG_SAP, Caution.STRAW_DUST, Caution.BURIED_LINES, Caution.HERBICIDE}
        assert not set(job.cautions) & strange


def test_a_tree_to_be_bent_down_asks_for_two() -> None:
    mound = garden(trees=[TreeFacts(tree=FIG, cover=Cover(name="mound", preset=Preset.MOUND))])
    assert all(Caution.TWO_PEOPLE in job.cautions for job in of(whole_year(mound), JobKind.WRAP))


def test_pots_take_no_stakes_and_no_mulch_and_harbour_no_voles() -> None:
    potted = garden(trees=[TreeFacts(tree=POT, cover=BOX, state=CoverState.BARE)])
    kinds = {job.kind for job in whole_year(potted)}
    assert not kinds & {JobKind.LOCATE_LINES, JobKind.MULCH, JobKind.LOOK_FOR_VOLES}
    assert JobKind.WRAP in kinds
    lines = {line.kind for job in whole_year(potted) for line in job.supplies}
    assert SupplyKind.STRAW in lines
    assert SupplyKind.STAKES not in lines


weathers = st.builds(
    DayWeather,
    high_c=st.floats(-30, 40),
    mean_c=st.none() | st.floats(-35, 30),
    gust_m_s=st.none() | st.floats(0, 40),
    fallen_mm=st.none() | st.floats(0, 80),
    snow_m=st.none() | st.floats(0, 1),
    snow_c=st.none() | st.floats(-15, 3),
)


@given(
    st.dates(date(2026, 7, 1), date(2027, 6, 30)),
    st.sampled_from(list(CoverState)),
    st.sampled_from(list(Phase)),
    st.lists(weathers, max_size=12),
)
def test_a_tree_left_bare_on_purpose_is_only_looked_at_and_nobody_is_called_to_it(
    today: date, state: CoverState, phase: Phase, weather: list[DayWeather]
) -> None:
    bare = [TreeFacts(tree=TWIN, cover=CAGE, state=state, phase=phase, nights=[night(today, -20.0)])]
    acts = [act(kind, today, tree="Trial fig") for kind in DeedKind]
    days = {today + timedelta(days=i - 4): one for i, one in enumerate(weather)}
    facts = garden(today, trees=bare, acts=acts, days=days, settings=EVERYTHING)
    assert {job.kind for job in whole_year(facts)} == set(JobKind) - COVER_JOBS
    assert jobs_to_announce(facts) == []


def test_jobs_at_one_tree_name_it_alone_with_its_own_minutes() -> None:
    facts = garden(date(2027, 5, 1))
    due = jobs_due(facts, date(2027, 5, 1), date(2027, 5, 7))
    (scratch,) = of(jobs_at(due, ["Kaki"]), JobKind.SCRATCH_TEST)
    assert (scratch.trees, scratch.minutes) == (("Kaki",), 5.0)
    year = whole_year(garden())
    (shed,) = of(jobs_at(year, ["Kaki"]), JobKind.CHECK_SUPPLIES)
    assert shed == of(year, JobKind.CHECK_SUPPLIES)[0]  # one look into the shed is for all
    assert jobs_at(year, ["Nowhere"]) == []


def test_a_twin_left_bare_is_looked_at_on_the_same_visit_as_its_covered_neighbour() -> None:
    facts = garden(date(2027, 5, 1))
    (scratch,) = of(jobs_to_announce(facts), JobKind.SCRATCH_TEST)
    assert {"Porch fig", "Trial fig"} <= set(scratch.trees)


@pytest.mark.parametrize("kind", JobKind)
def test_what_is_switched_off_never_comes(kind: JobKind) -> None:
    day = date(2027, 1, 14)
    acts = [act(deed, day) for deed in DeedKind]
    days = {day: DayWeather(high_c=5.0, gust_m_s=25.0, snow_m=0.3)}
    for facts in (garden(), garden(day, trees=trees(CoverState.CLOSED), acts=acts, days=days)):
        off = replace(facts, settings={kind: JobSettings(on=False)})
        assert not of(whole_year(off), kind)


def test_waking_early_is_asked_only_of_who_wants_it() -> None:
    assert not of(whole_year(garden()), JobKind.WAKE_EARLY)
    assert of(whole_year(garden(settings=EVERYTHING)), JobKind.WAKE_EARLY)


def test_the_grower_s_minutes_and_days_of_warning_replace_ours() -> None:
    tuned = garden(settings={JobKind.TAPER: JobSettings(minutes=7, lead_days=30)})
    (job,) = of(whole_year(tuned), JobKind.TAPER)
    assert (job.minutes, job.lead_days) == (7.0 * len(job.trees), 30)


def test_wrong_settings_are_refused() -> None:
    with pytest.raises(ValidationError, match="greater than or equal to 0"):
        JobSettings(minutes=-1)


@given(st.sampled_from([k for k in SEASONS if k not in {JobKind.WATER, JobKind.LOOK_FOR_VOLES}]), st.integers(-20, 60))
def test_a_job_done_or_refused_does_not_come_back_that_season(kind: JobKind, days_after: int) -> None:
    facts = garden(settings=EVERYTHING)
    first = of(whole_year(facts), kind)[0]
    once = next(rule.rests_days is None for rule in RULES if rule.kind is kind)
    at = first.from_day + timedelta(days=days_after if once else (first.by_day - first.from_day).days)
    for state in (MarkState.DONE, MarkState.REFUSED):
        marks = [JobMark(kind=kind, tree=tree, state=state, at_utc=noon(at)) for tree in first.trees]
        left = of(whole_year(replace(facts, marks=marks)), kind)
        assert not [job for job in left if set(job.trees) & set(first.trees) and job.from_day <= first.by_day]


def test_what_is_done_this_season_is_due_again_the_next() -> None:
    done = JobMark(kind=JobKind.REVIEW_WINTER, state=MarkState.DONE, at_utc=noon(date(2027, 6, 20)))
    facts = garden(date(2027, 6, 21), marks=[done])
    assert not of(jobs_due(facts, date(2027, 6, 1), date(2027, 6, 30)), JobKind.REVIEW_WINTER)
    assert of(jobs_due(facts, date(2028, 6, 1), date(2028, 6, 30)), JobKind.REVIEW_WINTER)


def test_a_monthly_job_done_rests_four_weeks_and_then_comes_again() -> None:
    done = JobMark(kind=JobKind.WATER, tree="Kaki", state=MarkState.DONE, at_utc=noon(date(2027, 1, 20)))
    facts = garden(date(2027, 1, 21), marks=[done])
    kaki = [
        job for job in of(jobs_due(facts, date(2027, 1, 21), date(2027, 3, 31)), JobKind.WATER) if "Kaki" in job.trees
    ]
    assert kaki[0].from_day == date(2027, 2, 17)  # 20 January and 28 days


def test_refusing_a_monthly_job_silences_it_for_the_winter() -> None:
    no = JobMark(kind=JobKind.WATER, tree="Kaki", state=MarkState.REFUSED, at_utc=noon(date(2026, 11, 10)))
    left = of(whole_year(garden(date(2026, 11, 11), marks=[no])), JobKind.WATER)
    assert left
    assert not [job for job in left if "Kaki" in job.trees]


def test_a_job_put_off_comes_on_the_day_it_was_put_off_to() -> None:
    until = date(2026, 12, 1)
    later = JobMark(
        kind=JobKind.PRUNE_TO_FIT, tree="Kaki", state=MarkState.PUT_OFF, at_utc=noon(date(2026, 11, 1)), until=until
    )
    found = of(whole_year(garden(date(2026, 11, 2), marks=[later])), JobKind.PRUNE_TO_FIT)
    assert [(job.from_day, job.by_day) for job in found if "Kaki" in job.trees] == [(until, until)]


def test_putting_off_needs_its_day_and_only_putting_off_has_one() -> None:
    with pytest.raises(ValueError, match="a day belongs to put off"):
        JobMark(kind=JobKind.WRAP, state=MarkState.PUT_OFF, at_utc=noon(AUTUMN))
    with pytest.raises(ValueError, match="a day belongs to put off"):
        JobMark(kind=JobKind.WRAP, state=MarkState.DONE, at_utc=noon(AUTUMN), until=AUTUMN)


def test_an_act_asked_for_another_day_is_not_silenced_by_yesterday_s() -> None:
    day = date(2027, 1, 14)
    marks = [JobMark(kind=JobKind.CLOSE, tree="Porch fig", state=state, at_utc=noon(day))
             for state in (MarkState.DONE, MarkState.REFUSED)]  # fmt: skip
    acts = [act(DeedKind.CLOSED, day), act(DeedKind.CLOSED, day + timedelta(days=3))]
    facts = garden(day, trees=trees(CoverState.VENTED, Phase.RESTING), acts=acts, marks=marks)
    (found,) = of(jobs_due(facts, day, day + timedelta(days=6)), JobKind.CLOSE)
    assert found.from_day == day + timedelta(days=3)


def test_ripe_fruit_comes_in_on_the_eve_of_the_first_killing_night() -> None:
    evening = date(2026, 10, 3)
    nights = [night(date(2026, 10, 1), 4.0), night(date(2026, 10, 2), 0.5), night(evening, -3.0)]
    facts = garden(date(2026, 10, 1), trees=[TreeFacts(tree=FIG, phase=Phase.RIPENING, nights=nights)])
    (job,) = of(jobs_due(facts, date(2026, 10, 1), date(2026, 10, 7)), JobKind.LAST_PICK)
    assert (job.from_day, job.by_day, job.basis) == (date(2026, 10, 1), evening, Basis.FORECAST)
    assert job.amount == pytest.approx(NormalDist().cdf(0.8), abs=1e-3)  # -3 ± 1 °C, and -2.2 °C kills


def test_no_fruit_is_asked_for_of_a_leafless_tree() -> None:
    facts = garden(date(2026, 11, 20), trees=[TreeFacts(tree=FIG, phase=Phase.HARDENING, nights=[night(AUTUMN, -9.0)])])
    assert not of(jobs_due(facts, date(2026, 11, 20), date(2026, 11, 27)), JobKind.LAST_PICK)


def test_a_mild_forecast_moves_the_pick_beyond_it() -> None:
    nights = [night(date(2026, 10, 1) + timedelta(days=i), 8.0) for i in range(8)]
    facts = garden(date(2026, 10, 1), trees=[TreeFacts(tree=FIG, phase=Phase.RIPENING, nights=nights)])
    (job,) = of(jobs_due(facts, date(2026, 10, 1), date(2026, 10, 31)), JobKind.LAST_PICK)
    assert job.from_day == date(2026, 10, 9)


def test_straps_are_checked_before_the_wind_and_after_it() -> None:
    today, gale = date(2027, 1, 10), date(2027, 1, 13)
    days = {today + timedelta(days=i): DayWeather(high_c=3.0, gust_m_s=4.0) for i in range(8)}
    days[gale] = DayWeather(high_c=3.0, gust_m_s=22.0)
    facts = garden(today, trees=trees(CoverState.CLOSED, Phase.RESTING), days=days)
    before, after = of(jobs_due(facts, today, date(2027, 1, 17)), JobKind.CHECK_STRAPS)
    assert (before.by_day, before.reason, before.amount) == (date(2027, 1, 12), JobReason.WIND_COMING, 22.0)
    assert (after.from_day, after.reason) == (date(2027, 1, 14), JobReason.WIND_PAST)
    assert before.trees == ("Porch fig", "Kaki", "Satsuma")


def test_no_straps_are_checked_where_no_cover_is_on() -> None:
    days = {date(2027, 1, 13): DayWeather(high_c=3.0, gust_m_s=22.0)}
    facts = garden(date(2027, 1, 10), days=days)
    assert not of(jobs_due(facts, date(2027, 1, 10), date(2027, 1, 17)), JobKind.CHECK_STRAPS)


def snowy(today: date, *depths_m: float, air_c: float = -4.0) -> dict[date, DayWeather]:
    """Days from today on with this much new snow each."""
    return {
        today + timedelta(days=i): DayWeather(
            high_c=-1.0, gust_m_s=3.0, fallen_mm=1.0, snow_m=depth_m, snow_c=air_c if depth_m else None
        )
        for i, depth_m in enumerate(depths_m)
    }


def test_new_snow_is_a_job_and_a_dusting_is_none() -> None:
    today = date(2027, 1, 10)
    for depth_m, wanted in ((0.15, True), (0.06, True), (0.04, False), (0.01, False)):
        facts = garden(today, trees=trees(CoverState.CLOSED, Phase.RESTING), days=snowy(today, depth_m))
        assert bool(of(jobs_due(facts, today, today), JobKind.SNOW)) is wanted


def test_a_fall_over_several_days_is_one_job_from_the_day_it_is_deep_till_the_day_after_it() -> None:
    today = date(2027, 1, 10)
    facts = garden(today, trees=trees(CoverState.CLOSED, Phase.RESTING), days=snowy(today, 0, 0.02, 0.04, 0.02, 0))
    (job,) = of(jobs_due(facts, today, today + timedelta(days=4)), JobKind.SNOW)
    assert (job.from_day, job.by_day) == (date(2027, 1, 12), date(2027, 1, 14))
    assert job.amount == pytest.approx(0.08)
    assert (job.reason, job.basis) == (JobReason.SNOW_FELL, Basis.FORECAST)
    assert Caution.LADDER_WIND in job.cautions


def test_wet_snow_is_knocked_off_bare_branches_too_and_dry_snow_only_off_crowns_in_leaf() -> None:
    """An evergreen's leaves hold any snow: common practice, no source. One word for a fall that turns wet later."""
    today = date(2027, 4, 20)
    for air_c, wanted in ((-6.0, {"Satsuma"}), (0.2, {"Porch fig", "Kaki", "Satsuma"})):
        facts = garden(today, trees=trees(CoverState.BARE, Phase.WAKING), days=snowy(today, 0.12, air_c=air_c))
        jobs = of(jobs_due(facts, today, today + timedelta(days=2)), JobKind.SNOW)
        assert {tree for job in jobs for tree in job.trees} == wanted  # never the tree left bare on purpose
        assert all(job.reason is (JobReason.WET_SNOW if air_c > 0 else JobReason.SNOW_FELL) for job in jobs)


def test_snow_is_asked_for_again_while_it_snows_on_and_not_once_refused() -> None:
    today = date(2027, 1, 10)
    facts = garden(today, trees=trees(CoverState.CLOSED)[:1], days=snowy(today, 0.10, 0.10, 0.10))
    done = JobMark(kind=JobKind.SNOW, tree="Porch fig", state=MarkState.DONE, at_utc=noon(today))
    (job,) = of(jobs_due(replace(facts, marks=[done]), today, today + timedelta(days=3)), JobKind.SNOW)
    assert job.from_day == today + timedelta(days=1)
    refused = replace(done, state=MarkState.REFUSED)
    assert not of(jobs_due(replace(facts, marks=[refused]), today, today + timedelta(days=3)), JobKind.SNOW)


def test_where_nobody_tells_of_snow_wind_or_rain_the_calendar_speaks_and_says_so() -> None:
    today = date(2027, 1, 10)
    days = {today + timedelta(days=i): DayWeather(high_c=8.0) for i in range(6)}
    film = Cover(name="film", preset=Preset.STRAW_BLANKET_FILM)
    facts = garden(today, trees=[TreeFacts(tree=FIG, cover=film, state=CoverState.CLOSED)], days=days)
    jobs = jobs_due(facts, today, today + timedelta(days=6))
    found = {job.kind: job for job in jobs if job.kind in (JobKind.SNOW, JobKind.CHECK_STRAPS, JobKind.WATER)}
    assert {kind: job.reason for kind, job in found.items()} == {
        JobKind.SNOW: JobReason.SNOW_UNTOLD,
        JobKind.CHECK_STRAPS: JobReason.WIND_UNTOLD,
        JobKind.WATER: JobReason.RAIN_UNTOLD,
    }
    assert found[JobKind.WATER].amount is None


def test_straps_are_not_looked_at_by_the_calendar_where_the_wind_is_told() -> None:
    today = date(2027, 1, 10)
    days = {today + timedelta(days=i): DayWeather(high_c=8.0, gust_m_s=4.0) for i in range(6)}
    film = Cover(name="film", preset=Preset.STRAW_BLANKET_FILM)
    facts = garden(today, trees=[TreeFacts(tree=FIG, cover=film, state=CoverState.CLOSED)], days=days)
    assert not of(whole_year(facts), JobKind.CHECK_STRAPS)


def month_of(today: date, fallen_mm: float | None, days: int = 30) -> dict[date, DayWeather]:
    """The days before today with so much rain each."""
    return {
        today - timedelta(days=i): DayWeather(high_c=5.0, mean_c=1.0, gust_m_s=2.0, fallen_mm=fallen_mm)
        for i in range(1, days + 1)
    }


def test_roots_are_watered_on_a_mild_day_of_a_dry_month_and_not_after_rain() -> None:
    # above 40 °F = 4.4 °C, monthly November to March: Klett & Wilson 2008, Colorado State University Extension
    today = date(2027, 1, 10)
    cold = {today + timedelta(days=i): DayWeather(high_c=1.0, gust_m_s=2.0) for i in range(6)}
    mild = cold | {date(2027, 1, 13): DayWeather(high_c=8.0, gust_m_s=2.0)}
    (job,) = of(jobs_due(garden(today, days=mild), today, today + timedelta(days=6)), JobKind.WATER)
    assert (job.from_day, job.basis, job.reason) == (date(2027, 1, 13), Basis.FORECAST, JobReason.RAIN_UNTOLD)
    rainy = garden(today, days=mild | month_of(today, 2.0))
    assert not of(jobs_due(rainy, today, date(2027, 1, 31)), JobKind.WATER)
    dry = garden(today, days=mild | month_of(today, 0.2))
    (job,) = of(jobs_due(dry, today, date(2027, 1, 31)), JobKind.WATER)
    assert job.reason is JobReason.DRY_WINTER
    assert job.amount == pytest.approx(6.0)
    assert not of(jobs_due(garden(today, days=cold), today, today + timedelta(days=5)), JobKind.WATER)


def test_a_week_of_rain_to_come_waters_and_a_wet_week_told_is_enough() -> None:
    today = date(2027, 1, 10)
    ahead = {
        today + timedelta(days=i): DayWeather(high_c=8.0, mean_c=5.0, gust_m_s=2.0, fallen_mm=6.0) for i in range(6)
    }
    coming = garden(today, days=ahead | month_of(today, 0.0))
    assert not of(jobs_due(coming, today, date(2027, 1, 31)), JobKind.WATER)
    gone = garden(today, days=month_of(today, 4.0, days=7))  # 28 mm: whatever the days before held
    assert not of(jobs_due(gone, today, date(2027, 1, 31)), JobKind.WATER)
    half = garden(today, days=month_of(today, 0.0, days=20))  # nothing is known of ten days: not known to be dry
    (job,) = of(jobs_due(half, today, date(2027, 1, 31)), JobKind.WATER)
    assert job.reason is JobReason.RAIN_UNTOLD


@pytest.mark.parametrize(
    ("yesterdays", "why"),
    [
        (DayWeather(high_c=-2.0, mean_c=-8.0, fallen_mm=0.0), "the ground is frozen"),
        (DayWeather(high_c=5.0, mean_c=2.0, fallen_mm=1.0, snow_m=0.03, snow_c=-2.0), "snow lies"),
    ],
)
def test_no_water_on_frozen_ground_or_on_snow(yesterdays: DayWeather, why: str) -> None:
    # no snow cover, air and soil above 4.4 °C: Klett & Wilson 2008; the mean of three days for the soil is assumed
    today = date(2027, 1, 10)
    before = month_of(today, 0.0) | {today - timedelta(days=i): yesterdays for i in (1, 2)}
    ahead = {today: DayWeather(high_c=9.0, mean_c=4.0, fallen_mm=0.0)}
    later = {today + timedelta(days=i): DayWeather(high_c=9.0, mean_c=4.0, fallen_mm=0.0) for i in (1, 2, 3)}
    (job,) = of(jobs_due(garden(today, days=before | ahead | later), today, date(2027, 1, 31)), JobKind.WATER)
    assert job.from_day > today, why
    thawed = before | month_of(today, 0.0) | ahead
    (job,) = of(jobs_due(garden(today, days=thawed), today, date(2027, 1, 31)), JobKind.WATER)
    assert job.from_day == today


def test_fill_is_topped_up_a_fortnight_after_wrapping() -> None:
    facts = garden(date(2026, 11, 25), records=wrapped(date(2026, 11, 20)), trees=trees(CoverState.CLOSED))
    (job,) = of(whole_year(facts), JobKind.FILL)
    assert (job.from_day, job.by_day, job.basis) == (date(2026, 12, 4), date(2026, 12, 18), Basis.RECORD)


def test_what_is_not_on_yet_is_neither_topped_up_nor_freed_of_snow_now() -> None:
    today = date(2027, 1, 10)
    facts = garden(today, trees=trees(CoverState.BARE))
    near = jobs_due(facts, today, today + timedelta(days=14))
    assert not of(near, JobKind.FILL)
    assert not of(near, JobKind.SNOW)


def test_a_cover_put_on_against_a_late_frost_is_not_topped_up() -> None:
    facts = garden(date(2027, 4, 2), records=wrapped(date(2027, 4, 1)), trees=trees(CoverState.CLOSED))
    assert not of(whole_year(facts), JobKind.FILL)


def test_once_wrapped_nothing_is_left_to_prepare() -> None:
    facts = garden(date(2026, 11, 25), records=wrapped(date(2026, 11, 20)), trees=trees(CoverState.CLOSED))
    before = {JobKind.CHECK_SUPPLIES, JobKind.LOCATE_LINES, JobKind.TIE_BRANCHES, JobKind.PRUNE_TO_FIT, JobKind.WRAP}
    assert not {job.kind for job in whole_year(facts)} & before


def test_no_cuttings_are_asked_of_a_tree_in_its_cover() -> None:
    covered = garden(date(2026, 10, 25), records=wrapped(date(2026, 10, 20)), trees=trees(CoverState.CLOSED)[:1])
    bare = garden(date(2026, 10, 25), trees=trees(CoverState.BARE)[:1])
    winter = date(2026, 10, 25), date(2027, 2, 28)
    assert of(jobs_due(bare, *winter), JobKind.TAKE_CUTTINGS)
    assert not of(jobs_due(covered, *winter), JobKind.TAKE_CUTTINGS)


def test_straw_becomes_mulch_after_the_cover_came_off() -> None:
    off = date(2027, 4, 10)
    stripped = Deed(tree="Porch fig", kind=DeedKind.STRIPPED, state=CoverState.BARE, at_utc=noon(off))
    records = Records(deeds=[*wrapped(date(2026, 11, 20)).deeds, stripped])
    facts = garden(date(2027, 4, 11), records=records, trees=trees(CoverState.BARE, Phase.WAKING)[:1])
    jobs = jobs_due(facts, date(2027, 4, 11), date(2027, 4, 30))
    assert {(job.kind, job.from_day) for job in jobs if job.basis is Basis.RECORD} == {
        (JobKind.DRY_AND_STORE, date(2027, 4, 11)),
        (JobKind.MULCH, date(2027, 4, 11)),
    }
    assert not of(jobs, JobKind.STRIP)


@pytest.mark.parametrize("today", [date(2027, 4, 20), date(2027, 5, 30)])
def test_a_cover_still_on_in_spring_is_to_come_off_where_no_forecast_lets_a_plan_ask_for_it(today: date) -> None:
    facts = garden(today, records=wrapped(date(2026, 11, 20)), trees=trees(CoverState.CLOSED, Phase.WAKING)[:1])
    (job,) = of(jobs_to_announce(facts), JobKind.STRIP)
    assert job.reason is JobReason.RISK_FADES
    assert job.from_day - timedelta(days=job.lead_days) <= today < job.by_day


def test_while_a_forecast_tells_the_plan_alone_says_when_a_cover_comes_off() -> None:
    today = date(2027, 4, 20)
    one = replace(trees(CoverState.CLOSED, Phase.WAKING)[0], nights=[night(date(2027, 4, 24), 6.0)])
    facts = garden(today, records=wrapped(date(2026, 11, 20)), trees=[one])
    assert not of(jobs_to_announce(facts), JobKind.STRIP)
    asked = replace(facts, acts=[act(DeedKind.STRIPPED, today, Reason.RISK_OVER)])
    assert of(jobs_to_announce(asked), JobKind.STRIP)


def test_a_cover_taken_off_in_the_fall_for_a_while_is_not_the_end_of_the_season() -> None:
    off = Deed(tree="Porch fig", kind=DeedKind.STRIPPED, state=CoverState.BARE, at_utc=noon(date(2026, 11, 25)))
    records = Records(deeds=[*wrapped(date(2026, 11, 5)).deeds, off])
    jobs = whole_year(garden(date(2026, 11, 26), records=records, trees=trees()[:1]))
    assert not [job for job in of(jobs, JobKind.MULCH) if job.basis is Basis.RECORD]
    assert of(jobs, JobKind.STRIP)


def test_leaves_seen_to_drop_open_the_season_of_the_knife() -> None:
    seen = Sighting(tree="Porch fig", sight=SightingKind.LEAVES_DROPPED, at_utc=noon(date(2026, 10, 22)))
    jobs = of(whole_year(garden(date(2026, 10, 23), records=Records(sightings=[seen]))), JobKind.PRUNE_TO_FIT)
    assert {job.from_day for job in jobs if "Porch fig" in job.trees} == {date(2026, 10, 22)}


def freezes(which: WhichFreeze, safe: date | None, half: date | None, share: float | None = 1.0) -> FreezeDates:
    return FreezeDates(
        which=which, threshold_c=-2.2, safe=safe, half=half, bold=half, share=share, winters=30, doubts=()
    )


def test_past_winters_move_the_season_and_say_so() -> None:
    known = freezes(WhichFreeze.FIRST_IN_AUTUMN, date(2026, 11, 10), date(2026, 11, 25))
    one = TreeFacts(tree=FIG, cover=CAGE, state=CoverState.BARE, phase=Phase.RIPENING, first_freeze=known)
    (job,) = of(whole_year(garden(trees=[one])), JobKind.TAPER)
    assert (job.from_day, job.by_day) == (date(2026, 9, 26), date(2026, 10, 26))  # 60 and 30 days before
    assert job.basis is Basis.PAST_WINTERS
    assert {job.basis for job in of(whole_year(garden()), JobKind.TAPER)} == {Basis.CALENDAR}


def test_where_it_never_freezes_nothing_is_asked_before_the_freeze() -> None:
    never = freezes(WhichFreeze.FIRST_IN_AUTUMN, None, None, share=0.02)
    late = freezes(WhichFreeze.LAST_IN_SPRING, None, None, share=0.02)
    one = TreeFacts(tree=FIG, cover=CAGE, state=CoverState.BARE, first_freeze=never, first_too_cold=never,
                    last_too_cold=late, last_freeze=late)  # fmt: skip
    kinds = {job.kind for job in whole_year(garden(trees=[one]))}
    assert not kinds & {JobKind.TAPER, JobKind.LAST_PICK, JobKind.WRAP, JobKind.STRIP, JobKind.SNOW}


def test_the_plan_s_wrapping_replaces_the_season_s_and_lists_its_straw() -> None:
    day = date(2026, 11, 2)
    facts = garden(day, acts=[act(DeedKind.WRAPPED, day, tree="Kaki")], shed=Shed(have={SupplyKind.STRAW: 1}))
    jobs = of(jobs_due(facts, day, date(2026, 11, 30)), JobKind.WRAP)
    assert [job.basis for job in jobs if "Kaki" in job.trees] == [Basis.FORECAST]
    straw = {line.kind: line for line in jobs[0].supplies}[SupplyKind.STRAW]
    assert (jobs[0].trees, straw.buy) == (("Kaki",), 2)  # three bales, one in the shed


def test_the_same_bales_are_not_promised_to_two_wrappings() -> None:
    first, second = date(2026, 11, 2), date(2026, 11, 4)
    acts = [act(DeedKind.WRAPPED, first, tree="Kaki"), act(DeedKind.WRAPPED, second)]
    facts = garden(first, acts=acts, shed=Shed(have={SupplyKind.STRAW: 4}), trees=trees()[:2])
    bought = [
        {line.kind: line.buy for line in job.supplies}[SupplyKind.STRAW]
        for job in of(jobs_due(facts, first, second), JobKind.WRAP)
    ]
    assert bought == [0, 2]  # 54.3 of 72 kg go to the first; 36.6 kg are missing for the second: two bales of 18


def test_trees_that_need_the_same_share_one_job_and_its_minutes_add_up() -> None:
    (job,) = of(whole_year(garden()), JobKind.TAPER)
    assert job.trees == ("Porch fig", "Kaki", "Satsuma")
    assert job.minutes == 15.0


def test_jobs_stand_under_the_first_day_on_which_they_can_be_done() -> None:
    first = date(2026, 10, 1)
    days = jobs_by_day(jobs_due(garden(first), first, date(2026, 10, 31)), first)
    assert list(days) == sorted(days)
    assert all(day == max(job.from_day, first) for day, jobs in days.items() for job in jobs)


def test_a_job_is_announced_within_its_days_of_warning_and_not_before() -> None:
    (taper,) = of(whole_year(garden()), JobKind.TAPER)
    for ahead, wanted in ((taper.lead_days, True), (taper.lead_days + 1, False)):
        facts = garden(taper.from_day - timedelta(days=ahead))
        assert bool(of(jobs_to_announce(facts), JobKind.TAPER)) is wanted


def test_a_job_that_begins_soon_at_other_trees_is_announced_along_and_never_twice_at_the_same() -> None:
    facts = garden(date(2026, 9, 1))
    (taper,) = of(whole_year(facts), JobKind.TAPER)
    day = taper.from_day - timedelta(days=taper.lead_days)
    first = replace(taper, trees=("Porch fig",))
    later = replace(taper, from_day=taper.from_day + timedelta(days=10))
    assert comes_with(replace(later, trees=("Kaki",)), [first], day)
    assert not comes_with(replace(later, trees=("Porch fig",)), [first], day)
    assert not comes_with(replace(later, trees=("Kaki",), from_day=taper.from_day + timedelta(days=15)), [first], day)
    assert not comes_with(replace(later, trees=("Kaki",), kind=JobKind.WATER), [first], day)


def test_next_may_can_be_asked_in_autumn_and_july_belongs_to_the_next_year() -> None:
    kinds = {job.kind for job in jobs_due(garden(), date(2027, 5, 1), date(2027, 5, 31))}
    assert {JobKind.SCRATCH_TEST, JobKind.MEASURE_DIEBACK, JobKind.MULCH} <= kinds
    assert of(jobs_due(garden(), date(2027, 8, 1), date(2027, 8, 31)), JobKind.TAPER)


@pytest.mark.parametrize("days", [-1, 401])
def test_days_that_run_backwards_or_too_far_are_refused(days: int) -> None:
    with pytest.raises(ValueError, match="days due must run forward"):
        jobs_due(garden(), AUTUMN, AUTUMN + timedelta(days=days))


def test_the_same_facts_give_the_same_jobs() -> None:
    assert whole_year(garden()) == whole_year(garden())


@given(st.dates(date(2024, 1, 1), date(2030, 12, 31)), st.floats(-60, 60))
def test_every_day_lies_in_one_year_and_finds_itself_there(day: date, latitude_deg: float) -> None:
    year = JobYear.of(day, latitude_deg)
    assert year.start <= day <= year.last
    assert year.same_day(day) == day
    assert JobYear.of(year.last + timedelta(days=1), latitude_deg).start == year.last + timedelta(days=1)


def hardiness_of(phase: Phase) -> Hardiness:
    return Hardiness(
        day=AUTUMN,
        phase=phase,
        lt10_c=-5.0,
        lt50_c=-8.0,
        sd_c=1.5,
        watched=Organ.WOOD,
        source=HardinessSource.TABLE,
        label="",
        chill_met=False,
        organs={},
        effects=(),
        doubts=(),
    )


def twenty_winters() -> DailyMinima:
    """+10 °C but for frosts: -3 from 20 October, -6 from 20 November to 10 March, -3 again to 25 April."""
    first, last = date(2000, 8, 1), date(2020, 7, 31)
    days = [first + timedelta(days=i) for i in range((last - first).days + 1)]
    mild, hard = (10, 20), (11, 20)
    minima = [
        -6.0 if (day.month, day.day) >= hard or (day.month, day.day) <= (3, 10)
        else -3.0 if (day.month, day.day) >= mild or (day.month, day.day) <= (4, 25)
        else 10.0
        for day in days
    ]  # fmt: skip
    return DailyMinima(first=first, min_c=np.array(minima))


def test_freeze_dates_of_past_winters_reach_the_rules_each_at_its_own_threshold() -> None:
    margins = TreeMargins(
        tree=FIG, cover=CAGE, state=CoverState.BARE, hardiness=hardiness_of(Phase.RIPENING), nights=(), doubts=()
    )
    facts = garden_facts(NORTH, [margins], AUTUMN, past=twenty_winters())
    one = facts.trees[0]
    # fig (starting table): -2.2 kills the crop, half-hardened wood safe to -5, waking wood -3.5, green shoots -1
    days = [dates.half for dates in (one.first_freeze, one.first_too_cold, one.last_too_cold, one.last_freeze) if dates]
    expected = [date(2026, 10, 20), date(2026, 11, 20), date(2027, 3, 10), date(2027, 4, 25)]
    # leap years shift a day of the year by one
    assert [abs((day - wanted).days) <= 1 for day, wanted in zip(days, expected, strict=True) if day] == [True] * 4
    (wrap,) = of(whole_year(facts), JobKind.WRAP)
    assert wrap.basis is Basis.PAST_WINTERS


def test_the_grower_s_own_number_and_the_tree_s_offset_move_its_dates() -> None:
    own = FIG.model_copy(update={"safe_to_c": {Phase.HARDENING: -2.5}})
    margins = [
        TreeMargins(tree=t, cover=CAGE, state=None, hardiness=hardiness_of(Phase.RIPENING), nights=(), doubts=())
        for t in (own, KAKI)
    ]
    facts = garden_facts(NORTH, margins, AUTUMN, past=twenty_winters(), offsets_c={"Kaki": 20.0})
    tender, warm = facts.trees
    assert tender.first_too_cold
    assert tender.first_too_cold.half in {date(2026, 10, 19), date(2026, 10, 20), date(2026, 10, 21)}
    assert warm.first_freeze
    assert (warm.first_freeze.half, warm.first_freeze.share) == (None, 0.0)


def hours_of(air_c: Hours, **fields: Hours) -> HourlyWeather:
    """Hours from 10 January 2027, midnight UTC; what is not given is not told."""
    blank = dict.fromkeys(("dew_point_c", "wind_m_s", "gust_m_s", "cloud_fraction", "sun_w_m2"), air_c * np.nan)
    return HourlyWeather(start_utc=datetime(2027, 1, 10, tzinfo=UTC), air_c=air_c, **(blank | fields))


def test_days_of_the_weather_are_local_and_short_ones_are_left_out() -> None:
    hours = 40
    air = np.full(hours, 2.0)
    air[30] = 9.0
    gust = np.where(np.arange(hours) == 31, 18.0, 5.0)
    weather = hours_of(air, wind_m_s=np.full(hours, 3.0), gust_m_s=gust)
    assert days_of(weather, NORTH) == {
        date(2027, 1, 10): DayWeather(high_c=2.0, mean_c=2.0, gust_m_s=5.0),
        date(2027, 1, 11): DayWeather(high_c=9.0, mean_c=(15 * 2.0 + 9.0) / 16, gust_m_s=18.0),
    }
    east = Site(latitude_deg=45, longitude_deg=150, elevation_m=0, time_zone="Etc/GMT-10")
    # from 10:00 on the 10th (14 hours) to 01:00 on the 12th (2 hours)
    assert set(days_of(weather, east)) == {date(2027, 1, 10), date(2027, 1, 11)}


def test_gusts_nobody_tells_are_those_that_go_with_the_mean_wind_and_no_wind_told_is_no_calm() -> None:
    # 3 s in 10 min, inland: 1.66 times the mean (Harper, Kepert & Ginger 2010, WMO/TD-1555, from memory)
    air = np.full(24, 2.0)
    (day,) = days_of(hours_of(air, wind_m_s=np.full(24, 10.0)), NORTH).values()
    assert day.gust_m_s == pytest.approx(16.6)
    (silent,) = days_of(hours_of(air), NORTH).values()
    assert silent.gust_m_s is None


def test_rain_and_snow_of_a_day_are_sums_and_unknown_where_too_few_hours_are_told() -> None:
    air = np.full(24, -4.0)
    rain = np.full(24, 0.5)
    snow = np.where(np.arange(24) < 10, 0.01, 0.0)
    (day,) = days_of(hours_of(air, precipitation_mm=rain, new_snow_m=snow), NORTH).values()
    assert day.fallen_mm == pytest.approx(12.0)
    assert day.snow_m == pytest.approx(0.10)
    assert day.snow_c == -4.0
    rain[17:] = np.nan
    (half,) = days_of(hours_of(air, precipitation_mm=rain, new_snow_m=rain * np.nan), NORTH).values()
    assert (half.fallen_mm, half.snow_m) == (None, None)


@pytest.mark.parametrize(
    ("falls_c", "share", "density_kg_m3"),
    [(-8, 1.0, 75), (-4, 1.0, 100), (-2, 1.0, 150), (-1, 1.0, 175), (-0.2, 0.75, 200), (0.2, 0.25, 250), (2, 0, 250)],
)
def test_water_falls_as_snow_by_its_temperature(falls_c: float, share: float, density_kg_m3: float) -> None:
    # every class of Susong, Marks & Garen 1999, as calc_snow of the Image Processing Workbench has it; 10 mm = 10 kg/m²
    water = np.full(3, 10.0)
    weather = hours_of(np.full(3, falls_c + 2.0), dew_point_c=np.full(3, float(falls_c)), precipitation_mm=water)
    assert new_snow_m(weather) == pytest.approx(10 * share / density_kg_m3)


def test_snow_that_is_told_stands_and_what_nobody_knows_stays_unknown() -> None:
    air = np.array([-5.0, -5.0, -5.0, np.nan, np.nan])
    fallen = np.array([3.0, 3.0, np.nan, 3.0, 0.0])
    told = np.array([0.02, np.nan, np.nan, np.nan, np.nan])
    found = new_snow_m(hours_of(air, precipitation_mm=fallen, new_snow_m=told))
    np.testing.assert_allclose(found, [0.02, 0.03, np.nan, np.nan, 0.0])


@pytest.mark.parametrize("kind", [JobKind.WATER, JobKind.LOOK_FOR_VOLES])
def test_at_the_turn_of_a_month_a_monthly_job_is_asked_for_once_not_twice(kind: JobKind) -> None:
    facts = garden(date(2026, 11, 28), records=wrapped(date(2026, 11, 5)), trees=trees(CoverState.CLOSED))
    asked = of(jobs_due(facts, date(2026, 11, 28), date(2026, 12, 10)), kind)
    assert {job.from_day.month for job in asked} == {11}
    later = of(jobs_due(facts, date(2026, 12, 11), date(2026, 12, 31)), kind)
    assert {job.from_day for job in later} == {date(2026, 12, 26)}  # four weeks after today


def test_an_act_is_cautioned_as_the_job_it_is_and_only_where_the_tree_fits() -> None:
    facts = garden(date(2026, 11, 1))
    wrap = cautions_of([act(DeedKind.WRAPPED, date(2026, 11, 2))], facts)
    assert {Caution.BURIED_LINES, Caution.STRAW_DUST, Caution.NO_HEAT, Caution.LADDER_WIND} <= set(wrap)
    assert cautions_of([act(DeedKind.CLOSED, date(2026, 11, 2))], facts) == [Caution.LADDER_WIND]
    potted = cautions_of([act(DeedKind.WRAPPED, date(2026, 11, 2), tree="Satsuma")], facts)
    assert Caution.BURIED_LINES not in potted
    assert cautions_of([act(DeedKind.CLOSED, date(2026, 11, 2), tree="Nowhere")], facts) == []
