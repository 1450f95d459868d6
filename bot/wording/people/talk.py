"""The sentences that lead on: a welcome, help, what was not understood, and the question that settles it."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from bot.nudges import asks
from bot.replies import Choice, Question
from bot.wording.formats import Style
from bot.wording.nights import due_line
from rules.garden.tree import Tree
from rules.outlook.garden_outlook import Outlook

_HELP: Final = """Tell me what you did: wrapped {kaki} · closed {porch} and {wall} · opened all · stripped {olive}
Can't? Say: can't today · later · in 2 hours
A reading: {reading} at {wall} · {bare} {porch} · low was {low} last night
What you see: leaves dropped on {porch} · buds swelling on {kaki} · full bloom on {olive}
What befell it: wind took the cap off {porch} · film torn at {wall} · mice at {kaki} · straw in at {kaki}, film tomorrow
Jobs: watered {kaki} · no voles · put off the mulch till may · skip the scratch test
Ask: tonight · due · due may · calendar · trees · what do I need for {kaki}
And: what should I do first · what else can I do for {porch} · can I open the tops today · how do I wrap {porch}
And: why {porch} · what if {what_if} · would a bucket help {porch} · how hard is {porch}
Or: by when must I close {wall} · how cold saturday night · is {porch} dead · did you note that · mice, what to do
Or: when is the last frost · when can I strip · will they ripen
Pictures: page · show me {porch} · draw the cover of {porch} · freeze dates picture
You: away until sunday · hand over to juniper · back · wake me · stop · start · note: pruned {wall}
Learned: what have you learned · which forecast is best · forget {porch} · review the winter
The season: {porch} died back {dead} · picked 12 fruits from {porch} · took 4 cuttings from {wall} · season
The garden: add a fig called Gate · cover {porch}: straw cage, {inside} inside · export · import
Settings: use {units} · quiet from {quiet} · {porch} is worth 60 · tend {porch} early · settings
The household: who is here · let someone in · remove juniper from here
Wrong? Say: undo"""


FEW: Final = 3  # choices that a sentence can still hold; no source
EXAMPLES: Final = ("porch", "wall", "kaki", "olive")


def short_of(trees: Sequence[Tree]) -> tuple[str, ...]:
    """What each tree is called in a hurry, those first that are tended."""
    tended = sorted(trees, key=lambda tree: tree.left_bare)
    return tuple((tree.short_names[0] if tree.short_names else tree.name).lower() for tree in tended)


def help_words(style: Style, trees: Sequence[str] = ()) -> str:
    """All that can be said, in the grower's own units and clock, its examples of the garden's own trees.

    `trees` are the names to say them by, the first four of them used.
    """
    f = style.fahrenheit
    told = {"reading": "20", "bare": "19", "low": "14", "what_if": "10"} if f else {
        "reading": style.number("-6.5"), "bare": "-7", "low": "-10", "what_if": "-12"}  # fmt: skip
    inches = style.length == "in"
    sizes = {"dead": "12 in of 60", "inside": "24 in"} if inches else {"dead": "30 cm of 150", "inside": "60 cm"}
    other = {"units": "°C and cm" if f else "°F and inches", "quiet": "10 pm to 6 am" if f else "22:00 to 6:00"}
    named = dict(zip(EXAMPLES, tuple(trees or EXAMPLES) * len(EXAMPLES), strict=False))
    return _HELP.format(**told, **sizes, **other, **named)


def welcome(garden: str, person: str, style: Style, trees: Sequence[str] = ()) -> str:
    """The first words to someone let in."""
    return (
        f"Welcome to {garden}, {person}. I watch the cold and tell you what the trees need.\n{help_words(style, trees)}"
    )


def hello(garden: str, trees: int) -> str:
    """A greeting, with the three words that lead on."""
    watched = "one tree" if trees == 1 else f"{trees} trees"
    return f'Hello. I watch {watched} in {garden}. Say "tonight", "due", or "help" for all I understand.'


def which(question: Question, choices: Sequence[Choice]) -> str:
    """The question that an ambiguous reply leaves, with its choices in words."""
    ask = {
        Question.WHICH_TREE: "Which tree?",
        Question.WHICH_ASK: "Which one do you mean?",
        Question.WHICH_DEED: "What did you do?",
        Question.WHICH_TIME: "Which time?",
        Question.WHAT_ABOUT: "What about it?",
        Question.DONE_OR_NOT: "Done, or not yet?",
        Question.SO_OR_NOT: "Shall I note that?",
        Question.TAKE_BACK: "Shall I take back what I noted?",
        Question.WHICH_NUMBER: "Is that what the thermometer shows?",
    }[question]
    return f"{ask} {_or(choices)}".strip() if len(choices) <= FEW else ask  # more stand on the buttons alone


def left_out(words: str) -> str:
    """What of a reply was not taken in, beside what was noted or answered."""
    return f'I left out "{words}".'


def not_understood(heard: str, choices: Sequence[Choice], *, is_ours: bool = True) -> str:
    """Repair, not error: what was heard, with what of it was understood offered as a choice, help last."""
    if not is_ours:
        return "That is none of the trees' business, so I noted nothing."
    understood = f"I could not make sense of all of this: {heard}." if heard else "I did not understand that."
    offer = f"Did you mean: {_or(choices)}" if choices else 'Try "closed porch", "due", or "help".'
    return f"{understood} {offer}"


def _or(choices: Sequence[Choice]) -> str:
    labels = [choice.label for choice in choices]
    return f"{', '.join(labels[:-1])} or {labels[-1]}?" if len(labels) > 1 else "".join(f"{one}?" for one in labels)


def stale_tap(outlook: Outlook | None, style: Style, now: datetime) -> str:
    """That a button belonged to something settled, and what stands today."""
    if outlook is None or not (wanted := asks(outlook.acts, style.zone)):
        return "That question is settled. Nothing else is open."
    return f"That question is settled. Now: {due_line(wanted[0], outlook, style, now)}"
