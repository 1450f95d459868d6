"""The table of phrases people would send."""

import tomllib
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.replies import (
    Ambiguous,
    Context,
    Meaning,
    OpenAsk,
    Reply,
    TreeName,
    Understood,
    Verb,
    parse_reply,
)
from rules.garden.cover import CoverState
from rules.garden.records import Place

HERE = Path(__file__).parent
ZONE = ZoneInfo("America/Denver")
NOW = datetime(2026, 11, 25, 16, 10, tzinfo=ZONE)  # a Wednesday
BARE, VENTED, CLOSED = CoverState.BARE, CoverState.VENTED, CoverState.CLOSED


def garden(porch: CoverState, wall: CoverState, kaki: CoverState, eave: CoverState) -> tuple[TreeName, ...]:
    return (
        TreeName(name="Porch fig", short_names=("porch",), number=1, species="fig", state=porch),
        TreeName(name="Wall fig", short_names=("wall",), number=2, species="fig", standing="wall", state=wall),
        TreeName(name="Kaki", short_names=("persimmon",), number=3, species="persimmon", standing="open", state=kaki),
        TreeName(name="Eave pomegranate", short_names=("eave", "pom"), number=4, species="pomegranate", state=eave),
        TreeName(name="Trial fig", short_names=("trial",), number=5, species="fig", state=BARE, has_cover=False),
    )  # fmt: skip


CLOSE = OpenAsk(key="close", verb=Verb.CLOSED, trees=("Porch fig", "Wall fig"))
WRAP_KAKI = OpenAsk(key="kaki", verb=Verb.WRAPPED, trees=("Kaki",))
MIXED = garden(VENTED, VENTED, BARE, CLOSED)
SCENES = {
    "quiet": Context(trees=MIXED, now=NOW, zone=ZONE),
    "close": Context(trees=MIXED, now=NOW, zone=ZONE, open_asks=(CLOSE,)),
    "one": Context(
        trees=MIXED, now=NOW, zone=ZONE, open_asks=(OpenAsk(key="one", verb=Verb.CLOSED, trees=("Porch fig",)),)
    ),
    "wrap": Context(
        trees=garden(BARE, BARE, BARE, BARE),
        now=NOW,
        zone=ZONE,
        open_asks=(OpenAsk(key="wrap", verb=Verb.WRAPPED, trees=("Porch fig", "Wall fig", "Kaki")),),
    ),
    "open": Context(
        trees=garden(CLOSED, CLOSED, BARE, CLOSED),
        now=NOW,
        zone=ZONE,
        open_asks=(OpenAsk(key="open", verb=Verb.VENTED, trees=("Porch fig", "Wall fig")),),
    ),
    "two": Context(trees=MIXED, now=NOW, zone=ZONE, open_asks=(CLOSE, WRAP_KAKI)),
    "fahrenheit": Context(trees=MIXED, now=NOW, zone=ZONE, fahrenheit=True),
}


def shown(meaning: Meaning) -> str:
    """One meaning in the table's notation."""
    parts = [meaning.verb.value, ", ".join(meaning.trees)]
    if meaning.at_utc:
        parts.append(f"at {meaning.at_utc.astimezone(ZONE):%a %H:%M}")
    if meaning.air_c is not None:
        parts.append(f"{meaning.air_c:.1f}C")
    parts += ["inside"] * (meaning.place is Place.INSIDE) + ["low"] * meaning.is_minimum
    parts.append(meaning.sight or "")
    parts += [meaning.condition or "", meaning.layer or ""] + ["mended"] * meaning.is_over
    if meaning.until_utc:
        parts.append(f"until {meaning.until_utc.astimezone(ZONE):%a %H:%M}")
    parts.append(f"month {meaning.month}" if meaning.month else "")
    parts.append(f"'{meaning.text}'" if meaning.text else "")
    return " ".join(part for part in parts if part)


def written(reply: Reply) -> str:
    """A reply in the table's notation."""
    if isinstance(reply, Understood):
        return " ; ".join(map(shown, reply.meanings))
    if isinstance(reply, Ambiguous):
        return "? " + " | ".join(" ; ".join(map(shown, way)) for way in reply.ways)
    return "-"


def table(name: str) -> list[tuple[str, str, str]]:
    scenes = tomllib.loads((HERE / name).read_text(encoding="utf-8"))
    return [(scene, said, meant) for scene, rows in scenes.items() for said, meant in rows.items()]


@cache
def read(scene: str, said: str) -> Reply:
    """What is read in a scene, once for all who ask: that it is read the same twice another test shows."""
    return parse_reply(said, SCENES[scene])


def test_each_of_more_than_three_hundred_phrases_means_what_the_table_says() -> None:
    rows = [(scene, said, meant, written(read(scene, said))) for scene, said, meant in table("phrases.toml")]
    assert len(rows) >= 300
    assert [row for row in rows if row[2] != row[3]] == []


@pytest.mark.parametrize("said_on", range(7))
def test_a_weekday_after_a_deed_lies_behind_and_after_a_tree_alone_ahead(said_on: int) -> None:
    context = replace(SCENES["quiet"], now=NOW + timedelta(days=said_on))
    for weekday in ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"):
        done, planned = (parse_reply(f"{told} on {weekday}", context) for told in ("wrapped kaki", "kaki"))
        assert isinstance(done, Understood), weekday
        assert isinstance(planned, Understood), weekday
        (deed,), (plan,) = done.meanings, planned.meanings
        assert (deed.verb, plan.verb) == (Verb.WRAPPED, Verb.SNOOZE), weekday
        assert deed.at_utc is not None
        assert timedelta() <= context.now - deed.at_utc < timedelta(days=7), weekday
        assert f"{deed.at_utc.astimezone(ZONE):%A}".casefold() == weekday
        assert plan.until_utc is not None
        assert plan.until_utc > context.now, weekday
