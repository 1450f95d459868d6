"""What a reply may never do, and the corners of the grammar a table cannot show."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bot.messages import BUTTON_DATA_BYTES
from bot.replies import (
    DEEDS,
    Ambiguous,
    Choice,
    Context,
    Meaning,
    NotUnderstood,
    OpenAsk,
    Question,
    Reply,
    TreeName,
    Understood,
    Verb,
    button_data,
    parse_button,
    parse_reply,
)
from bot.replies.words.normalising import normalised
from bot.replies.words.spelling import deed_forms, nearest_word
from rules.garden.cover import CoverState
from rules.garden.records import Place, SightingKind

ZONE = ZoneInfo("America/Denver")
NOW = datetime(2026, 11, 25, 16, 10, tzinfo=ZONE)
PORCH = TreeName(name="Porch fig", number=1, species="fig", state=CoverState.VENTED)
WALL = TreeName(name="Wall fig", number=2, species="fig", standing="wall", state=CoverState.VENTED)
KAKI = TreeName(name="Kaki", number=3, species="persimmon", state=CoverState.BARE)
CLOSE = OpenAsk(key="n7", verb=Verb.CLOSED, trees=("Porch fig", "Wall fig"))
QUIET = Context(trees=(PORCH, WALL, KAKI), now=NOW, zone=ZONE)
ASKED = replace(QUIET, open_asks=(CLOSE,))
CONTEXTS = [QUIET, ASKED, replace(ASKED, fahrenheit=True), replace(QUIET, quoted=CLOSE), replace(QUIET, trees=())]

DONE_ALONE = {"ok", "okay", "okey", "k", "kk", "check", "roger", "packed", "tick", "ready"}
NEGATIONS = [
    "not",
    "no",
    "never",
    "haven't",
    "didn't",
    "not yet",
    "havent",
    "can't",
    "cannot",
    "won't",
    "nothing",
    "forgot",
]
DEED_WORDS = "closed wrapped opened vented stripped shut close wrap open done did ok 👍 ✅ finished cap"
CONFIRMING = "both all 1 2 3 1-3"
OTHER_WORDS = (
    "porch wall kaki fig figs it the rest and , . but except at 4 tomorrow yesterday in an hour -5 19F -7,5 low inside "
    "why due tonight if will then banana on off leaves dropped ? ! half monday last friday days ago"
)
SPICE = f"{DEED_WORDS} {CONFIRMING} {OTHER_WORDS}".split()
SETS_APART = {",", ".", "?", "!", "and", "but", "then", "👍", "✅"}  # what is said behind it may be another thing
messages = st.lists(st.sampled_from(SPICE), max_size=9).map(" ".join)
undone = st.lists(st.sampled_from([w for w in SPICE if w not in DEED_WORDS.split()]), max_size=9).map(" ".join)
contexts = st.sampled_from(CONTEXTS)


def read(text: str, context: Context = QUIET) -> tuple[Meaning, ...]:
    reply = parse_reply(text, context)
    assert isinstance(reply, Understood), f"{text!r}: {reply}"
    return reply.meanings


def one(text: str, context: Context = QUIET) -> Meaning:
    (meaning,) = read(text, context)
    return meaning


def choices(text: str, context: Context) -> tuple[Choice, ...]:
    reply = parse_reply(text, context)
    assert isinstance(reply, Ambiguous), f"{text!r}: {reply}"
    return reply.choices


def deeds(reply: Reply) -> list[Meaning]:
    told = reply.meanings if isinstance(reply, Understood) else reply.certain if isinstance(reply, Ambiguous) else ()
    return [m for m in told if m.is_deed]


def local(at: datetime | None) -> str:
    assert at is not None
    return f"{at.astimezone(ZONE):%a %H:%M}"


# --- what may never happen -------------------------------------------------------------------------------------------


@given(text=st.text(max_size=200) | messages, context=contexts)
def test_any_text_gets_an_answer_and_never_an_error(text: str, context: Context) -> None:
    reply = parse_reply(text, context)
    assert isinstance(reply, Understood | Ambiguous | NotUnderstood)
    if isinstance(reply, Ambiguous):
        assert 2 <= len(reply.choices) <= 3
    if isinstance(reply, Understood):
        assert reply.meanings
    if isinstance(reply, NotUnderstood):
        assert len(reply.choices) <= 3


@given(before=undone, negation=st.sampled_from(NEGATIONS), after=messages, context=contexts)
def test_a_negation_before_a_deed_never_records_it(before: str, negation: str, after: str, context: Context) -> None:
    one_clause = " ".join(word for word in f"{before} {negation} {after}".split() if word not in SETS_APART)
    assert not deeds(parse_reply(one_clause, context))


@pytest.mark.parametrize(
    "said", ["closed porch not wall", "closed the porch fig, not the wall one", "shut porch not wall yet"]
)
@pytest.mark.parametrize("context", [QUIET, ASKED])
def test_a_deed_told_of_one_tree_and_denied_of_another_is_of_the_one(said: str, context: Context) -> None:
    assert [deed.trees for deed in deeds(parse_reply(said, context))] == [("Porch fig",)]


@given(text=messages, context=contexts)
def test_every_deed_names_a_tree_of_the_garden_and_lies_in_the_month_behind(text: str, context: Context) -> None:
    for deed in deeds(parse_reply(text, context)):
        assert deed.trees
        assert set(deed.trees) <= {tree.name for tree in context.trees} | set(CLOSE.trees)
        if deed.at_utc is not None:
            assert NOW - timedelta(days=31) <= deed.at_utc <= NOW


@given(text=st.text(max_size=200), tail=st.text(max_size=40), context=contexts)
def test_text_without_one_of_our_words_writes_nothing_into_the_logbook(text: str, tail: str, context: Context) -> None:
    said = f"{text} {tail}"
    ours = {nearest_word(word) for word in normalised(said).split()} & (deed_forms() | DONE_ALONE)
    picks = bool(context.asks) and any(sign.isdigit() for sign in said)  # the number of what was asked
    reply = parse_reply(said, context)
    if not ours and not picks and isinstance(reply, Understood):
        assert not {m.verb for m in reply.meanings} & (set(DEEDS) | {Verb.JOB, Verb.DIEBACK, Verb.PICKED, Verb.PRUNED})


@given(text=st.lists(st.sampled_from(OTHER_WORDS.split()), max_size=8).map(" ".join), context=contexts)
def test_without_a_deed_word_or_a_number_shown_nothing_was_done(text: str, context: Context) -> None:
    assert not deeds(parse_reply(text, context))


@given(text=st.text(alphabet="0123456789 ,.-", max_size=12))
def test_digits_alone_are_never_a_deed_while_nothing_is_asked(text: str) -> None:
    assert not deeds(parse_reply(text, QUIET))


@given(text=messages, context=contexts)
@example("✅ 1 but porch", ASKED)
def test_a_reply_is_read_the_same_twice(text: str, context: Context) -> None:
    assert parse_reply(text, context) == parse_reply(text, context)


def test_a_very_long_message_is_read_as_far_as_a_reply_goes() -> None:
    assert isinstance(parse_reply("closed porch " + "lalala " * 20_000, QUIET), Understood | Ambiguous | NotUnderstood)


# --- which ask a reply answers ---------------------------------------------------------------------------------------


def test_a_deed_that_was_asked_for_answers_that_ask() -> None:
    assert one("done", ASKED).ask_key == "n7"
    assert one("closed porch", ASKED).ask_key == "n7"
    assert one("wrapped kaki", ASKED).ask_key is None


def test_the_quoted_message_wins_over_other_open_asks() -> None:
    other = OpenAsk(key="n8", verb=Verb.WRAPPED, trees=("Kaki",))
    quoted = replace(QUIET, open_asks=(CLOSE, other), quoted=other)
    assert one("done", quoted) == Meaning(verb=Verb.WRAPPED, trees=("Kaki",), ask_key="n8")
    assert one("tomorrow", quoted).trees == ("Kaki",)


@pytest.mark.parametrize("said", ["", "at ", "porch reads ", "wrapped ", "it was "])
def test_a_number_of_hundreds_of_figures_is_no_reading_and_no_tree(said: str) -> None:
    for context in CONTEXTS:
        assert not isinstance(parse_reply(f"{said}{'9' * 400}", context), Understood)


def test_numbers_are_those_the_message_showed() -> None:
    asked = replace(QUIET, open_asks=(OpenAsk(key="n", verb=Verb.CLOSED, trees=("Wall fig", "Kaki")),))
    assert one("2", asked).trees == ("Kaki",)
    garden_numbers = replace(
        QUIET, open_asks=(OpenAsk(key="n", verb=Verb.CLOSED, trees=("Wall fig", "Kaki"), numbers=(2, 3)),)
    )
    assert one("2", garden_numbers).trees == ("Wall fig",)
    assert one("closed 2").trees == ("Wall fig",)


def test_a_number_that_no_tree_has_is_not_understood() -> None:
    reply = parse_reply("closed 8", ASKED)
    assert isinstance(reply, NotUnderstood)
    assert reply.heard == "no tree has the number 8"
    assert [choice.label for choice in reply.choices][:1] == ["Porch fig and Wall fig closed"]


def test_two_open_asks_of_one_kind_are_told_apart_by_asking() -> None:
    second = OpenAsk(key="n9", verb=Verb.CLOSED, trees=("Kaki",))
    found = choices("closed", replace(QUIET, open_asks=(CLOSE, second)))
    assert [choice.meanings[0].ask_key for choice in found] == ["n7", "n9"]


def test_what_is_certain_waits_for_no_choice_of_what_is_not() -> None:
    reply = parse_reply("closed porch, wall at 6", ASKED)
    assert isinstance(reply, Ambiguous)
    assert reply.certain == (Meaning(verb=Verb.CLOSED, trees=("Porch fig",), ask_key="n7"),)
    assert [choice.meanings[0].verb for choice in reply.choices] == [Verb.CLOSED, Verb.SNOOZE]


def test_what_is_certain_beside_a_denial_is_offered_with_the_rest() -> None:
    reply = parse_reply("closed porch, wall at 6, not sure", ASKED)
    assert not isinstance(reply, Understood)
    assert not isinstance(reply, Ambiguous) or not reply.certain


def test_all_closed_with_nothing_to_close_is_no_empty_deed() -> None:
    bare = tuple(replace(tree, state=CoverState.BARE) for tree in QUIET.trees)
    assert isinstance(parse_reply("closed all", replace(QUIET, trees=bare)), NotUnderstood)
    assert isinstance(parse_reply("closed all", replace(QUIET, trees=())), NotUnderstood)


def test_the_only_cover_that_can_be_closed_is_the_one_closed() -> None:
    wall_closed = replace(QUIET, trees=(PORCH, replace(WALL, state=CoverState.CLOSED), KAKI))
    assert one("closed", wall_closed).trees == ("Porch fig",)
    assert [c.meanings[0].trees for c in choices("closed", QUIET)] == [
        ("Porch fig",),
        ("Wall fig",),
        ("Porch fig", "Wall fig"),
    ]


# --- names -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", ["Closet", "May", "Open", "Tonight", "Why", "Help", "Done", "Sun", "Öland", "Figgy <b>", "🍐 Pear", "שקד"]
)
def test_a_tree_may_bear_any_name(name: str) -> None:
    context = replace(QUIET, trees=(*QUIET.trees, TreeName(name=name, number=4, state=CoverState.VENTED)))
    assert one(f"closed {name}", context).trees == (name,)
    assert one("closed porch", context).trees == ("Porch fig",)
    assert one("help", context).verb is Verb.HELP


def test_a_tree_called_closet_is_no_slip_for_closed() -> None:
    context = replace(ASKED, trees=(*QUIET.trees, TreeName(name="Closet", number=4)))
    assert isinstance(parse_reply("closet", context), Ambiguous)


def test_due_may_is_the_month_or_the_tree_as_the_garden_has_it() -> None:
    assert one("due may").month == 5
    may = replace(QUIET, trees=(*QUIET.trees, TreeName(name="May", number=4)))
    assert one("wrapped may", may).trees == ("May",)


def test_an_unknown_tree_is_answered_with_the_nearest_ones() -> None:
    reply = parse_reply("closed walnut", QUIET)
    assert isinstance(reply, NotUnderstood)
    assert "walnut" in reply.heard
    assert reply.choices[0].meanings[0].trees == ("Wall fig",)


def test_a_slip_is_forgiven_and_said() -> None:
    assert one("closd porch").through_typo
    assert not one("closed porch").through_typo
    assert one("closed pprch") == Meaning(verb=Verb.CLOSED, trees=("Porch fig",), through_typo=True)


@pytest.mark.parametrize("word", ["stpo", "unod", "yess", "removed", "vetted", "stopped", "closer", "warped"])
def test_words_that_must_be_exact_or_are_other_words_are_never_mended_into_deeds(word: str) -> None:
    assert not deeds(parse_reply(f"{word} porch", QUIET))
    assert not deeds(parse_reply(word, ASKED))


# --- time ------------------------------------------------------------------------------------------------------------


def test_seven_am_is_no_minute() -> None:
    assert local(one("7am", ASKED).until_utc) == "Thu 07:00"


def test_a_clock_time_of_a_deed_lies_behind_and_of_a_reminder_is_the_next_at_which_people_are_up() -> None:
    assert local(one("closed porch at 6").at_utc) == "Wed 06:00"
    assert local(one("at 6", ASKED).until_utc) == "Wed 18:00"
    late = replace(ASKED, now=datetime(2026, 11, 25, 22, 0, tzinfo=ZONE))
    assert [local(one(f"at {hour}", late).until_utc) for hour in (2, 7)] == ["Thu 14:00", "Thu 07:00"]


def test_durations_are_added_in_utc_across_the_change_of_clocks() -> None:
    # Clocks in Denver went back on Sunday 1 Nov 2026 at 02:00.
    before = replace(ASKED, now=datetime(2026, 10, 31, 23, 0, tzinfo=ZONE))
    assert one("in 4 hours", before).until_utc == datetime(2026, 11, 1, 9, 0, tzinfo=UTC)
    assert one("tomorrow morning", before).until_utc == datetime(2026, 11, 1, 15, 0, tzinfo=UTC)


def test_last_night_said_in_the_small_hours_has_its_low_by_now() -> None:
    early = replace(QUIET, now=datetime(2026, 11, 26, 4, 0, tzinfo=ZONE))
    meaning = one("wall low was -9 last night", early)
    assert meaning.at_utc == early.now
    assert meaning.is_minimum


@pytest.mark.parametrize("when", ["40 days ago", "on 3 september", "seven weeks ago"])
def test_a_deed_of_long_ago_is_not_recorded_unasked(when: str) -> None:
    reply = parse_reply(f"closed porch {when}", QUIET)
    assert isinstance(reply, NotUnderstood)
    assert reply.choices[0].meanings[0].trees == ("Porch fig",)


def test_now_must_know_its_zone() -> None:
    with pytest.raises(ValueError, match="time zone"):
        replace(QUIET, now=datetime(2026, 11, 25, 16, 10))  # noqa: DTZ001 - the refusal is the point


# --- readings --------------------------------------------------------------------------------------------------------


def test_a_unit_that_is_written_wins_over_the_gardens_own() -> None:
    in_f = replace(QUIET, fahrenheit=True)
    assert one("wall reads 14", in_f).air_c == pytest.approx(-10.0)  # 14 °F, exact by definition
    assert one("wall -10C", in_f).air_c == pytest.approx(-10.0)
    assert one("wall 14F").air_c == pytest.approx(-10.0)
    assert one("wall 10 below freezing", in_f).air_c == pytest.approx((32 - 10 - 32) / 1.8)


def test_minus_forty_is_the_same_in_both() -> None:
    assert one("wall -40F").air_c == pytest.approx(one("wall -40C").air_c)


@pytest.mark.parametrize("minus", ["-", "−", "–", "minus ", "－"])
def test_every_minus_is_one(minus: str) -> None:
    assert one(f"wall {minus}6,5").air_c == -6.5


def test_a_reading_no_garden_shows_is_not_believed() -> None:
    reply = parse_reply("wall -650", QUIET)
    assert isinstance(reply, NotUnderstood)
    assert "-650" in reply.heard


def test_a_reading_inside_is_told_from_one_in_the_air() -> None:
    assert one("inside wall -2").place is Place.INSIDE
    assert one("wall -2").place is Place.AIR


def test_a_bare_number_in_a_garden_of_one_tree_asks_now_or_low() -> None:
    alone = replace(QUIET, trees=(PORCH,), fahrenheit=True)
    assert [c.meanings[0].is_minimum for c in choices("14", alone)] == [False, True]
    assert one("14F", alone).trees == ("Porch fig",)


def test_a_sight_without_its_tree_asks_which() -> None:
    reply = parse_reply("leaves dropped", QUIET)
    assert isinstance(reply, Ambiguous)
    assert reply.question is Question.WHICH_TREE
    assert {c.meanings[0].sight for c in reply.choices} == {SightingKind.LEAVES_DROPPED}


# --- buttons ---------------------------------------------------------------------------------------------------------


def test_a_button_answers_for_all_trees_of_its_ask() -> None:
    press = parse_button(button_data(Verb.CLOSED, "n7", 3), ASKED, generation=3)
    assert press.reply == Understood(meanings=(Meaning(verb=Verb.CLOSED, trees=CLOSE.trees, ask_key="n7"),))


def test_a_button_of_an_older_message_is_known_as_stale() -> None:
    assert parse_button(button_data(Verb.CLOSED, "n7", 2), ASKED, generation=3).is_stale
    assert parse_button(button_data(Verb.CLOSED, "gone", 3), ASKED, generation=3).is_stale


@pytest.mark.parametrize("data", ["", ":", "closed:n7", "closed:n7:x", "burn:n7:1", "closed:n7:1:2", "closed:n7:²"])
def test_data_that_is_not_ours_does_nothing(data: str) -> None:
    press = parse_button(data, ASKED, generation=1)
    assert press.reply is None
    assert press.is_stale


def test_button_data_keeps_to_the_messengers_limit() -> None:
    assert len(button_data(Verb.FIRST_FROST, "k" * 40, 99_999).encode()) <= BUTTON_DATA_BYTES
    with pytest.raises(ValueError, match="64 bytes"):
        button_data(Verb.CLOSED, "k" * 60, 1)
    with pytest.raises(ValueError, match="colon"):
        button_data(Verb.CLOSED, "a:b", 1)
