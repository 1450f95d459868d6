"""Whole conversations through the watch: what is answered, in whose units, and what a reply may never do."""

import re
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bot.logbook import Note, read_records, read_told
from rules.garden.cover import CoverState
from rules.outlook.tree_heat import tree_heats
from tests.bot.phone import Phone, inputs, larkmoor, winters_file
from tests.bot.talk import JUNIPER, ROWAN
from tests.high_plains import FILE

ZONE = ZoneInfo("America/Denver")
MORNING = datetime(2025, 11, 28, 9, 20, tzinfo=ZONE)
TREES = ("Porch fig", "Wall fig", "Trial pomegranate", "Kaki")


@pytest.fixture(scope="module")
def phone() -> Iterator[Phone]:
    """A cold morning on which wraps are asked for, with past winters known."""
    phone = Phone(larkmoor(*TREES, winters=winters_file()), MORNING)
    phone.tick()
    yield phone
    phone.close()


def numbers(text: str) -> list[int]:
    return [int(one.replace("−", "-")) for one in re.findall(r"−?\d+(?= °)", text)]


# why ------------------------------------------------------------------------------------------------------------------


def test_why_tells_the_heat_of_the_model_in_five_lines(phone: Phone) -> None:
    text = phone.say("why porch")
    tree = phone.garden.trees[0]
    wood_hardiness = float(numbers(text.split("It is safe to")[1])[0])
    heat = tree_heats(inputs(phone), [tree], phone.now)[0]
    terms = heat.night_terms(date(2025, 11, 28), CoverState.CLOSED, wood_hardiness)
    assert terms is not None
    assert f"ground {terms.ground_w:.0f} W" in text
    assert f"side {terms.side_w:.0f} W" in text
    assert f"{terms.gain_c:.1f} °C above the air" in text
    assert "model of its own season" in text
    assert len(text.splitlines()) <= 5


def test_why_of_a_tree_left_bare_says_so_and_asks_nothing(phone: Phone) -> None:
    assert "Left bare on purpose" in phone.say("why trial")


def test_why_of_many_trees_tells_one_in_full_and_the_others_in_a_line(phone: Phone) -> None:
    text = phone.say("why porch, wall and kaki")
    assert text.count("Heat in:") == 1
    assert all(name in text for name in ("Porch fig", "Wall fig", "Kaki"))


def test_once_told_how_a_cover_stands_why_does_not_doubt_it(phone: Phone) -> None:
    assert "Nobody has told me" in phone.say("why wall")
    phone.say("closed wall")
    after = phone.say("why wall")
    assert "Nobody has told me" not in after
    assert "As it stands, cap shut" in after
    assert "Undone: Wall fig closed" in phone.say("undo")


# deeds of days gone by ------------------------------------------------------------------------------------------------


def test_a_deed_told_days_later_keeps_its_day_and_is_how_the_cover_stands(phone: Phone) -> None:
    assert "Kaki wrapped" in (text := phone.say("wrapped kaki on tuesday"))  # said on Friday 28 November
    assert "Tue 25 Nov" in text
    with phone.logbook.begin() as c:
        deed = read_records(c, phone.garden.name).deeds[-1]
    assert deed.at_utc.astimezone(ZONE).date() == date(2025, 11, 25)
    assert "not yet told" not in phone.say("trees")
    phone.say("undo")


def test_an_older_deed_told_late_does_not_change_how_the_cover_stands(phone: Phone) -> None:
    phone.say("opened porch yesterday")
    text = phone.say("closed porch on monday")
    assert "What came after still stands: opened yesterday" in text
    assert "tonight its wood" not in text.casefold()
    assert "As it stands, cap open" in phone.say("why porch")
    phone.say("undo")
    phone.say("undo")


def test_undo_reaches_back_over_ten_deeds_one_after_another(phone: Phone) -> None:
    for turn in range(10):
        phone.say(f"{('closed', 'opened')[turn % 2]} wall")
    for turn in reversed(range(10)):
        assert f"Undone: Wall fig {('closed', 'opened')[turn % 2]}." in phone.say("undo")
    assert "There is nothing to undo" in phone.say("undo")


# what if --------------------------------------------------------------------------------------------------------------


