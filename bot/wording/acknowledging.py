"""The sentences that say back what a grower told: noted, put off, seen, undone."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from bot.replies.words.times import DAY_HOUR_PAST
from bot.wording.covers.condition import told_words
from bot.wording.covers.words import (
    Covers,
    do_words,
    done_alone,
    done_words,
    has_top,
    words_of,
)
from bot.wording.formats import Style, chance, names, sentence, too_cold
from bot.wording.learned import word_in_words
from bot.wording.year.season import entry_in_words
from rules.garden.condition import ConditionTold
from rules.garden.records import Deed, DeedKind, Place, Reading, Sighting
from rules.garden.season_records import SeasonEntry
from rules.jobs import JobMark
from rules.learning import Forgotten, ThresholdAnswer
from rules.outlook.garden_outlook import Outlook
from rules.weather.hourly import evening_of
from rules.wood.margins import Tissue
from rules.wood.season import SightingEffect

MOST_TOLD: Final = 2  # trees told one by one whatever they can take; no source
MOST_LINES: Final = 8  # of what is on record that are told; a phone shows no more. No source
WORTH_A_WORD: Final = 0.1  # chance; no source


def noted_deeds(
    deeds: Sequence[Deed],
    later: Deed | None,
    outlook: Outlook | None,
    style: Style,
    now: datetime,
    *,
    covers: Covers,
    top_said: bool = True,
) -> str:
    """What was noted: trees, deed and time, then what it means for the coming night.

    `later` is a deed at these trees that was told before and happened after: then that is how they stand. Of a top
    that nobody spoke of (not `top_said`) nothing is told.
    """
    text = f"Noted: {_told(deeds, style, now, covers, top_said=top_said)}."
    if later is not None:
        return f"{text} What came after still stands: {_since(later, style, now, covers)}."
    if deeds[0].kind is DeedKind.BLANKETED:
        return f"{text} I count on it until tomorrow noon; off again in the morning."
    return f"{text} {after_deeds(deeds, outlook, style)}".strip()


def _told(deeds: Sequence[Deed], style: Style, now: datetime, covers: Covers, *, top_said: bool = True) -> str:
    """Trees, deed and time; of a wrap also how its top stands, where that was said."""
    first, cover = deeds[0], covers.get(deeds[0].tree)
    says_top = first.kind == DeedKind.WRAPPED and top_said and has_top(cover)
    extra = f", {words_of(cover).stands[first.state]}" if says_top else ""
    done = sentence(done_words(first.kind, [deed.tree for deed in deeds], covers)).rstrip(".")
    return f"{done}{extra} {_moment(first.at_utc, style, now)}"


def _since(later: Deed, style: Style, now: datetime, covers: Covers) -> str:
    return f"{done_alone(later.kind, covers.get(later.tree))} {_moment(later.at_utc, style, now)}"


def noted_already(deeds: Sequence[Deed], later: Deed | None, style: Style, now: datetime, covers: Covers) -> str:
    """That the same was noted before and stands once; `later` is what was told of these trees since."""
    text = f"Already noted, once: {_told(deeds, style, now, covers)}."
    if later is None:
        return text
    again = f'"{done_words(deeds[0].kind, [deeds[0].tree], covers)}"'
    since = f"Since then {_since(later, style, now, covers)}, and so it stands."
    return f"{text} {since} Done once more? Say {again}."


def which_top(trees: Sequence[str], covers: Covers) -> str:
    """The question how the tops stand, of which nobody spoke, and what is assumed until somebody does."""
    top = f"Is the {words_of(covers.get(trees[0])).top}" if len(trees) == 1 else "Are the tops"
    return f"{top} of {names(trees)} open or shut? Until you tell me I count on open, the colder."


def taken_back(entries: Sequence[object], style: Style, covers: Covers) -> str:
    """What a message that was changed had said and does no more."""
    return f"You changed your message, so I took back: {_listed(entries, style, covers)}."


def _moment(at: datetime, style: Style, now: datetime) -> str:
    day, local = style.day(at, now), at.astimezone(style.zone)
    if day != "today" and (local.hour, local.minute) == (DAY_HOUR_PAST, 0):
        return day  # told without an hour
    return f"{'' if day == 'today' else f'{day} '}at {style.clock(at)}"


def after_deeds(deeds: Sequence[Deed], outlook: Outlook | None, style: Style) -> str:
    """What the wood will feel tonight with its cover as it now is, against what it can take.

    Of many trees only those at risk are told one by one, and which of the others comes nearest to it.
    """
    if outlook is None:
        return ""
    tissue = [(deed.tree, *one) for deed in deeds if (one := _wood_tonight(deed, outlook, style))]
    told = [(tree, _wood_words(now, lt10_c, style)) for tree, now, lt10_c in tissue]
    if len(tissue) == 1:
        return f"Tonight its wood should feel about {told[0][1]}."
    if len(tissue) <= MOST_TOLD:
        return _told_apart(told)
    risky = [words for words, (_, now, _) in zip(told, tissue, strict=True) if now.chance >= WORTH_A_WORD]
    calm = [one for one in tissue if one[1].chance < WORTH_A_WORD]
    if not calm:
        return _told_apart(risky)
    tree, now, lt10_c = min(calm, key=lambda one: one[1].wood_c - one[2])
    rest = f"{'The others' if risky else 'Tonight all'} stay above what they can take; nearest to it {tree}: about "
    return f"{_told_apart(risky)} {rest}{_wood_words(now, lt10_c, style)}.".strip()


def _told_apart(told: Sequence[tuple[str, str]]) -> str:
    return f"Tonight the wood should feel: {'; '.join(f'{t} about {w}' for t, w in told)}." if told else ""


def _wood_tonight(deed: Deed, outlook: Outlook, style: Style) -> tuple[Tissue, float] | None:
    """What the wood will feel, and what it can take [°C]; None where no night is known."""
    one = outlook.tree(deed.tree)
    if not one.nights or deed.state not in one.nights[0].tissue:
        return None
    return one.night_of(style.evening(outlook.now)).tissue[deed.state], one.hardiness.lt10_c


def _wood_words(tissue: Tissue, lt10_c: float, style: Style) -> str:
    verdict = "" if tissue.chance < WORTH_A_WORD else f", still {too_cold(tissue.chance)}"
    return f"{style.degrees(tissue.wood_c)} (safe to {style.degrees(lt10_c, unit=False)}){verdict}"


def noted_reading(reading: Reading, expected_c: float | None, style: Style, now: datetime) -> str:
    """A reading as it was kept, and how far it is from what was expected at that tree and hour."""
    place = "inside" if reading.place == Place.INSIDE else "at"
    shown = style.degrees(reading.air_c, tenths=True)
    low = "a low of " if reading.is_minimum else ""
    at = _night_of(reading, style, now) if reading.is_minimum else _moment(reading.at_utc, style, now)
    text = f"Noted: {low}{shown} {place} {reading.tree} {at}."
    if expected_c is None and reading.place == Place.INSIDE:
        return text
    if expected_c is None:
        return f"{text} I had no forecast for that hour."
    gap = reading.air_c - expected_c
    if abs(gap) < 0.3:
        return f"{text} Just as expected."
    return f"{text} That is {style.step(gap)} {'warmer' if gap > 0 else 'colder'} than I expected there."


def _night_of(reading: Reading, style: Style, now: datetime) -> str:
    """The night a low belongs to: nobody saw the hour."""
    return style.night(evening_of(reading.at_utc, style.zone, is_minimum=True), now)


def is_it_right(reading: Reading, expected_c: float, style: Style) -> str:
    """The question about a reading that is far from what was expected."""
    gap = reading.air_c - expected_c
    far = f"{style.step(gap)} {'warmer' if gap > 0 else 'colder'} than I expected there"
    return f"{style.degrees(reading.air_c, tenths=True)} at {reading.tree} is {far}. Is it right? I keep nothing yet."


def not_done(trees: Sequence[str], outlook: Outlook | None, style: Style) -> str:
    """What stays open, with its latest time; where nothing does, that nothing was noted."""
    act = next((act for act in outlook.acts if act.tree in trees), None) if outlook else None
    still = f"{names(trees)}: not done yet" if trees else "Not done yet"
    if act is None:
        return f"{still}. I noted nothing."
    return f"{still}. There is time until {style.clock(act.by_utc)}."


def noted_refusal(
    trees: Sequence[str], until: datetime, outlook: Outlook | None, style: Style, now: datetime, *, later: bool
) -> str:
    """That a job is put off or refused, with what that risks."""
    if later:
        return f"All right. I ask again {style.day(until, now)} at {style.clock(until)}."
    risks = []
    for name in trees:
        one = outlook.tree(name) if outlook else None
        if one and one.nights:
            tissue = one.night_of(style.evening(now)).tissue[one.state_assumed]
            risks.append(f"{name}: {chance(tissue.chance)} that tonight is colder than it can take")
    return f"All right, no more about it tonight. {sentence('. '.join(risks))}".strip()


def noted_sighting(seen: Sighting, effect: SightingEffect | None, style: Style) -> str:
    """What was seen on a tree, and how it moved what its wood is taken to be safe to."""
    noted = f"Noted: {seen.sight} on {seen.tree}."
    if effect is None:
        return f"{noted} That season is over, so it changes nothing now."
    if not effect.believed:
        return f"{noted} That does not fit the season, so I keep it but do not count on it."
    safe_to = style.degrees(effect.lt10_after_c)
    if not effect.moved:
        return f"{noted} That fits: it is {effect.phase_after} and is safe to {safe_to}."
    before = f"I had it {effect.phase_before}, safe to {style.degrees(effect.lt10_before_c)}"
    return f"{noted} {before}; now {effect.phase_after}, safe to {safe_to}."


def nothing_pending(trees: Sequence[str]) -> str:
    """That there is nothing to put off or refuse."""
    of = f" of {names(trees)}" if trees else ""
    return f"I ask nothing{of} just now, so there is nothing to put off. I tell you when there is."


def undone(entries: Sequence[object], style: Style, covers: Covers) -> str:
    """What was taken back."""
    if not entries:
        return "There is nothing to undo."
    return f"Undone: {_listed(entries, style, covers)}."


def undo_that(entries: Sequence[object], noted: datetime, style: Style, now: datetime, covers: Covers) -> str:
    """Whether something told longer ago is meant."""
    return f"The last I noted is from {style.day(noted, now)}: {_listed(entries, style, covers)}. Undo it?"


def _listed(entries: Sequence[object], style: Style, covers: Covers) -> str:
    return "; ".join(_entry(entry, style, covers) for entry in entries)


def on_record(told: Sequence[tuple[object, str]], style: Style, now: datetime, covers: Covers) -> str:
    """What was told lately, the newest last, each with its time and whoever told it; what was told at once together."""
    lines: dict[tuple[str, str], list[object]] = {}
    for entry, person in told:
        at = getattr(entry, "at_utc", now)
        lines.setdefault((sentence(_moment(at, style, now).removeprefix("at ")).rstrip("."), person), []).append(entry)
    if not lines:
        return "I have nothing on record since yesterday."
    newest = [
        f"{at}{f' ({person})' if person else ''}: {_together(entries, style, covers)}."
        for (at, person), entries in list(lines.items())[-MOST_LINES:]
    ]
    return "\n".join(["On record:", *newest])


def _together(entries: Sequence[object], style: Style, covers: Covers) -> str:
    """Entries of one moment, the deeds of a kind in one."""
    deeds: dict[DeedKind, list[str]] = {}
    for one in entries:
        if isinstance(one, Deed):
            deeds.setdefault(one.kind, []).append(one.tree)
    done = [done_words(kind, trees, covers) for kind, trees in deeds.items()]
    return "; ".join([*done, *(_entry(one, style, covers) for one in entries if not isinstance(one, Deed))])


def still_open(verb: DeedKind, trees: Sequence[str], covers: Covers) -> str:
    """That a question is open again after its answer was taken back."""
    return f"So this is open again: {do_words(verb, trees, covers)}."


def _entry(entry: object, style: Style, covers: Covers) -> str:
    match entry:
        case Deed():
            return done_words(entry.kind, [entry.tree], covers)
        case ConditionTold():
            return f"{told_words(entry, covers)} at {entry.tree}"
        case Reading():
            return f"{style.degrees(entry.air_c, tenths=True)} at {entry.tree}"
        case Sighting():
            return f"{entry.sight} on {entry.tree}"
    if isinstance(entry, SeasonEntry | JobMark):
        return entry_in_words(entry, style)
    if isinstance(entry, Forgotten | ThresholdAnswer):
        return f"{word_in_words(entry)}, {entry.tree}"
    return f"what you said of {getattr(entry, 'tree', '') or 'the garden'}"
