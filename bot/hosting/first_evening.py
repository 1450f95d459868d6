"""The first conversation of a garden that does not exist yet: place, clock, units, first tree; then its file begins."""

import json
import logging
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any, Final
from zoneinfo import available_timezones

from bot.answers.dialogues import NO, YES, Chat, Dialogue, DialogueAnswer, ask, close, options, tapped, typed, waiting
from bot.answers.exchange import ANSWER_LIVES, Answer
from bot.answers.garden_file.changes import ADD
from bot.answers.garden_file.new_trees import (
    THEN,
    another_tree,
    cover_values,
    first_told,
    next_step,
    put_by,
    question,
    tree_values,
    with_answer,
)
from bot.answers.garden_file.told_trees import draft_alone
from bot.forecasts import Transport, WeatherServiceError, fetch_elevation_m
from bot.inbox import NotAtHandError
from bot.logbook import TERMINAL_CHAT, Connection, Logbook, Source, note_entry, note_state, read_state
from bot.messages import ASKS_LOCATION, Button, Incoming, IncomingKind, Outgoing
from bot.replies.phrases.descriptions import read_coordinates, read_tree_words
from bot.replies.phrases.garden_phrases import added_tree
from bot.settings import Garden, GardenError
from bot.settings.new_garden import FirstWords, begin_garden, time_zone_at
from bot.wording.people import new_garden as say
from bot.wording.people.garden import put_by as put_by_words
from bot.wording.people.garden import unkept as unkept_words
from rules.garden.tree import Site, Tending
from rules.garden.units import M_PER_FOOT

KIND: Final = "new garden"
PLACE, ZONE, ZONE_NAME, ELEVATION, UNITS, TREE, MORE = (
    "place",
    "zone",
    "zone name",
    "elevation",
    "units",
    "tree",
    "more",
)
ELEVATIONS_M: Final = (-450, 6000)  # as the garden file has it
FAHRENHEIT, CELSIUS = "f", "c"
# nothing but a height: a year or a width in it is none
HEIGHT_SAID: Final = re.compile(
    r"^\s*(?:about |around |at |it is |it lies at |ca\.? )?(?P<number>[-−]?\d{1,4}(?:[.,]\d+)?)\s*"
    r"(?:(?P<feet>ft|feet|foot|')|m|metres|meters)?(?: up| high| above (?:the )?sea(?: level)?)?\s*[.!]?\s*$"
)
UNITS_WORDS: Final = (
    (FAHRENHEIT, r"f\w{1,2}ren\w*t|imperial|\binch|\bmph\b|\bf\b"),
    (CELSIUS, r"cel[sc]ius|centigrade|metric|\bcm\b|\bkm|\bc\b"),
)
WAITS: Final = timedelta(days=60)  # nothing else is talked about here, so that who comes back goes on. No source
HEIGHT: Final = "height of the place"
HEIGHT_S: Final = (
    8.0  # longest the service may take: others wait for their answers meanwhile, and we can ask. No source
)

log = logging.getLogger(__name__)


def outgoing(answers: list[Answer], incoming: Incoming, now: datetime) -> list[Outgoing]:
    """The answers as messages."""
    return [
        Outgoing(
            key=f"reply:{incoming.update_id}:{n}", chat_id=incoming.chat_id, text=one.text, buttons=one.buttons,
            due_utc=now, expires_utc=now + ANSWER_LIVES,
        )
        for n, one in enumerate(answers)
    ]  # fmt: skip


class Heights:
    """Asks the weather service how high a place lies, between two transactions."""

    def __init__(self, logbook: Logbook, transport: Transport) -> None:
        self._logbook = logbook
        self._transport = replace(transport, retries=0, timeout_s=HEIGHT_S, longest_s=HEIGHT_S)

    def find(self, garden: str, place: Sequence[float], now: datetime) -> None:
        """Keep the height of a place, or that it is not known."""
        try:
            height_m: float | None = fetch_elevation_m(place[0], place[1], self._transport, now)
        except WeatherServiceError as error:
            log.warning("the height of the place: %s", error)
            height_m = None
        with self._logbook.begin() as c:
            note_state(c, garden, HEIGHT, json.dumps({"place": place, "height_m": height_m}))


