"""What was told is noted, and said back: deeds, readings, sightings, "can't" and "later"; and what was undone."""

from collections.abc import Sequence
from dataclasses import replace

from bot.answers.exchange import Answer, Exchange, open_asks, undo_button
from bot.answers.noting import later_deed, note_deeds, note_one_reading, note_refusal, note_sightings, take_back
from bot.answers.season.learned import expected_low, expected_now, what_it_taught
from bot.logbook import read_records
from bot.messages import Button
from bot.replies import DEEDS, Meaning
from bot.rounds.deciding import ask_buttons
from bot.rounds.gathering import RECORDS_READ
from bot.wording import answers as say
from rules.garden.records import Deed, DeedKind, Place, Sighting
from rules.outlook.past import hardiness_now
from rules.wood.season import SightingEffect


def note_done(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """A deed at one or more trees; a line for each way the covers now stand."""
    groups: dict[tuple[object, ...], list[Deed]] = {}
    for deed in note_deeds(exchange, meaning):
        later = later_deed(exchange, deed)
        groups.setdefault((deed.state, later and (later.kind, later.at_utc)), []).append(deed)
    seen = exchange.outlook()

    def line(group: list[Deed]) -> str:
        return say.noted_deeds(group, later_deed(exchange, group[0]), seen, exchange.style, exchange.now)

    return [_noted(exchange, "\n".join(map(line, groups.values())))]


def deeds_together(meanings: Sequence[Meaning]) -> list[Meaning]:
    """Deeds before all else, those of one kind and time as one meaning at all their trees."""
    together: dict[tuple[object, ...], Meaning] = {}
    for deed in (one for one in meanings if one.verb in DEEDS):
        key = (deed.verb, deed.at_utc)
        before = together.get(key)
        trees = tuple(dict.fromkeys((*before.trees, *deed.trees))) if before else deed.trees
        together[key] = replace(deed, trees=trees)
    return [*together.values(), *(one for one in meanings if one.verb not in DEEDS)]


def note_temperature(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """A thermometer read: how far off it was, and what it changed."""
    reading = note_one_reading(exchange, meaning)
    tree = next(tree for tree in exchange.garden.trees if tree.name == reading.tree)
    expected_of = expected_low if reading.is_minimum else expected_now
    expected = None if reading.place is Place.INSIDE else expected_of(exchange.inputs(), tree, reading)
    words = [
        say.noted_reading(reading, expected, exchange.style, exchange.now),
        what_it_taught(exchange, tree, reading),
    ]
    return [_noted(exchange, " ".join(one for one in words if one))]


def note_seen(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Something seen on the wood, and how it moves what we hold of it."""
    effects = [_effect(exchange, seen) for seen in note_sightings(exchange, meaning)]
    return [_noted(exchange, say.noted_sightings(effects, exchange.style))]


def _effect(exchange: Exchange, seen: Sighting) -> SightingEffect:
    """How a sighting just noted moves the model of its tree."""
    inputs = replace(
        exchange.inputs(), records=read_records(exchange.c, exchange.garden.name, exchange.now - RECORDS_READ)
    )
    tree = next(tree for tree in exchange.garden.trees if tree.name == seen.tree)
    effects = hardiness_now(inputs, tree, exchange.now).effects
    return next(effect for effect in reversed(effects) if effect.sighting == seen)


def note_not_today(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """It can't be done today."""
    return _put_off(exchange, meaning, later=False)


def note_later(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """To be asked again later."""
    return _put_off(exchange, meaning, later=True)


def _put_off(exchange: Exchange, meaning: Meaning, *, later: bool) -> list[Answer]:
    until = note_refusal(exchange, meaning, later=later)
    text = say.noted_refusal(meaning.trees, until, exchange.outlook(), exchange.style, exchange.now, later=later)
    return [_noted(exchange, text)]


def _noted(exchange: Exchange, text: str) -> Answer:
    return Answer(text=text, buttons=(undo_button(exchange),))


def undo_last(exchange: Exchange, _: Meaning) -> list[Answer]:
    """The last reply taken back."""
    return undo_update(exchange, None)


def undo_update(exchange: Exchange, update_id: int | None) -> list[Answer]:
    """What one reply noted taken back, or the last one; with what is thereby asked again."""
    before = {ask.key for ask in open_asks(exchange)}
    batch = take_back(exchange, update_id)
    text = say.undone(batch.entries if batch else (), exchange.style)
    again = [ask for ask in open_asks(exchange) if ask.key not in before]
    if not again:
        return [Answer(text=text)]
    verb, trees = DeedKind(again[-1].verb.value), again[-1].trees
    return [Answer(text=f"{text} {say.still_open(verb, trees)}", buttons=ask_buttons(verb, again[-1].key))]


def in_one(answers: Sequence[Answer], undo: Button) -> list[Answer]:
    """What was noted of one reply in one message: its undo takes back all of it."""
    noted = [one for one in answers if one.buttons == (undo,) and one.picture is None]
    if len(noted) < 2:
        return list(answers)
    whole = replace(noted[0], text="\n".join(one.text for one in noted))
    return [whole if one is noted[0] else one for one in answers if one is noted[0] or one not in noted]
