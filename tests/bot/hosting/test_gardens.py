"""Many gardens in one logbook: none hears another's words, none keeps another waiting, neighbours share a fetch."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa

from bot import logbook as lb
from bot.answers.flood import LINE
from bot.hosting.many_gardens import GONE, NEW, Gardens
from bot.hosting.weather_cells import cell_name
from bot.inbox import pending
from bot.logbook import Logbook, open_logbook
from bot.logbook.database.tables import nudges, outbox, rounds
from bot.messages import IncomingKind
from bot.replies import Verb, button_data
from bot.rounds import Setting
from tests.bot.invented_gardens import Clock, garden, said, setting
from tests.bot.talk import keep, read_said
from tests.bot.weather_service import Mood, WeatherService, weather_service

NOON = datetime(2026, 12, 2, 19, tzinfo=UTC)  # at the gardens
LARKMOOR, HERON = garden("Larkmoor", "Porch fig"), garden("Heron Yard", "Gate fig", latitude_deg=39.003)
WREN = garden("Wren Corner", "Shed fig", latitude_deg=40)
CHATS = {"Larkmoor": 11, "Heron Yard": 22, "Wren Corner": 33}
WORDS = {"Larkmoor": "Porch", "Heron Yard": "Gate", "Wren Corner": "Shed"}


@dataclass
class Town:
    logbook: Logbook
    gardens: Gardens
    clock: Clock
    weather: WeatherService
    settings: dict[str, Setting]
    updates: int = 0

    def says(self, chat_id: int, text: str, **more: object) -> None:
        self.updates += 1
        incoming = said(self.updates, chat_id, text, self.clock(), **more)
        keep(self.logbook, incoming, self.clock())

    def hears(self, chat_id: int, text: str, **more: object) -> list[str]:
        """What is said back."""
        before = len(self.texts(chat_id))
        self.says(chat_id, text, **more)
        self.gardens.take_pending(read_said, self.clock)
        return self.texts(chat_id)[before:]

    def texts(self, chat_id: int) -> list[str]:
        with self.logbook.begin() as c:
            return list(c.scalars(sa.select(outbox.c.text).where(outbox.c.chat_id == chat_id).order_by(outbox.c.id)))


@pytest.fixture
def town(new_database: Callable[[], str]) -> Iterator[Town]:
    """On a server, which programs share; begun in the chat, gardens share a file too (test_invitations)."""
    clock = Clock(NOON)
    logbook = open_logbook(new_database())
    with weather_service(clock) as weather:
        settings = {one.name: setting(one, logbook, weather.address) for one in (LARKMOOR, HERON, WREN)}
        gardens = Gardens(logbook, settings)
        gardens.enrol(NOON)
        with logbook.begin() as c:
            for name, chat in CHATS.items():
                lb.note_person(c, name, chat, "Rowan", "owner")
        yield Town(logbook, gardens, clock, weather, settings)
    logbook.close()


def test_neighbours_lie_in_one_cell_and_people_over_the_hill_do_not() -> None:
    assert cell_name(LARKMOOR) == cell_name(HERON) != cell_name(WREN)


def test_gardens_of_a_cell_share_one_fetch_and_all_are_looked_at(town: Town) -> None:
    town.gardens.tick(NOON)
    asked = town.weather.forecasts_asked()
    assert sorted(asked) == [("39", "-109"), ("40", "-109")]  # three gardens, two questions
    with town.logbook.begin() as c:
        assert all(lb.last_round(c, name) is not None for name in CHATS)
    town.clock.pass_(timedelta(minutes=30))
    town.gardens.tick(town.clock())
    assert len(town.weather.forecasts_asked()) == 2  # at most once an hour
    town.clock.pass_(timedelta(minutes=45))
    town.gardens.tick(town.clock())
    assert len(town.weather.forecasts_asked()) == 4


def test_nobody_ever_hears_of_another_garden(town: Town) -> None:
    town.gardens.tick(NOON)
    for name, chat in CHATS.items():
        for words in ("trees", "due", "why", "tonight", f"wrapped {WORDS[name].lower()}", "notes", "undo"):
            town.hears(chat, words)
        other = next(word for one, word in WORDS.items() if one != name)
        town.hears(chat, f"closed {other.lower()} fig")  # of a tree that is not theirs
    town.clock.pass_(timedelta(hours=3))
    town.gardens.tick(town.clock())
    for name, chat in CHATS.items():
        said_to_them = "\n".join(town.texts(chat))
        assert WORDS[name] in said_to_them
        for other, word in WORDS.items():
            assert other == name or (word not in said_to_them and other not in said_to_them)
    with town.logbook.begin() as c:
        for name in CHATS:
            assert {deed.tree.split()[0] for deed in lb.read_records(c, name).deeds} <= {WORDS[name]}
        rows = c.execute(sa.select(outbox.c.garden, outbox.c.chat_id)).all()
    assert all(CHATS[row.garden] == row.chat_id for row in rows)


def test_a_nudge_reaches_the_people_of_its_garden_and_a_tap_from_elsewhere_does_nothing(town: Town) -> None:
    with town.logbook.begin() as c:
        theirs = lb.Nudge(
            key="Heron Yard/x",
            garden="Heron Yard",
            stage="today",
            ask="closed",
            trees=("Gate fig",),
            night=NOON.date(),
            opened_utc=NOON,
            expires_utc=NOON + timedelta(hours=5),
        )
        lb.open_nudge(c, theirs)
        number = c.scalar(sa.select(nudges.c.id))
    town.gardens.tick(NOON)
    tap = {"kind": IncomingKind.TAP, "button": button_data(Verb.CLOSED, f"n{number}", 0)}
    answers = town.hears(CHATS["Larkmoor"], "", **tap)
    assert answers
    assert "Gate" not in answers[0]
    with town.logbook.begin() as c:
        assert c.scalar(sa.select(nudges.c.state).where(nudges.c.id == number)) == "open"
        assert not lb.read_records(c, "Heron Yard").deeds


def test_a_code_lets_into_its_own_garden_and_no_other(town: Town) -> None:
    town.gardens.tick(NOON)
    with town.logbook.begin() as c:
        code = lb.make_let_in_code(c, "Heron Yard", NOON, timedelta(hours=1))
    assert "Heron Yard" in town.hears(44, code)[0]
    assert "Gate" in town.hears(44, "trees")[0]
    assert "Gate" not in town.hears(55, code)[0]  # used up


def test_a_garden_that_fails_holds_up_no_other(town: Town) -> None:
    broken = replace(town.settings["Heron Yard"], garden=HERON.model_copy(update={"trees": None}))
    town.gardens.change({**town.settings, "Heron Yard": broken}, NOON)
    town.gardens.tick(NOON)
    with town.logbook.begin() as c:
        assert lb.last_round(c, "Heron Yard") is None
        assert lb.last_round(c, "Larkmoor") is not None
    assert "Porch" in town.hears(CHATS["Larkmoor"], "trees")[0]
    assert "Sorry" in town.hears(CHATS["Heron Yard"], "trees")[0]


def test_people_of_a_garden_that_was_taken_away_are_told_so(town: Town) -> None:
    town.gardens.change({name: one for name, one in town.settings.items() if name != "Wren Corner"}, NOON)
    assert town.hears(CHATS["Wren Corner"], "trees") == [GONE]


def test_who_joins_before_the_garden_file_is_read_hears_that_it_is_new_and_then_is_answered(town: Town) -> None:
    with town.logbook.begin() as c:
        code = lb.make_let_in_code(c, "Swift Row", NOON, timedelta(hours=1), "owner")
    assert town.hears(66, code) == [NEW]
    assert town.hears(66, "trees") == [NEW]
    swift = replace(town.settings["Wren Corner"], garden=WREN.model_copy(update={"name": "Swift Row"}))
    town.gardens.change({**town.settings, "Swift Row": swift}, NOON)
    town.gardens.tick(NOON)
    assert WORDS["Wren Corner"] in town.hears(66, "trees")[0]
    town.gardens.change(town.settings, NOON)
    assert town.hears(66, "trees") == [GONE]


def test_two_programs_share_the_rounds_and_the_answers(town: Town) -> None:
    other = Gardens(town.logbook, town.settings)
    town.gardens.tick(NOON)
    other.tick(NOON)  # nothing is due any more
    assert rounds_of(town) == dict.fromkeys(CHATS, 1)
    for chat in CHATS.values():
        town.says(chat, "trees")
    other.take_pending(read_said, town.clock)
    assert all(WORDS[name] in "\n".join(town.texts(chat)) for name, chat in CHATS.items())
    before = len(town.weather.forecasts_asked())
    town.clock.pass_(timedelta(minutes=75))
    other.tick(town.clock())
    assert len(town.weather.forecasts_asked()) == before + 2


def rounds_of(town: Town) -> dict[str, int]:
    with town.logbook.begin() as c:
        counted = c.execute(sa.select(rounds.c.garden, sa.func.count().label("made")).group_by(rounds.c.garden))
        return {row.garden: row.made for row in counted}


def test_while_one_program_answers_a_garden_another_answers_the_next_as_one_that_has_looked_ahead(town: Town) -> None:
    town.gardens.tick(NOON)
    other = Gardens(town.logbook, town.settings)  # it has had no round yet
    town.says(CHATS["Larkmoor"], "trees")
    town.says(CHATS["Heron Yard"], "trees")
    with town.logbook.begin() as c:
        assert pending(c, limit=1)  # the first program is at it
        other.take_pending(read_said, town.clock)
        assert "1. Gate fig:" in town.texts(CHATS["Heron Yard"])[-1]
        assert not any("1. Porch fig:" in text for text in town.texts(CHATS["Larkmoor"]))


def test_a_flood_of_messages_gets_one_polite_line_and_the_next_day_is_another(town: Town) -> None:
    town.gardens.tick(NOON)
    chat = CHATS["Larkmoor"]
    for number in range(120):
        town.says(chat, f"closed porch {number}")
    town.gardens.take_pending(read_said, town.clock)
    texts = town.texts(chat)
    assert texts.count(LINE) == 1
    assert 30 <= len([text for text in texts if text != LINE]) <= 35  # the thirty before it, and what the round said
    town.clock.pass_(timedelta(days=1))
    assert LINE not in town.hears(chat, "trees")


NASTY = (
    "\x00", "closed \x00 porch", "\ud800", "closed porch \udfff", "'; DROP TABLE people; --", "%s %(name)s {0} {x}",
    "=HYPERLINK(1)", "<b>closed</b> &amp;", "closed " * 600, "\u202eporch closed", "💧" * 900, "\n\n\n", "/start",
    "-999999999999999999 at porch", "closed porch at 99:99", "/" * 300, "NaN at the porch", "1e309 at the porch",
    "٣ at porch",
)  # fmt: skip


def test_whatever_is_written_is_answered_and_nothing_of_it_breaks_the_logbook(town: Town) -> None:
    town.gardens.tick(NOON)
    chat = CHATS["Larkmoor"]
    for text in NASTY:
        town.clock.pass_(timedelta(seconds=30))
        assert town.hears(chat, text), repr(text)
    assert "Porch" in town.hears(chat, "trees")[0]
    with town.logbook.begin() as c:
        assert len(lb.list_people(c, "Larkmoor")) == 1


def test_a_backlog_of_an_outage_is_answered_in_full(town: Town) -> None:
    chat = CHATS["Larkmoor"]
    for _ in range(40):
        town.says(chat, "trees")
        town.clock.pass_(timedelta(minutes=5))
    town.gardens.take_pending(read_said, town.clock)
    assert len([text for text in town.texts(chat) if "Porch" in text]) >= 40
    assert LINE not in town.texts(chat)


def test_services_down_for_all_leave_every_garden_with_the_word_that_we_cannot_see(town: Town) -> None:
    town.weather.mood = Mood.DOWN
    town.gardens.tick(NOON)
    town.clock.pass_(timedelta(hours=2))
    town.gardens.tick(town.clock())
    for chat in CHATS.values():
        assert any("forecast" in text or "see" in text for text in town.texts(chat))