class FirstEvening:
    """One thing said before there is a garden: the next question, or the garden's file.

    What was said so far is in the logbook, under the name of the garden to be.
    """

    def __init__(
        self, c: Connection, path: Path, name: str, incoming: Incoming, now: datetime, heights: Heights
    ) -> None:
        self._c, self._path, self._name, self._incoming, self._now = c, path, name, incoming, now
        self._heights = heights
        update_id, chat_id = incoming.update_id, incoming.chat_id
        self._chat = Chat(c=c, garden=name, chat_id=chat_id, update_id=update_id, at_utc=now)

    def begin(self) -> list[Answer]:
        """The first question."""
        asked = self._asked(PLACE, {}, say.where(self._name))
        alone = not self._incoming.is_group and self._incoming.chat_id != TERMINAL_CHAT  # where it can be shown
        return [replace(asked, buttons=(Button(label="Send my location", data=ASKS_LOCATION),)) if alone else asked]

    def answers(self) -> list[Answer]:
        """The answer to what was said: the next question, the same one again, or the garden."""
        dialogue = waiting(self._chat, WAITS)
        if dialogue is None:
            return self._place({}) or self.begin()
        said = self._said(dialogue)
        found = self._place(dict(dialogue.draft)) if dialogue.step in (PLACE, ZONE) else None
        if found is None and said is not None:
            found = self._step(dialogue, said)
        return found or [self._again(dialogue)]

    def _said(self, dialogue: Dialogue) -> DialogueAnswer | None:
        if self._incoming.kind is IncomingKind.TAP:
            return tapped(dialogue, self._incoming.button)
        return typed(dialogue, self._incoming.text)

    def _asked(self, step: str, draft: Mapping[str, Any], text: str, pairs: tuple[tuple[str, str], ...] = ()) -> Answer:
        return Answer(text=text, buttons=ask(self._chat, KIND, step, {**draft, "asked": text}, options(pairs)))

    def _again(self, dialogue: Dialogue) -> Answer:
        pairs = tuple((one.label, one.value) for one in dialogue.options)
        text = str(dialogue.draft["asked"])
        again = self._asked(dialogue.step, dialogue.draft, text, pairs)
        return replace(again, text=say.where_again() if dialogue.step == PLACE else say.not_that(text))

    def _place(self, draft: dict[str, Any]) -> list[Answer] | None:
        place = self._incoming.location or read_coordinates(self._incoming.text)
        if place is None:
            return None
        draft["place"] = [round(place[0], 4), round(place[1], 4)]  # to ten metres; nobody's door needs more
        zone = time_zone_at(*place)
        if zone is None:
            return [self._asked(ZONE_NAME, draft, say.which_zone())]
        return [self._asked(ZONE, {**draft, "zone": zone}, say.is_zone(zone), (("Yes", YES), ("No", NO)))]

    def _step(self, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
        draft = dict(dialogue.draft)
        match dialogue.step:
            case "zone":
                if said.choice == NO:
                    return [self._asked(ZONE_NAME, draft, say.which_zone())]
                return self._height(draft) if said.choice == YES else None
            case "zone name":
                zone = next((z for z in available_timezones() if z.casefold() == said.text.strip().casefold()), None)
                return self._height({**draft, "zone": zone}) if zone else None
            case "elevation":
                height_m = _height_m(said.text)
                return self._units({**draft, "height_m": height_m}) if height_m is not None else None
            case "units":
                units = said.value or _units_in(said.text)
                return self._first_tree({**draft, "units": units}) if units else None
            case "tree":
                return self._tree(draft, said.text)
        return self._more(draft, dialogue, said) if dialogue.step.startswith(MORE) else None

    def _height(self, draft: dict[str, Any]) -> list[Answer]:
        found = json.loads(read_state(self._c, self._name, HEIGHT) or "{}")
        if found.get("place") != draft["place"]:
            raise NotAtHandError(partial(self._heights.find, self._name, draft["place"], self._now))
        if found["height_m"] is not None:
            return self._units({**draft, "height_m": found["height_m"]})
        return [self._asked(ELEVATION, draft, say.how_high())]

    def _units(self, draft: dict[str, Any]) -> list[Answer]:
        pairs = (("°C, cm, km/h", CELSIUS), ("°F, inches, mph", FAHRENHEIT))
        return [self._asked(UNITS, draft, say.which_units(draft["height_m"]), pairs)]

    def _first_tree(self, draft: dict[str, Any]) -> list[Answer]:
        return [self._asked(TREE, draft, say.first_tree())]

    def _tree(self, draft: dict[str, Any], text: str) -> list[Answer] | None:
        words = read_tree_words(added_tree(text), self._now.year)
        tree, unkept = draft_alone(words)
        tree |= {"tending": draft["tending"]} if "tending" in draft else {}
        if not (words.name or words.species):
            return None
        answers = self._go_on(draft, tree)
        told = f"{unkept_words(unkept)}\n" if unkept else ""
        return [replace(answers[0], text=f"{told}{answers[0].text}"), *answers[1:]]

    def _more(self, draft: dict[str, Any], dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
        if (rest := another_tree(said)) is not None:
            tree_so_far, name = put_by(draft["tree"], rest)
            answers = self._go_on(draft, tree_so_far)
            return [replace(answers[0], text=f"{put_by_words(name)} {answers[0].text}"), *answers[1:]]
        tree = with_answer(draft["tree"], dialogue.step.removeprefix(MORE), said, self._now.year)
        return self._go_on(draft, tree) if tree is not None else None

    def _go_on(self, draft: dict[str, Any], tree: Mapping[str, Any]) -> list[Answer]:
        step = next_step(tree, is_first=True)
        if step is None:
            return self._begun(draft, tree)
        text, choices = question(tree, step, None)
        pairs = tuple((one.label, one.value) for one in choices)
        return [self._asked(f"{MORE}{step}", {**draft, "tree": tree}, text, pairs)]

    def _source(self) -> Source:
        said = self._incoming
        return Source(garden=self._name, person=said.person, person_id=said.person_id, update_id=said.update_id,
                      noted_utc=self._now)  # fmt: skip

    def _begun(self, draft: Mapping[str, Any], tree: Mapping[str, Any]) -> list[Answer]:
        cover, values = cover_values(tree, None)
        latitude_deg, longitude_deg = draft["place"]
        words = FirstWords(
            name=self._name,
            owner=self._incoming.person,
            site=Site(latitude_deg=latitude_deg, longitude_deg=longitude_deg, elevation_m=draft["height_m"],
                      time_zone=draft["zone"]),
            fahrenheit=draft["units"] == FAHRENHEIT,
            tending=Tending(tree["tending"]),
        )  # fmt: skip
        try:
            garden = begin_garden(self._path, words, tree_values(tree), cover, values)
        except GardenError as error:
            problems = [replace(problem, line=None) for problem in error.problems]
            return [self._asked(TREE, {**draft, "tree": None, "tending": tree["tending"]}, say.refused(problems))]
        close(self._chat)
        if (told := first_told(tree, str(tree["name"]), self._now)) is not None:
            note_entry(self._c, self._source(), told)
        begun = Answer(text=say.begun(garden.name, str(tree["name"]), self._path.name))
        return [begun, *self._next_tree(garden, tree.get(THEN, ()))]

    def _next_tree(self, garden: Garden, then: Sequence[str]) -> list[Answer]:
        """The first question about a tree told meanwhile; the garden goes on with it as with any new tree."""
        if not then:
            return []
        told_draft, unkept = draft_alone(read_tree_words(then[0], self._now.year))
        draft = {**told_draft, THEN: list(then[1:])}
        step = next_step(draft)
        if step is None:
            return []
        text, choices = question(draft, step, garden)
        told = f"{unkept_words(unkept)}\n" if unkept else ""
        return [Answer(text=f"{told}{text}", buttons=ask(self._chat, ADD, step, draft, choices))]


def _units_in(text: str) -> str | None:
    """The units somebody names otherwise than by the button."""
    words = text.casefold()
    return next((units for units, pattern in UNITS_WORDS if re.search(pattern, words)), None)


def _height_m(text: str) -> float | None:
    """A height [m] as typed, in metres or feet; None where it is none of a place on land."""
    found = HEIGHT_SAID.match(text.casefold())
    if found is None:
        return None
    height = float(found["number"].replace("−", "-").replace(",", "."))
    height_m = height * M_PER_FOOT if found["feet"] else height
    return height_m if ELEVATIONS_M[0] <= height_m <= ELEVATIONS_M[1] else None