def test_each_way_to_spend_a_made_night_has_its_line_and_more_cover_is_warmer(phone: Phone) -> None:
    text = phone.say("what if -20 at the porch")
    tissue = {line.partition("−")[0].strip(): numbers(line)[0] for line in text.splitlines()[1:5]}
    assert tissue["shut"] > tissue["open"] > tissue["bare"]
    assert tissue["shut, with a 20-litre bucket of water"] >= tissue["shut"]
    assert tissue["bare"] == -20  # of a bare tree the air is told: limits are of it, not of the stem


def test_a_minimum_in_the_open_is_milder_at_a_wall_than_there(phone: Phone) -> None:
    open_air = phone.say("what if -20")
    at_tree = phone.say("what if -20 at porch")
    bare = int(re.search(r"Porch fig:.*bare −(\d+)", open_air)[1])  # type: ignore[index]  # a miss fails the test
    assert -bare > next(numbers(line)[0] for line in at_tree.splitlines() if line.startswith("bare"))
    assert len([line for line in open_air.splitlines() if "safe to" in line]) == len(TREES)


def test_wind_takes_heat_out_of_a_cover(phone: Phone) -> None:
    def shut(text: str) -> int:
        return numbers(next(line for line in phone.say(text).splitlines() if line.startswith("shut")))[0]

    assert shut("what if -20 and windy at porch") < shut("what if -20 at porch")


def test_a_bucket_and_thicker_straw_help_and_are_judged(phone: Phone) -> None:
    for ask in ("would a bucket help porch", "is 40 cm of straw enough at the porch"):
        text = phone.say(ask)
        assert re.search(r"\d\.\d °C warmer than now", text), text
        assert text.rstrip().endswith(("enough.", "without."))


@pytest.mark.parametrize(
    ("ask", "part"),
    [
        ("what if 30C at porch", "Say a colder number"),
        ("is 900 cm of straw enough at the porch", "cannot be built"),
        ("is 1 cm of straw enough at the porch", "cannot be built"),
        ("would a bucket help trial", "None that you named has a cover"),
    ],
)
def test_what_cannot_be_supposed_is_refused_with_its_bound(phone: Phone, ask: str, part: str) -> None:
    assert part in phone.say(ask)


# past winters ---------------------------------------------------------------------------------------------------------


def test_the_last_freeze_is_that_of_the_record_counted_by_hand(phone: Phone) -> None:
    """Last night at or below −2.2 °C of each spring, by plain numpy on the published file; normal quantiles."""
    rows = np.loadtxt(FILE, skiprows=1)
    days = [date(int(y), int(m), int(d)) for d, m, y in rows[:, :3]]
    last = [
        max((d - date(year, 1, 1)).days for d, low in zip(days, rows[:, 3], strict=True)
            if date(year, 1, 1) <= d < date(year, 8, 1) and low <= -2.2 + 0.005)
        for year in range(1982, 2019)
    ]  # fmt: skip
    half = date(2026, 1, 1) + timedelta(days=round(float(np.mean(last))))
    tenth = date(2026, 1, 1) + timedelta(days=round(float(np.mean(last) + 1.2816 * np.std(last, ddof=1))))
    text = phone.say("when is the last frost")
    assert f"Last −2 °C in the open: half of years by {half.day} {half:%B}, one in ten after {tenth.day}" in text
    assert "37 winters" in text


def test_a_wall_freezes_last_earlier_in_spring_than_the_open_and_first_later_in_autumn(phone: Phone) -> None:
    def half(text: str) -> datetime:
        found = re.search(r"−2 °C .*?half of years by (\d+ \w+)", text)
        assert found, text
        return datetime.strptime(f"{found[1]} 2026", "%d %B %Y").replace(tzinfo=ZONE)

    assert half(phone.say("last frost porch")) < half(phone.say("last frost"))
    assert half(phone.say("first frost porch")) > half(phone.say("first frost"))
    assert "warmer than in the open" in phone.say("last frost porch")


def test_when_to_strip_gives_two_dates_for_each_cover_and_none_for_a_bare_tree(phone: Phone) -> None:
    text = phone.say("when can I strip")
    assert re.search(r"Porch fig and Wall fig: strip about \d+ \w+, cover at hand until \d+ \w+", text)
    assert "Trial pomegranate" not in text
    assert "None of these has a cover" in phone.say("when can I strip trial")


