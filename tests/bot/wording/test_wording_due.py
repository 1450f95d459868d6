"""What is due in words: by day or by kind, never too long for a phone; news of jobs that fits one message."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from bot.wording.formats import Style, sentence
from bot.wording.year.due import LONGEST_MONTH, LONGEST_NEWS, Lines, due_message, jobs_news, month_lines, week_lines
from bot.wording.year.jobs import DOING, WORDS
from rules.garden.shed import SupplyKind, SupplyUnit
from rules.garden.supplies import SupplyLine
from rules.garden.tree import Site
from rules.jobs import Basis, Caution, Job, JobKind, JobReason
from rules.outlook.garden_outlook import Outlook
from rules.plan.garden_plan import NOTHING

NOW = datetime(2026, 10, 1, 8, tzinfo=UTC)
FIRST = date(2026, 10, 1)
METRIC = Style(zone=ZoneInfo("UTC"))
SITE = Site(latitude_deg=45, longitude_deg=0, elevation_m=300, time_zone="UTC")
EMPTY = Outlook(
    now=NOW,
    site=SITE,
    service="",
    issued_utc=None,
    fetched_utc=None,
    credit="",
    trees=(),
    plan=NOTHING,
    doubts=(),
)
LONG_NAMES = tuple(f"{'Overlong name of a tree in a far row':.<38}{i:02}" for i in range(40))


def job(
    kind: JobKind = JobKind.WATER,
    *,
    trees: tuple[str, ...] = ("Porch fig",),
    first: date = date(2026, 10, 20),
    last: date = date(2026, 11, 15),
    cautions: tuple[Caution, ...] = (),
    supplies: tuple[SupplyLine, ...] = (),
) -> Job:
    return Job(
        kind=kind,
        trees=trees,
        from_day=first,
        by_day=last,
        minutes=70,
        lead_days=4,
        reason=JobReason.DRY_WINTER,
        amount=None,
        basis=Basis.CALENDAR,
        cautions=cautions,
        source="",
        supplies=supplies,
    )


def test_nothing_due_says_so_and_names_the_trees_left_bare() -> None:
    assert due_message([], EMPTY, METRIC, FIRST, lines=week_lines) == "Nothing is due."
    text = due_message([], EMPTY, METRIC, FIRST, lines=week_lines, bare=["Trial fig"])
    assert text.endswith("Nothing for Trial fig: left bare on purpose.")


def test_a_tree_left_bare_that_has_a_job_is_not_said_to_have_none() -> None:
    looked_at = job(JobKind.SCRATCH_TEST, trees=("Trial fig",))
    text = due_message([looked_at], EMPTY, METRIC, FIRST, lines=week_lines, bare=["Trial fig"])
    assert "Nothing for" not in text


@pytest.mark.parametrize("lines", [week_lines, month_lines])
def test_many_jobs_come_in_one_message_and_what_a_phone_cannot_show_is_named(lines: Lines) -> None:
    jobs = [job(kind, trees=LONG_NAMES) for kind in JobKind]
    message = due_message(jobs, EMPTY, METRIC, FIRST, lines=lines)
    told, also = message.split("Also due, for later: ")
    assert len(told) <= LONGEST_MONTH
    assert all(DOING[kind] in also or sentence(WORDS[kind]).rstrip(".") in sentence(told) or WORDS[kind] in told.lower()
               for kind in JobKind)  # fmt: skip


def test_a_month_names_each_kind_once_with_the_days_of_each_tree() -> None:
    jobs = [
        job(trees=("Porch fig",)),
        job(JobKind.MULCH, trees=("Kaki",)),
        job(trees=("Kaki",), first=date(2026, 10, 25), last=date(2026, 10, 25)),
    ]
    lines = month_lines(jobs, EMPTY, METRIC)
    assert lines[0].startswith("Water Porch fig 20 Oct to 15 Nov; Kaki 25 Oct (2½ hours in all). Dry winters")
    assert len(lines) == 2


def test_trees_that_need_the_same_from_today_on_share_a_line_of_the_week() -> None:
    jobs = [
        job(trees=("Kaki",), first=date(2026, 9, 20), last=date(2026, 10, 3)),
        job(trees=("Porch fig", "Wall fig"), first=date(2026, 9, 25), last=date(2026, 10, 10)),
        job(trees=("Satsuma",), first=date(2026, 10, 4), last=date(2026, 10, 10)),
    ]
    lines = week_lines(jobs, EMPTY, METRIC)
    assert lines[0].startswith("Today: water Kaki until Saturday; Porch fig and Wall fig until Sat 10 Oct (2½ hours in")
    assert lines[1].startswith("Sunday to Sat 10 Oct: water Satsuma (70 minutes).")
    assert len(lines) == 2


def test_cages_of_different_widths_are_not_called_as_wide_as_the_widest() -> None:
    fit = replace(job(JobKind.TIE_BRANCHES), reason=JobReason.FIT_THE_CAGE, amount=0.6)
    other = replace(fit, trees=("Satsuma",), amount=0.4, by_day=date(2026, 11, 20))
    (text,) = week_lines([fit, other], EMPTY, METRIC)
    assert "wide" not in text
    (text,) = week_lines([fit, replace(other, amount=0.6)], EMPTY, METRIC)
    assert "60 cm wide" in text


def test_what_is_to_be_bought_is_said_with_the_job_and_what_is_in_the_shed_is_not() -> None:
    straw = SupplyLine(kind=SupplyKind.STRAW, amount=54, have=0, unit=SupplyUnit.KG, piece=18, buy=3)
    lines = [straw, *(replace(straw, kind=kind, buy=0) for kind in (SupplyKind.TIES, SupplyKind.STAKES))]
    (text,) = week_lines([job(JobKind.WRAP, supplies=tuple(lines))], EMPTY, METRIC)
    assert text.endswith("To buy: 3 bales of straw.")
    many = [
        replace(straw, kind=kind) for kind in (SupplyKind.STRAW, SupplyKind.TIES, SupplyKind.STAKES, SupplyKind.CAPS)
    ]
    (text,) = week_lines([job(JobKind.WRAP, supplies=tuple(many))], EMPTY, METRIC)
    assert text.endswith("3 stakes and more.")


def news_of(jobs: Sequence[Job], unsaid: Sequence[Caution] = tuple(Caution)) -> tuple[str, list[Job], list[Caution]]:
    return jobs_news(jobs, unsaid, METRIC, NOW)


def test_news_carry_the_cautions_nobody_heard_and_no_others() -> None:
    sap = job(JobKind.TAKE_CUTTINGS, cautions=(Caution.FIG_SAP, Caution.LADDER_WIND))
    text, told, cautions = news_of([sap], [Caution.FIG_SAP, Caution.NO_HEAT])
    assert (told, cautions) == ([sap], [Caution.FIG_SAP])
    assert "Fig sap burns" in text
    assert "ladder" not in text
    assert news_of([sap], [])[2] == []


def test_news_that_do_not_fit_one_message_wait_with_their_cautions() -> None:
    jobs = [job(kind, cautions=(caution,)) for kind, caution in zip(JobKind, Caution, strict=False)]
    text, told, cautions = news_of(jobs)
    assert len(text) <= LONGEST_NEWS
    assert 1 <= len(told) < len(jobs)
    assert told == jobs[: len(told)]
    assert set(cautions) == {caution for one in told for caution in one.cautions}


def test_the_most_pressing_job_is_told_however_long_its_cautions_are() -> None:
    assert news_of([job(cautions=tuple(Caution))])[1] == [job(cautions=tuple(Caution))]


def test_news_of_one_job_at_trees_with_days_of_their_own_are_one_line_with_one_reason() -> None:
    text, told, _ = news_of([job(), job(trees=("Kaki",), first=date(2026, 10, 25)), job(JobKind.MULCH)])
    assert len(told) == 3
    assert text.count("Dry winters") == 2
    assert "Water Porch fig 20 Oct to 15 Nov; Kaki 25 Oct to 15 Nov (2½ hours in all)." in text
    begun = [job(first=date(2026, 9, 20)), job(trees=("Kaki",), first=date(2026, 9, 25))]
    assert news_of(begun)[0].startswith("Water Porch fig and Kaki until 15 Nov (2½ hours in all).")
