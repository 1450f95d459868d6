"""What was told is noted, and said back: deeds, readings, sightings, "can't" and "later"; and what was undone."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Final

from bot.answers.choices import offered
from bot.answers.condition.little_things import inputs_now, offers
from bot.answers.condition.not_known_on import TOPS, ask_of_deed, swept_along
from bot.answers.exchange import Answer, Exchange, open_asks, undo_button
from bot.answers.noting import (
    DeedsTold,
    later_deed,
    note_deeds,
    note_refusal,
    note_sightings,
    reading_told,
    settle_done,
    source_of,
    take_back,
)
from bot.answers.season.learned import expected_low, expected_now, what_it_taught
from bot.logbook import last_said, note_entry
from bot.messages import Button
from bot.replies import DEEDS, Choice, Meaning, Verb
from bot.rounds.nudge_writing import ask_buttons
from bot.wording import acknowledging as say
from bot.wording.covers.words import Covers, manner_of, words_of
from bot.wording.formats import MINUS
from rules.garden.records import Deed, DeedKind, Place, Reading, Sighting
from rules.garden.units import c_from_f, f_from_c
from rules.outlook.garden_outlook import Outlook
from rules.outlook.past import hardiness_now
from rules.wood.season import SightingEffect

FAR_OFF_K: Final = 7.0  # from what was expected at the tree: mistyped, or in the other scale; assumed, no source
SURE: Final = "sure"
UNDO_AT_ONCE: Final = timedelta(hours=12)  # what was told longer ago is asked about before it is undone; no source
LONGEST_ANSWER: Final = 600  # characters; a longer list stays in the parts it came in. No source


def note_done(exchange: Exchange, *told: Meaning) -> list[Answer]:
    """The deeds of one reply: what is noted now, what stood already, and where nobody said it how the top stands."""
    certain, swept = swept_along(exchange, _with_their_tops(told))
    answers = [_noted_deeds(exchange, certain)] if certain else []
    return [*answers, *(ask_of_deed(exchange, one) for one in _together(swept))]


def _noted_deeds(exchange: Exchange, told: Sequence[Meaning]) -> Answer:
    became: list[DeedsTold] = []
    for meaning in _together(told):
        noted_before = {deed.tree for one in became for deed in one.noted}
        now_known = (
            exchange.with_records() if noted_before & set(meaning.trees) else exchange
        )  # "opened it, and shut it"
        became.append(note_deeds(now_known, meaning))
    settle_done(exchange, became)
    noted = [deed for one in became for deed in one.noted]
    said = {deed.tree for deed in noted if deed.kind in (DeedKind.CLOSED, DeedKind.VENTED)}
    unsaid = [tree for one in became for tree in one.top_unsaid if tree not in said]
    after = exchange.with_records() if noted else exchange
    seen = after.outlook() if noted else None
    lines = [
        *_lines_of_noted(exchange, noted, unsaid, seen),
        *_lines_of_again(exchange, [deed for one in became for deed in one.again]),
        *([say.which_top(unsaid, exchange.covers)] if unsaid else _next_steps(exchange, noted, after, seen)),
    ]
    asked = offered(exchange, _tops(unsaid, exchange.covers)) if unsaid else ()
    undo = (undo_button(exchange),) if noted else ()
    return Answer(text="\n".join(lines), buttons=(*asked, *undo), must_be_heard=True)


def _next_steps(exchange: Exchange, noted: Sequence[Deed], after: Exchange, seen: Outlook | None) -> list[str]:
    """What little thing still helps the trees just tended, where the night is too cold for them all the same."""
    left = [deed for deed in noted if deed.kind is not DeedKind.BLANKETED]
    tended = {deed.tree for deed in left if later_deed(exchange, deed) is None}
    return offers(after, seen, tended) if seen is not None and tended else []


def _with_their_tops(told: Sequence[Meaning]) -> list[Meaning]:
    """A wrap and how its top stands, told in one breath, as one deed: wrapped so."""
    wrapped = {tree: one.at_utc for one in told if one.verb is Verb.WRAPPED for tree in one.trees}
    tops = {
        tree: one.verb
        for one in told if one.verb in TOPS
        for tree in one.trees if tree in wrapped and one.at_utc in (None, wrapped[tree])
    }  # fmt: skip
    parts = [
        replace(one, trees=trees, top=DEEDS[top] if top and one.verb is Verb.WRAPPED else None)
        for one in told
        for top in (None, *TOPS)
        if (trees := tuple(tree for tree in one.trees if tops.get(tree) is top))
    ]
    return [one for one in parts if one.verb not in TOPS or not set(one.trees) & set(tops)]


def _together(told: Sequence[Meaning]) -> list[Meaning]:
    """Deeds of one kind and time that answer the same as one meaning, each tree in it once."""
    together: dict[tuple[object, ...], Meaning] = {}
    for deed in told:
        key = deed.verb, deed.top, deed.at_utc, deed.ask_key
        trees = (*together[key].trees, *deed.trees) if key in together else deed.trees
        together[key] = replace(deed, trees=tuple(dict.fromkeys(trees)))
    return list(together.values())


def _lines_of_noted(
    exchange: Exchange, noted: Sequence[Deed], unsaid: Sequence[str], seen: Outlook | None
) -> list[str]:
    """A line for each way the covers now stand."""
    style, now = exchange.style, exchange.now
    return [
        say.noted_deeds(
            group, later_deed(exchange, group[0]), seen, style, now,
            covers=exchange.covers, top_said=group[0].tree not in unsaid,
        )
        for group in _alike(exchange, noted, unsaid)
    ]  # fmt: skip


def _lines_of_again(exchange: Exchange, again: Sequence[Deed]) -> list[str]:
    return [
        say.noted_already(group, later_deed(exchange, group[0]), exchange.style, exchange.now, exchange.covers)
        for group in _alike(exchange, again)
    ]


def _alike(exchange: Exchange, deeds: Sequence[Deed], unsaid: Sequence[str] = ()) -> list[list[Deed]]:
    """The deeds that one sentence can tell of."""
    groups: dict[tuple[object, ...], list[Deed]] = {}
    for deed in deeds:
        later = later_deed(exchange, deed)
        words = manner_of(exchange.covers.get(deed.tree))
        kind = words, deed.kind, deed.at_utc, deed.state, later and (later.kind, later.at_utc), deed.tree in unsaid
        groups.setdefault(kind, []).append(deed)
    return list(groups.values())


def _tops(trees: Sequence[str], covers: Covers) -> tuple[Choice, ...]:
    tops = {words_of(covers.get(tree)).top for tree in trees}
    top = tops.pop().capitalize() if len(tops) == 1 else "Top"
    pairs = (("shut", Verb.CLOSED), ("open", Verb.VENTED))
    meanings = [(how, Meaning(verb=verb, trees=tuple(trees))) for how, verb in pairs]
    return tuple(Choice(label=f"{top} {how}", meanings=(meant,)) for how, meant in meanings)


def note_temperature(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """A thermometer read: how far off it was, and what it changed."""
    reading = reading_told(exchange, meaning)
    tree = next(tree for tree in exchange.garden.trees if tree.name == reading.tree)
    expected_of = expected_low if reading.is_minimum else expected_now
    expected = None if reading.place is Place.INSIDE else expected_of(exchange.inputs(), tree, reading)
    if expected is not None and abs(reading.air_c - expected) > FAR_OFF_K and meaning.text != SURE:
        return [_is_it_right(exchange, meaning, reading, expected)]
    note_entry(exchange.c, source_of(exchange), reading)
    words = [
        say.noted_reading(reading, expected, exchange.style, exchange.now),
        what_it_taught(exchange, tree, reading),
    ]
    return [_noted(exchange, " ".join(one for one in words if one))]


def _is_it_right(exchange: Exchange, meaning: Meaning, reading: Reading, expected_c: float) -> Answer:
    """A reading far from all that was expected is asked about before it is kept: mistyped, or in the other scale."""
    style = exchange.style
    as_typed = f_from_c(reading.air_c) if style.fahrenheit else reading.air_c
    other_c = as_typed if style.fahrenheit else c_from_f(as_typed)
    sure = replace(meaning, text=SURE)
    choices = [Choice(label=f"Yes, {style.degrees(reading.air_c, tenths=True)}", meanings=(sure,))]
    if abs(other_c - expected_c) < abs(reading.air_c - expected_c):
        typed, scale = style.number(f"{as_typed:.4g}".replace("-", MINUS)), "°C" if style.fahrenheit else "°F"
        choices.append(Choice(label=f"It was {typed} {scale}", meanings=(replace(sure, air_c=other_c),)))
    choices.append(Choice(label="No, leave it out", meanings=(Meaning(verb=Verb.NO),)))
    return Answer(text=say.is_it_right(reading, expected_c, style), buttons=offered(exchange, choices))


def note_seen(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Something seen on the wood, and how it moves what we hold of it."""
    seen = note_sightings(exchange, meaning)
    lines = [say.noted_sighting(one, _effect(exchange, one), exchange.style) for one in seen]
    return [_noted(exchange, "\n".join(lines))]