def test_ripening_tells_years_of_ten_and_trips_and_refuses_species_it_does_not_know(phone: Phone) -> None:
    text = phone.say("will they ripen")
    with_wood, from_ground = (int(share) for share in re.findall(r"in (\d+) years? of 10", text)[:2])
    assert with_wood > from_ground
    assert "60 trips" in text  # the worth the garden file gives the Porch fig
    assert "Kaki and Trial pomegranate: I do not know how much heat" in text


def test_without_past_winters_it_says_that_it_does_not_know() -> None:
    phone = Phone(larkmoor("Porch fig"), MORNING)
    for ask in ("last frost", "first frost porch", "when can I strip", "will they ripen"):
        assert "I know no past winters here" in phone.say(ask)
    phone.close()


def test_a_file_of_winters_that_cannot_be_read_is_said_and_stops_nothing(tmp_path: Path) -> None:
    path = tmp_path / "minima.csv"
    path.write_text("day;low\n1;2\n", encoding="utf-8")
    phone = Phone(larkmoor("Porch fig", winters=path), MORNING)
    assert phone.tick()
    assert "could not be read" in phone.say("last frost")
    phone.close()


# what wood can take ---------------------------------------------------------------------------------------------------


def test_how_hard_names_each_organ_with_its_two_points_source_and_spread(phone: Phone) -> None:
    text = phone.say("how hard is porch")
    wood = next(line for line in text.splitlines() if line.startswith("Wood"))
    tenth, half = numbers(wood)
    assert half < tenth < 0
    assert "Roots" in text
    assert "±" in text
    assert "Model of its own season" in text
    assert "chill" in text


def test_an_own_number_is_named_as_such() -> None:
    garden = larkmoor("Porch fig")
    tree = garden.trees[0].model_copy(update={"safe_to_c": {"hardening": -7.0, "resting": -11.0}})
    phone = Phone(garden.model_copy(update={"trees": (tree,)}), MORNING)
    text = phone.say("how hard is porch")
    assert "Your own number" in text
    assert "hardening −7 °C, resting −11 °C" in text
    phone.close()


def test_the_list_of_trees_is_numbered_and_a_named_tree_tells_since_when(phone: Phone) -> None:
    lines = phone.say("trees").splitlines()
    assert [line.split(".")[0] for line in lines] == ["1", "2", "3", "4"]
    assert all(len(line) <= 80 for line in lines)
    phone.say("closed porch")
    assert "cap shut since today" in phone.say("is porch closed?")
    phone.say("undo")


def test_a_grower_of_fahrenheit_and_inches_hears_nothing_else() -> None:
    phone = Phone(larkmoor("Porch fig", "Kaki", winters=winters_file(), fahrenheit=True), MORNING)
    asks = ("tonight", "why porch", "what if 0F", "last frost porch", "how hard is kaki", "trees",
            "is 16 inches of straw enough at the porch", "when can I strip", "will they ripen", "due")  # fmt: skip
    for ask in asks:
        text = phone.say(ask)
        assert "°C" not in text, text
        assert " cm" not in text, text
        assert not re.search(r"\b\d\d:\d\d(?! [ap]m)", text), text
    phone.close()


# people ---------------------------------------------------------------------------------------------------------------


def test_stop_silences_nudges_to_that_person_only_and_start_undoes_it() -> None:
    phone = Phone(larkmoor("Porch fig"), MORNING, people=(ROWAN, JUNIPER))
    assert "Juniper still gets them" in phone.say("stop writing to me")
    assert {one.chat_id for one in phone.tick()} == {JUNIPER}
    assert "safe to" in phone.say("how hard is porch") or "lost at" in phone.say("how hard is porch")
    assert "I write to you again" in phone.say("start")
    phone.close()


