"""News of the year's jobs: few, gathered, none twice, none too late; a whole year of the demo garden counted."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.nudges import Announced, Quiet, Stage, is_time_to_look, jobs_nudge, jobs_to_tell
from bot.wording.formats import Style
from bot.wording.year.due import jobs_news
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Records
from rules.garden.tree import Phase
from rules.jobs import (
    Basis,
    Caution,
    DayWeather,
    GardenFacts,
    Job,
    JobKind,
    JobMark,
    JobReason,
    MarkState,
    TreeFacts,
    jobs_to_announce,
)
from rules.weather.daily_minima import DailyMinima
from rules.weather.freeze_dates import FreezeDates, freeze_dates
from rules.weather.freeze_seasons import WhichFreeze
from rules.weather.minima_table import parse_daily_minima
from tests.bot.phone import larkmoor, winters_file
from tests.rules.jobs.test_jobs import act, night

ZONE = ZoneInfo("America/Denver")
QUIET = Quiet(start=time(21), end=time(7), zone=ZONE)
STYLE = Style(zone=ZONE)
SATURDAY = date(2025, 11, 29)


def at(hour: float, day: date = SATURDAY) -> datetime:
    return datetime.combine(day, time(0), ZONE).astimezone(UTC) + timedelta(hours=hour)


def job(
    kind: JobKind = JobKind.MULCH,
    reason: JobReason = JobReason.STRAW_LEFT,
    *,
    first: date = SATURDAY,
    days: int = 20,
    trees: tuple[str, ...] = ("Porch fig",),
) -> Job:
    return Job(
        kind=kind,
        trees=trees,
        from_day=first,
        by_day=first + timedelta(days=days),
        minutes=20,
        lead_days=3,
        reason=reason,
        amount=None,
        basis=Basis.CALENDAR,
        cautions=(),
        source="",
    )


def put_off(until: date, kind: JobKind = JobKind.MULCH, tree: str = "") -> JobMark:
    return JobMark(kind=kind, tree=tree, state=MarkState.PUT_OFF, at_utc=at(10), until=until)


GATHERED = Announced(gathered=SATURDAY)


@pytest.mark.parametrize(
    ("hour", "looked", "right"),
    [(8.9, None, False), (9, None, True), (18.9, None, True), (19, None, False), (9, SATURDAY, False)],
)
def test_we_look_once_a_day_at_a_decent_hour(hour: float, looked: date | None, right: bool) -> None:
    assert is_time_to_look(Announced(looked=looked), QUIET, at(hour)) is right


def test_what_can_wait_is_gathered_on_saturday_or_on_the_first_morning_after_one_that_was_missed() -> None:
    friday = SATURDAY - timedelta(days=1)
    last_week = Announced(gathered=friday - timedelta(days=6))
    assert jobs_to_tell([job()], last_week, [], friday) == []
    assert jobs_to_tell([job()], last_week, [], SATURDAY) == [job()]
    assert jobs_to_tell([job()], last_week, [], SATURDAY + timedelta(days=2)) == [job()]
    assert jobs_to_tell([job()], Announced(), [], friday) == [job()]  # the first morning of all


def test_what_saturday_would_be_too_late_for_is_told_at_once_and_takes_the_others_along() -> None:
    tuesday = SATURDAY + timedelta(days=3)
    pressing = job(JobKind.LAST_PICK, JobReason.KILLING_FREEZE, first=tuesday, days=2)
    assert jobs_to_tell([job(), pressing], GATHERED, [], tuesday) == [pressing, job()]


def test_while_the_cold_asks_for_something_only_what_tomorrow_is_too_late_for_is_told() -> None:
    pressing = job(JobKind.LAST_PICK, JobReason.KILLING_FREEZE, days=1)
    assert jobs_to_tell([job(), pressing], Announced(), [], SATURDAY, is_busy=True) == [pressing]
    busy = Announced().after([pressing], SATURDAY, is_busy=True)
    assert jobs_to_tell([job()], busy, [], SATURDAY + timedelta(days=1)) == [job()]  # gathered the next free morning


def test_a_job_is_told_once_a_season_for_each_tree() -> None:
    told = Announced().after([job()], SATURDAY, is_busy=False)
    for weeks in range(1, 20):
        assert jobs_to_tell([job(days=400)], told, [], SATURDAY + timedelta(weeks=weeks)) == []
    assert jobs_to_tell([job()], told, [], SATURDAY + timedelta(weeks=52)) == [job()]
    both = job(trees=("Porch fig", "Kaki"))
    (left,) = jobs_to_tell([both], told, [], SATURDAY + timedelta(weeks=1))
    assert (left.trees, left.minutes) == (("Kaki",), 10)


def test_a_monthly_job_is_told_once_in_each_month() -> None:
    december = job(JobKind.WATER, JobReason.DRY_WINTER, first=date(2025, 12, 1), days=30)
    told = Announced().after([december], SATURDAY, is_busy=False)
    assert jobs_to_tell([december], told, [], date(2025, 12, 27)) == []
    january = job(JobKind.WATER, JobReason.DRY_WINTER, first=date(2026, 1, 1), days=30)
    assert jobs_to_tell([january], told, [], date(2026, 1, 3)) == [january]


def test_of_water_nothing_is_told_before_the_month_in_which_it_is_known_to_be_dry() -> None:
    december = job(JobKind.WATER, JobReason.MAY_BE_DRY, first=date(2025, 12, 1), days=30)
    assert jobs_to_tell([december], Announced(), [], SATURDAY) == []
    dry = replace(december, reason=JobReason.DRY_WINTER, amount=3.0)
    assert jobs_to_tell([dry], Announced(), [], date(2025, 12, 6)) == [dry]
    told = Announced().after([dry], date(2025, 12, 6), is_busy=False)
    untold = replace(december, reason=JobReason.RAIN_UNTOLD)  # the service fell silent: no second news of one month
    assert jobs_to_tell([untold], told, [], date(2025, 12, 13)) == []


def test_a_job_put_off_is_told_again_on_the_day_promised() -> None:
    told = Announced().after([job()], SATURDAY, is_busy=False)
    tuesday = SATURDAY + timedelta(days=10)
    marks = [put_off(tuesday)]
    asked = [n for n in range(1, 30) if jobs_to_tell([job(days=40)], told, marks, SATURDAY + timedelta(days=n))]
    assert asked[0] == 10
    again = told.after([job()], tuesday, is_busy=False)
    assert jobs_to_tell([job(days=40)], again, marks, tuesday + timedelta(days=4)) == []


def test_who_was_told_of_the_wind_before_it_came_is_not_told_after_it() -> None:
    assert jobs_to_tell([job(JobKind.CHECK_STRAPS, JobReason.WIND_PAST, days=1)], Announced(), [], SATURDAY) == []


def test_the_message_is_silent_and_ends_with_the_last_of_its_jobs_or_in_a_week() -> None:
    nudge = jobs_nudge([job(days=2), job(days=3)], QUIET, at(9))
    assert (nudge.stage, nudge.silent, nudge.ask) == (Stage.JOBS, True, None)
    assert nudge.expires_utc == at(19, SATURDAY + timedelta(days=3))
    assert jobs_nudge([job(days=30)], QUIET, at(9)).expires_utc == at(19, SATURDAY + timedelta(days=7))


# A whole year ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Told:
    day: date
    jobs: list[Job]
    text: str


WRAPPED_ON, STRIPPED_ON = date(2025, 11, 8), date(2026, 4, 18)
KILLING_NIGHT = date(2025, 10, 7)
GALES = [date(2025, 11, 1) + timedelta(days=9 * n) for n in range(17)]  # a windy winter: each ninth day
AUTUMN, SPRING = WhichFreeze.FIRST_IN_AUTUMN, WhichFreeze.LAST_IN_SPRING
THRESHOLDS = {"first_freeze": (-2.2, AUTUMN), "first_too_cold": (-6.0, AUTUMN), "last_too_cold": (-4.0, SPRING),
              "last_freeze": (-1.5, SPRING)}  # fmt: skip


@pytest.fixture(scope="module")
def year() -> list[Told]:
    """The demo garden from July to June, looked at each morning; the grower wraps and strips and answers nothing."""
    past = parse_daily_minima(winters_file().read_text(encoding="utf-8"))
    return _told_in_a_year(past, marks=[])


def _told_in_a_year(past: DailyMinima, marks: Sequence[JobMark]) -> list[Told]:
    known = _dates(past)
    announced, told = Announced(), []
    unsaid = list(Caution)
    for n in range(365):
        today = date(2025, 7, 1) + timedelta(days=n)
        facts = _facts(today, known, marks)
        jobs = jobs_to_tell(jobs_to_announce(facts), announced, facts.marks, today)
        text, fits, cautions = jobs_news(jobs, unsaid, STYLE, at(9, today)) if jobs else ("", [], [])
        unsaid = [caution for caution in unsaid if caution not in cautions]
        announced = announced.after(fits, today, is_busy=False)
        if fits:
            told.append(Told(today, fits, text))
    return told


def _dates(past: DailyMinima) -> dict[str, FreezeDates]:
    year_of = {WhichFreeze.FIRST_IN_AUTUMN: 2025, WhichFreeze.LAST_IN_SPRING: 2026}
    return {name: freeze_dates(past, c, which, year_of[which], 39.0) for name, (c, which) in THRESHOLDS.items()}


def _facts(today: date, known: dict[str, FreezeDates], marks: Sequence[JobMark]) -> GardenFacts:
    garden = larkmoor()
    covered = WRAPPED_ON <= today < STRIPPED_ON
    state = CoverState.CLOSED if covered else CoverState.BARE
    phase = Phase.RIPENING if today < date(2025, 10, 20) else Phase.RESTING
    deeds = [
        Deed(tree=tree.name, kind=kind, state=state, at_utc=at(12, day))
        for tree in garden.trees
        for day, kind in ((WRAPPED_ON, DeedKind.WRAPPED), (STRIPPED_ON, DeedKind.STRIPPED))
        if tree.cover and not tree.left_bare and day <= today
    ]
    ahead = [today + timedelta(days=n) for n in range(10)]
    nights = [night(day, -4.0 if day == KILLING_NIGHT else 3.0) for day in ahead]
    return GardenFacts(
        today=today,
        site=garden.site,
        trees=[
            replace(
                TreeFacts(tree=tree, cover=garden.cover_of(tree), state=state, phase=phase, nights=nights),
                **known,  # type: ignore[arg-type]  # the dates alone
            )
            for tree in garden.trees
        ],
        acts=[
            replace(act(DeedKind.WRAPPED, WRAPPED_ON), tree=tree.name)
            for tree in garden.trees
            if today < WRAPPED_ON <= ahead[-1] and tree.cover and not tree.left_bare
        ],
        days={day: DayWeather(high_c=8.0, gust_m_s=18.0 if day in GALES else 6.0) for day in ahead},
        records=Records(deeds=deeds),
        marks=[mark for mark in marks if mark.at_utc <= at(9, today)],
        shed=garden.shed,
        settings=garden.jobs,
    )


def test_a_year_of_the_demo_garden_takes_few_messages(year: list[Told]) -> None:
    for_wind = [one for one in year if {told.kind for told in one.jobs} == {JobKind.CHECK_STRAPS}]
    by_month = Counter(one.day.strftime("%Y-%m") for one in year if one not in for_wind)
    assert max(by_month.values()) <= 3, by_month
    assert len(for_wind) <= 7  # though every ninth day of this winter is a gale, and a gale waits for no Saturday
    assert len(year) <= 24
    assert len({one.day for one in year}) == len(year)  # never two on one day


def test_no_message_of_the_year_is_redundant(year: list[Told]) -> None:
    last: dict[tuple[JobKind, JobReason, str], date] = {}
    for one in year:
        for told in one.jobs:
            for tree in told.trees:
                before = last.get((told.kind, told.reason, tree))
                assert before is None or (one.day - before).days >= 14, f"{told.kind} again on {one.day}"
                last[told.kind, told.reason, tree] = one.day
    assert all(one.text != after.text for one, after in pairwise(year))


def test_every_job_of_the_year_is_told_in_time(year: list[Told]) -> None:
    kinds = {told.kind for one in year for told in one.jobs}
    by_plan_only = {JobKind.CLOSE, JobKind.OPEN, JobKind.VENT, JobKind.CLOSE_FOR_FROST}
    at_hand = {JobKind.WRAP, JobKind.STRIP, JobKind.TIE_BRANCHES, JobKind.PRUNE_TO_FIT}  # so where no forecast reaches
    assert set(JobKind) - by_plan_only - at_hand - {JobKind.WAKE_EARLY} <= kinds
    assert all(one.day <= told.by_day for one in year for told in one.jobs)


def test_each_caution_of_the_year_is_said_once(year: list[Told]) -> None:
    whole = "\n".join(one.text for one in year)
    for words in ("Fig sap burns", "811", "Mouldy straw dust", "No ladder or film work", "Ask what the straw"):
        assert whole.count(words) == 1, words


def test_the_messages_of_the_year_can_be_read_on_a_phone(year: list[Told]) -> None:
    assert max(len(one.text) for one in year if len(one.jobs) > 1) <= 600
    assert max(len(one.text) for one in year) <= 900


@settings(deadline=None, max_examples=15)
@given(kind=st.sampled_from(sorted({JobKind.WATER, JobKind.MULCH, JobKind.SCRATCH_TEST, JobKind.TAPER})))
def test_a_job_refused_before_the_season_is_never_told(year: list[Told], kind: JobKind) -> None:
    assert any(told.kind is kind for one in year for told in one.jobs)
    day = next(one.day for one in year for told in one.jobs if told.kind is kind)
    mark = JobMark(kind=kind, state=MarkState.REFUSED, at_utc=at(8, day))
    facts = replace(_facts(day, {}, [mark]))
    assert kind not in {told.kind for told in jobs_to_tell(jobs_to_announce(facts), Announced(), [mark], day)}


def test_who_was_told_of_snow_is_not_told_of_wet_snow_the_day_after_but_is_once_days_have_gone_by() -> None:
    dry, wet = job(JobKind.SNOW, JobReason.SNOW_FELL), job(JobKind.SNOW, JobReason.WET_SNOW)
    told = Announced().after([dry], SATURDAY, is_busy=False)
    assert jobs_to_tell([wet], told, [], SATURDAY + timedelta(days=1)) == []
    later = SATURDAY + timedelta(days=7)
    assert jobs_to_tell([wet], told, [], later) == [wet]


@pytest.mark.parametrize("days", [0, 1, 3])
def test_what_comes_before_a_wrap_is_told_by_its_ask_alone(days: int) -> None:
    ties = replace(job(JobKind.TIE_BRANCHES, JobReason.FIT_THE_CAGE, days=days), basis=Basis.FORECAST)
    for is_busy in (False, True):
        assert jobs_to_tell([ties], Announced(), [], SATURDAY, is_busy=is_busy) == []
        by_past_winters = replace(ties, basis=Basis.PAST_WINTERS)  # no forecast reaches it, and no plan
        assert jobs_to_tell([by_past_winters], Announced(), [], SATURDAY, is_busy=is_busy) or is_busy


@pytest.mark.parametrize(("days_ago", "is_told"), [(3, False), (13, False), (14, True), (28, True)])
def test_a_look_put_off_into_the_last_days_of_its_month_is_not_asked_for_twice_in_a_row(
    days_ago: int, is_told: bool
) -> None:
    voles = job(JobKind.LOOK_FOR_VOLES, JobReason.GNAWING, days=31)
    last_month = replace(voles, by_day=SATURDAY - timedelta(days=1))
    told = Announced().after([last_month], SATURDAY - timedelta(days=days_ago), is_busy=False)
    told = replace(told, gathered=None)
    assert bool(jobs_to_tell([voles], told, [], SATURDAY)) is is_told