def _effect(exchange: Exchange, seen: Sighting) -> SightingEffect | None:
    """How a sighting just noted moves the model of its tree; None where it was seen in a season that is over."""
    inputs = inputs_now(exchange.with_records())
    tree = next(tree for tree in exchange.garden.trees if tree.name == seen.tree)
    effects = hardiness_now(inputs, tree, exchange.now).effects
    return next((effect for effect in reversed(effects) if effect.sighting == seen), None)


def note_not_today(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """It can't be done today."""
    return _put_off(exchange, meaning, later=False)


def note_later(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """To be asked again later."""
    return _put_off(exchange, meaning, later=True)


def _put_off(exchange: Exchange, meaning: Meaning, *, later: bool) -> list[Answer]:
    if not _is_pending(exchange, meaning, later=later):
        return [Answer(text=say.nothing_pending(meaning.trees))]
    until = note_refusal(exchange, meaning, later=later)
    text = say.noted_refusal(meaning.trees, until, exchange.outlook(), exchange.style, exchange.now, later=later)
    return [_noted(exchange, text)]


def _is_pending(exchange: Exchange, meaning: Meaning, *, later: bool) -> bool:
    """Whether there is something to put off or refuse: else nothing would come of the promise to ask again."""
    if not later:
        return bool(meaning.trees)  # "can't" of a tree holds for the night, whatever comes up
    seen = exchange.outlook()
    asked = {tree for ask in open_asks(exchange) for tree in ask.trees}
    wanted = {act.tree for act in seen.acts} if seen else set()
    return bool(set(meaning.trees) & (asked | wanted))


def _noted(exchange: Exchange, text: str) -> Answer:
    return Answer(text=text, buttons=(undo_button(exchange),))


def undo_last(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """The last reply taken back; asked about first where it is not of today, for nobody has it in mind any more."""
    last = last_said(exchange.c, exchange.garden.name)
    if last is None or exchange.now - last.noted_utc <= UNDO_AT_ONCE or meaning.text == SURE:
        return undo_update(exchange, None)
    sure = Choice(label="Undo it", meanings=(replace(meaning, text=SURE),))
    choices = sure, Choice(label="Leave it", meanings=(Meaning(verb=Verb.NO),))
    text = say.undo_that(last.entries, last.noted_utc, exchange.style, exchange.now, exchange.covers)
    return [Answer(text=text, buttons=offered(exchange, choices))]


def undo_update(exchange: Exchange, update_id: int | None) -> list[Answer]:
    """What one reply noted taken back, or the last one; with what is thereby asked again."""
    before = {ask.key for ask in open_asks(exchange)}
    batch = take_back(exchange, update_id)
    text = say.undone(batch.entries if batch else (), exchange.style, exchange.covers)
    again = [ask for ask in open_asks(exchange) if ask.key not in before]
    if not again:
        return [Answer(text=text, must_be_heard=batch is not None)]
    verb, trees = DeedKind(again[-1].verb.value), again[-1].trees
    buttons = ask_buttons(verb, again[-1].key, trees, exchange.covers)
    return [Answer(text=f"{text} {say.still_open(verb, trees, exchange.covers)}", buttons=buttons)]


def in_one(answers: Sequence[Answer], undo: Button) -> list[Answer]:
    """All that answers one reply in one message, its undo last; a picture stays a message of its own."""
    plain = [one for one in answers if one.picture is None]
    text = "\n".join(dict.fromkeys(one.text for one in plain))
    if len(plain) < 2 or len(text) > LONGEST_ANSWER:
        return list(answers)
    buttons = dict.fromkeys(button for one in plain for button in one.buttons if button != undo)
    undoes = any(undo in one.buttons for one in plain)
    heard = any(one.must_be_heard for one in plain)
    whole = replace(plain[0], text=text, buttons=(*buttons, *((undo,) if undoes else ())), must_be_heard=heard)
    return [whole if one is plain[0] else one for one in answers if one is plain[0] or one not in plain]