def test_who_is_away_is_not_written_to_while_somebody_is_there_and_back_ends_it() -> None:
    phone = Phone(larkmoor("Porch fig"), MORNING, people=(ROWAN, JUNIPER))
    assert "goes to Juniper" in phone.say("away until sunday")
    assert {one.chat_id for one in phone.tick()} == {JUNIPER}
    assert inputs(phone).away == ()
    assert "Nobody else is here" in phone.say("away until tuesday", JUNIPER)
    # nobody is there from tomorrow to the day before the first of them is back; today's light is left to both
    assert inputs(phone).away == ((date(2025, 11, 29), date(2025, 11, 29)),)
    assert "Welcome back" in phone.say("back")
    assert inputs(phone).away == ()
    phone.close()


def test_where_everyone_is_away_nudges_still_go_out() -> None:
    phone = Phone(larkmoor("Porch fig"), MORNING)
    phone.say("away until sunday")
    assert {one.chat_id for one in phone.tick()} == {ROWAN}
    phone.close()


# small talk -----------------------------------------------------------------------------------------------------------


def test_a_bare_yes_is_never_a_deed_but_is_offered_as_one() -> None:
    phone = Phone(larkmoor("Porch fig"), MORNING)
    assert phone.tick()
    answer = phone.send(text="yes")[0]
    assert [button.label for button in answer.buttons] == ["Wrapped", "Will do"]
    assert not records(phone)
    assert "Noted: Porch fig wrapped" in phone.tap_under(answer, "Wrapped")
    assert len(records(phone)) == 1
    phone.close()


def records(phone: Phone) -> list[object]:
    with phone.logbook.begin() as c:
        found = read_records(c, phone.garden.name)
    return [*found.deeds, *found.sightings, *found.readings]


def test_a_note_is_kept_with_its_tree_and_can_be_undone(phone: Phone) -> None:
    assert phone.say("note: pruned the wall hard").startswith("Kept with Wall fig")
    assert [(note.tree, note.text) for note in notes(phone)] == [("Wall fig", "pruned the wall hard")]
    phone.say("undo")
    assert notes(phone) == []


def notes(phone: Phone) -> list[Note]:
    with phone.logbook.begin() as c:
        return [told.entry for told in read_told(c, phone.garden.name) if isinstance(told.entry, Note)]


ASKED = (
    "what if -20 40 cm straw bucket enough porch wall kaki windy why frost last first strip ripen hard yes no stop "
    "start away until sunday back note : trees tonight due 3 % # @ — ! ? ° ٣ 🥶"
)
WORDS = ASKED.split()


@given(st.one_of(st.text(max_size=40), st.lists(st.sampled_from(WORDS), max_size=7).map(" ".join)))
@example("what if -20 windy 0 cm of straw enough")
@example("is 99999999999 cm of straw enough at the porch")
@example("/forget")
@settings(deadline=None, max_examples=20)
def test_any_text_gets_an_answer_and_never_an_apology(phone: Phone, text: str) -> None:
    answer = phone.say(text)
    assert answer
    assert "stumbled" not in answer


def test_a_noted_deed_is_sent_again_if_its_answer_may_be_lost_and_small_talk_is_not(phone: Phone) -> None:
    phone.say("closed porch")
    phone.say("help")
    with phone.logbook.begin() as c:
        rows = c.exec_driver_sql("SELECT text, on_unknown FROM outbox ORDER BY id").all()
    told = {("Noted" in text): kind for text, kind in rows[-2:]}
    assert told == {True: "resend", False: "hold"}


def test_what_is_told_beside_a_question_of_ours_is_noted_though_nobody_answers_it() -> None:
    phone = Phone(larkmoor(*TREES), MORNING)
    phone.tick()
    phone.say("wrapped porch, wall and kaki")
    answers = phone.send(text="closed porch, kaki at 10")
    with phone.logbook.begin() as c:
        stands = {deed.tree: deed.state for deed in read_records(c, phone.garden.name).deeds}
    assert (stands["Porch fig"], stands["Kaki"]) == (CoverState.CLOSED, CoverState.VENTED)
    assert "Porch fig closed" in answers[0].text
    assert [button.label for button in answers[0].buttons] == [
        "Kaki closed Thu 22:00",
        "Kaki ask again Fri 10:00",
        "Undo",
    ]
    assert "Noted" not in phone.tap_under(answers[0], "Kaki ask again Fri 10:00")
    phone.close()
