"""Sets of replies written by growers who had not seen the code, each with what a careful friend would note."""

import tomllib
from datetime import datetime
from typing import Any

import pytest

from bot.replies import Ambiguous, Context, Meaning, OpenAsk, TreeName, Understood, Verb, parse_reply
from rules.garden.cover import CoverState
from tests.bot.replies.test_replies_phrases import HERE, ZONE, shown

STATES = {"closed": CoverState.VENTED, "vented": CoverState.CLOSED, "wrapped": CoverState.BARE}  # before it is asked
TREES = {
    "Porch fig": "fig", "Wall fig": "fig", "Bench fig": "fig", "Kaki": "kaki", "Pomegranate": "pomegranate",
    "Satsuma": "satsuma",
}  # fmt: skip
SHORT = {"Pomegranate": ("pom",), "Satsuma": ("sat",)}
NOTES_NOTHING = frozenset((
    Verb.NOT_DONE, Verb.CANNOT, Verb.WILL_DO, Verb.SNOOZE, Verb.YES, Verb.NO, Verb.THANKS, Verb.HELLO, Verb.DUE,
    Verb.TONIGHT, Verb.WHY, Verb.TREES, Verb.WHAT_IF, Verb.LAST_FROST, Verb.LAST_NIGHT, Verb.LEARNED, Verb.FIRST,
    Verb.MORE, Verb.MAY_OPEN, Verb.HOW_TO, Verb.HOW_HARD, Verb.SEASON, Verb.STAY_SHUT, Verb.STRIP_WHEN, Verb.NEED,
    Verb.BY_WHEN, Verb.NOTED, Verb.ALIVE, Verb.MEAN, Verb.NIGHTS, Verb.WHO, Verb.SETTINGS, Verb.BEST_FORECAST,
    Verb.HELP, Verb.BEYOND, Verb.FINE, Verb.COMPARE, Verb.RIPEN, Verb.FIRST_FROST, Verb.REVIEW, Verb.STRIP_WHEN,
))  # fmt: skip


def heard(said: dict[str, Any]) -> Context:
    """The garden when it was said; `asked` is the open nudge, "closed: Porch fig, Wall fig"."""
    verb, _, names = said.get("asked", "").partition(": ")
    state = STATES.get(verb, CoverState.VENTED)
    trees = tuple(
        TreeName(
            name=name, short_names=SHORT.get(name, (name.split()[0].lower(),)), number=n, species=kind, state=state
        )
        for n, (name, kind) in enumerate(TREES.items(), start=1)
    )
    asks = (OpenAsk(key="asked", verb=Verb(verb), trees=tuple(names.split(", "))),) if verb else ()
    now = datetime.fromisoformat(said["at"]).replace(tzinfo=ZONE)
    in_f = said.get("fahrenheit", False)
    people = ("Rowan", "Juniper")
    return Context(trees=trees, now=now, zone=ZONE, fahrenheit=in_f, inches=in_f, open_asks=asks, people=people)


def noted(text: str, context: Context) -> str:
    """What a reply puts on record at once, in the notation of the tables of phrases."""
    reply = parse_reply(text, context)
    told: tuple[Meaning, ...] = ()
    if isinstance(reply, Understood):
        told = reply.meanings
    elif isinstance(reply, Ambiguous):
        told = reply.certain
    return " ; ".join(shown(one) for one in told if one.verb not in NOTES_NOTHING)


SETS = tomllib.loads((HERE / "fresh_ears.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", SETS)
def test_nothing_is_noted_of_what_fresh_ears_said_but_what_they_meant(name: str) -> None:
    said = SETS[name].items()
    rows = [(text, one["meant"], one.get("noted", ""), noted(text, heard(one))) for text, one in said]
    assert [row for row in rows if row[2] != row[3]] == []


def test_nothing_is_noted_of_what_is_said_of_other_matters_by_the_same_words() -> None:
    said = tomllib.loads((HERE / "other_matters.toml").read_text(encoding="utf-8"))
    told = [
        (text, noted(text, heard({"at": "2026-01-18T16:55", "asked": asked}))) for asked in said for text in said[asked]
    ]
    assert not [one for one in told if one[1]]
