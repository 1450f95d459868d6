"""Words for a choice, short enough for a button."""

from collections.abc import Callable
from datetime import datetime

from bot.replies.nouns import Context, Meaning, Verb
from rules.garden.records import Place
from rules.garden.units import f_from_c
from rules.jobs import JobKind

LONGEST_LABEL = 40  # characters; longer ones are cut off on a narrow phone (assumed, no source)
_SAID = {
    Verb.NOT_DONE: "not done",
    Verb.CANNOT: "can't",
    Verb.SNOOZE: "ask again",
    Verb.WILL_DO: "will do",
    Verb.BLANKETED: "under a blanket",
    Verb.HOW_HARD: "what it is safe to",
    Verb.TREES: "how it stands",
    # what is asked
    Verb.WHY: "why",
    Verb.MEAN: "what that word means",
    Verb.MORE: "what else would help",
    Verb.MAY_OPEN: "may it be open",
    Verb.STAY_SHUT: "can it stay shut",
    Verb.HOW_TO: "how to do it",
    Verb.FIRST: "what to do first",
    Verb.DUE: "what is due",
    Verb.BY_WHEN: "by when",
    Verb.TONIGHT: "how cold tonight",
    Verb.NIGHTS: "the nights ahead",
    Verb.LAST_NIGHT: "last night",
    Verb.NEED: "what it needs",
    Verb.NOTED: "what you told me",
    Verb.ALIVE: "is it alive",
    Verb.RIPEN: "will it ripen",
    Verb.WHAT_IF: "what if",
    Verb.STRIP_WHEN: "when to uncover",
    Verb.SEASON: "the year so far",
    Verb.LEARNED: "what I have learned",
    Verb.REVIEW: "how the winter went",
    Verb.COMPARE: "two trees compared",
    Verb.BEST_FORECAST: "the best forecast",
    Verb.WHO: "who is here",
    Verb.HELP: "all I understand",
    Verb.SETTINGS: "what can be set",
    Verb.STOP: "no more messages",
}


def label(meanings: tuple[Meaning, ...], context: Context) -> str:
    """The words for one choice, in the garden's own time and unit."""
    words = _joined(meanings, context, " and ".join)
    words = words if len(words) <= LONGEST_LABEL else _joined(meanings, context, _first_of)
    return words if len(words) <= LONGEST_LABEL else words[: LONGEST_LABEL - 1].rstrip(" ,") + "…"


def _joined(meanings: tuple[Meaning, ...], context: Context, names: Callable[[tuple[str, ...]], str]) -> str:
    told = [_words(meaning, context, names(meaning.trees)) for meaning in meanings]
    for at in range(1, len(meanings)):
        if meanings[at].verb is Verb.CONDITION and meanings[at].trees == meanings[at - 1].trees:
            told[at] = told[at].removeprefix(f"{names(meanings[at].trees)} ")
    return ", ".join(told)


def _first_of(trees: tuple[str, ...]) -> str:
    """The trees in few words, so that what is said of them is not what is cut off."""
    return f"{trees[0]} + {len(trees) - 1} more" if len(trees) > 1 else "".join(trees)


def _words(meaning: Meaning, context: Context, trees: str) -> str:
    said = _SAID.get(meaning.verb, meaning.verb.value.replace("_", " "))
    if meaning.verb is Verb.CONDITION and meaning.condition is not None:
        said = f"{meaning.layer} not on" if meaning.layer else f"{meaning.condition} {meaning.text}".strip()
    if meaning.verb is Verb.STOCK:
        said = f"no {meaning.text} left" if meaning.count == 0 else f"{meaning.count or ''} {meaning.text}".strip()
    if meaning.verb is Verb.JOB and meaning.job is not None:
        said = f"{meaning.job} {meaning.mark or ''}".removeprefix("check_").replace("_", " ").strip()
        said = f"wood {meaning.text}" if meaning.job is JobKind.SCRATCH_TEST and meaning.text else said
    if meaning.verb in (Verb.SETTING, Verb.FREE_HOURS):
        said = meaning.text if meaning.verb is Verb.SETTING else f"free: {meaning.text}"
    if meaning.verb is Verb.SIGHTING and meaning.sight is not None:
        said = str(meaning.sight)
    if meaning.verb is Verb.READING and meaning.air_c is not None:
        said = (
            _degrees(meaning.air_c, context) + " low" * meaning.is_minimum + " inside" * (meaning.place is Place.INSIDE)
        )
    if meaning.verb is Verb.AWAY and meaning.at_utc and meaning.until_utc:
        said = f"{said} {meaning.at_utc.astimezone(context.zone):%-d %b} to"
    when = meaning.until_utc or meaning.at_utc
    return " ".join(part for part in (trees, said, _clock(when, context) if when else "") if part)


def _degrees(air_c: float, context: Context) -> str:
    shown = f"{f_from_c(air_c):.0f} °F" if context.fahrenheit else f"{air_c:.1f} °C"
    return (shown.replace(".", ",") if context.decimal_comma else shown).replace("-", "−")


def _clock(at: datetime, context: Context) -> str:
    local = at.astimezone(context.zone)
    if not context.fahrenheit:
        return f"{local:%a %H:%M}"
    minutes = f":{local:%M}" if local.minute else ""
    return f"{local:%a} {local.hour % 12 or 12}{minutes} {'am' if local.hour < 12 else 'pm'}"
