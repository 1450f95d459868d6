"""Every job, reason, caution and supply has its words, short ones, in the grower's units."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from bot.settings.grower_units import PIECES
from bot.wording.formats import Style
from bot.wording.year.jobs import (
    DOING,
    GUARDING,
    LONGEST,
    WORDS,
    caution_words,
    job_line,
    job_reason,
    noted_mark,
    packed,
    short_names,
)
from bot.wording.year.supplies import amount_words, needs_messages, piece_words, shopping_messages
from rules.garden.cover import Cover, CoverState, Preset
from rules.garden.records import DeedKind
from rules.garden.shed import Shed, SupplyKind, SupplyUnit
from rules.garden.supplies import needs
from rules.jobs import Basis, Caution, Job, JobKind, JobMark, JobReason, MarkState
from rules.plan.garden_plan import Act, Reason

UTC_ZONE = ZoneInfo("UTC")
METRIC = Style(zone=UTC_ZONE)
IMPERIAL = Style(zone=UTC_ZONE, fahrenheit=True, wind="mph", length="in")
NOW = datetime(2026, 10, 1, 8, tzinfo=UTC)
LONG_NAMES = tuple(f"{'Overlong name of a tree in a far row':.<38}{i:02}" for i in range(40))


def job(
    kind: JobKind = JobKind.WATER,
    reason: JobReason = JobReason.DRY_WINTER,
    *,
    amount: float | None = None,
    trees: tuple[str, ...] = ("Porch fig",),
    basis: Basis = Basis.CALENDAR,
    cautions: tuple[Caution, ...] = (),
    acts: tuple[Act, ...] = (),
) -> Job:
    return Job(
        kind=kind,
        trees=trees,
        from_day=date(2026, 10, 20),
        by_day=date(2026, 11, 15),
        minutes=70,
        lead_days=4,
        reason=reason,
        amount=amount,
        basis=basis,
        cautions=cautions,
        source="",
        acts=acts,
    )


def act(reason: Reason) -> Act:
    return Act(
        tree="Porch fig",
        kind=DeedKind.CLOSED,
        state=CoverState.CLOSED,
        reason=reason,
        night=date(2026, 11, 2),
        from_utc=NOW,
        by_utc=NOW,
        minutes=10,
        chance=0.4,
        chance_after=0.0,
        saves_trips=5.0,
        price_trips=1.0,
    )


@pytest.mark.parametrize("style", [METRIC, IMPERIAL])
@pytest.mark.parametrize("kind", JobKind)
def test_every_kind_has_words_that_fit_a_message_with_forty_long_names(kind: JobKind, style: Style) -> None:
    for reason in JobReason:
        for amount in (None, 12.345) if reason is JobReason.DRY_WINTER else (-12.345,):
            line = job_line(job(kind, reason, amount=amount, trees=LONG_NAMES), style, NOW)
            assert (GUARDING if (kind, reason) == (JobKind.LOOK_FOR_VOLES, JobReason.GUARD) else WORDS[kind]) in line
            assert len(line) <= LONGEST


@pytest.mark.parametrize("kind", JobKind)
def test_every_kind_has_a_name_for_what_was_noted(kind: JobKind) -> None:
    assert DOING[kind] in noted_mark(JobMark(kind=kind, tree="Kaki", state=MarkState.DONE, at_utc=NOW), METRIC, NOW)


def test_what_was_put_off_says_when_it_is_asked_again() -> None:
    mark = JobMark(kind=JobKind.WATER, tree="Kaki", state=MarkState.PUT_OFF, at_utc=NOW, until=date(2026, 10, 2))
    assert noted_mark(mark, METRIC, NOW) == "Put off: winter water (Kaki). I ask again tomorrow."
    several = noted_mark(mark, METRIC, NOW, ("Kaki", "Olive"))
    assert several == "Put off: winter water (Kaki and Olive). I ask again tomorrow."


@pytest.mark.parametrize("style", [METRIC, IMPERIAL])
@pytest.mark.parametrize("caution", Caution)
def test_every_caution_has_words_that_fit_a_message(caution: Caution, style: Style) -> None:
    assert 20 < len(caution_words(caution, style)) <= LONGEST


@pytest.mark.parametrize(
    ("caution", "words"),
    [
        (Caution.BURIED_LINES, ("utility locating service", "two business days")),
        (Caution.STRAW_DUST, ("N95", "wet the dust", "clinician")),
        (Caution.FIG_SAP, ("gloves", "sun", "clinician")),
        (Caution.LADDER_WIND, ("gusts of 36 km/h", "ice", "dark")),
        (Caution.NO_HEAT, ("No lamp, heater",)),
        (Caution.STAKE_ENDS, ("rebar", "caps")),
        (Caution.HERBICIDE, ("bean", "sprayed")),
    ],
)
def test_the_cautions_say_what_the_sources_say(caution: Caution, words: tuple[str, ...]) -> None:
    text = caution_words(caution, METRIC)
    assert all(word in text for word in words)


def test_no_word_of_mothballs() -> None:
    # off-label pesticide use: never recommended, whatever growers say
    said = [*WORDS.values(), *(caution_words(caution, METRIC) for caution in Caution)]
    said += [job_reason(job(reason=reason), METRIC) for reason in JobReason]
    assert not [text for text in said if "mothball" in text.casefold()]


def test_a_job_is_one_line_with_days_minutes_and_reason() -> None:
    line = job_line(job(JobKind.WRAP, JobReason.COLD_DUE, basis=Basis.PAST_WINTERS), METRIC, NOW)
    assert line == (
        "Tue 20 Oct to Sun 15 Nov: wrap Porch fig (70 minutes). "
        "Nights colder than half-hardened wood can take are due (by past winters)."
    )


def test_reasons_carry_their_number_in_the_grower_s_unit() -> None:
    pick = job(JobKind.LAST_PICK, JobReason.KILLING_FREEZE, amount=0.42, basis=Basis.FORECAST)
    wind = job(JobKind.CHECK_STRAPS, JobReason.WIND_COMING, amount=20.0, basis=Basis.FORECAST)
    assert job_reason(pick, METRIC) == "The killing freeze ends the crop; 4 in 10 that it comes."
    assert job_reason(wind, METRIC) == "Wind is coming; gusts of 72 km/h."
    assert job_reason(wind, IMPERIAL) == "Wind is coming; gusts of 45 mph."  # 20 m/s / 0.44704
    assert "0.5 in of rain" in job_reason(job(amount=12.7), IMPERIAL)
    assert "only 22 mm of rain and snow in 30 days" in job_reason(job(amount=22.0), METRIC)
    assert "no rain or snow in 30 days" in job_reason(job(amount=0.2), METRIC)  # a trace is none
    assert "no rain or snow in 30 days" in job_reason(job(amount=0.2), IMPERIAL)


@pytest.mark.parametrize("reason", Reason)
def test_an_act_of_the_plan_gives_the_plan_s_reason(reason: Reason) -> None:
    text = job_reason(job(JobKind.CLOSE, JobReason.PLAN, basis=Basis.FORECAST, acts=(act(reason),)), METRIC)
    assert ("4 in 10" in text) is (reason is Reason.COLD)
    assert "the plan asks" not in text.casefold()


def test_names_beyond_a_line_are_counted() -> None:
    assert short_names(LONG_NAMES).endswith("and 39 more")


def test_packing_loses_no_line() -> None:
    lines = [f"line {i} {'x' * (i % 50)}" for i in range(60)]
    assert "\n".join(packed(lines)).split("\n") == lines


@pytest.mark.parametrize("kind", SupplyKind)
def test_every_supply_has_words_for_one_and_for_more(kind: SupplyKind) -> None:
    assert piece_words(kind, 1) != piece_words(kind, 2).replace("2", "1")
    assert kind in PIECES


def test_amounts_are_in_the_grower_s_units() -> None:
    # 54.3 kg / 0.45359237 = 119.7 lb; 7.227 m² x 10.7639 = 77.8 sq ft; 5.227 m / 0.3048 = 17.1 ft
    assert amount_words(54.3, SupplyUnit.KG, METRIC) == "54 kg"
    assert amount_words(54.3, SupplyUnit.KG, IMPERIAL) == "120 lb"
    assert amount_words(7.227, SupplyUnit.M2, IMPERIAL) == "78 sq ft"
    assert amount_words(5.227, SupplyUnit.M, IMPERIAL) == "17 ft"
    assert amount_words(5.227, SupplyUnit.M, METRIC) == "5.2 m"


def test_what_two_trees_need_names_what_the_shed_has() -> None:
    shed = Shed(have={SupplyKind.STRAW: 2, SupplyKind.STAKES: 8})
    text = "\n".join(needs_messages(["Wall fig", "Kaki"], needs([Cover(name="cage")] * 2, shed), METRIC))
    assert text.startswith("For Wall fig and Kaki:\nStraw: 109 kg, buy 4 bales (36 kg in the shed)")
    assert "Stakes: 8, in the shed" in text


def test_the_shopping_list_says_how_large_a_piece_is() -> None:
    text = "\n".join(shopping_messages(["Porch fig"], needs([Cover(name="cage")]), METRIC))
    assert "3 bales of straw, 18 kg each" in text
    assert "1 bag of ties of 50" in text
    assert "4 stakes\n" in text


def test_a_full_shed_needs_no_shop() -> None:
    full = Shed(have=dict.fromkeys(SupplyKind, 100.0))
    lines = needs([Cover(name="cage")], full)
    assert shopping_messages(["Kaki"], lines, METRIC) == ["Nothing to buy for Kaki: the shed has it all."]


def test_a_roof_takes_nothing() -> None:
    lines = needs([Cover(name="porch", preset=Preset.POT)])
    assert needs_messages(["Satsuma"], lines, METRIC) == ["The covers of Satsuma take nothing that is bought."]


def test_all_messages_of_a_long_list_fit() -> None:
    lines = needs([Cover(name="one", preset=preset) for preset in Preset])
    for message in [*shopping_messages(LONG_NAMES, lines, IMPERIAL), *needs_messages(LONG_NAMES, lines, IMPERIAL)]:
        assert len(message) <= LONGEST
