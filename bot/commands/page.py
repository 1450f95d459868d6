"""`bedstraw page` and `calendar`: all of a garden in one HTML file, and its weeks ahead for a calendar."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bot.answers.exchange import Exchange
from bot.answers.questions.calendar_file import calendar_now
from bot.answers.season.garden_page import write_page
from bot.commands.opening import logbook_place, open_garden
from bot.commands.outlook import parse_moment, read_inputs
from bot.logbook import TERMINAL_CHAT, Connection, Person, open_logbook
from bot.messages import Incoming, IncomingKind
from bot.rounds import RoundInputs, inputs_of, style_of
from bot.settings import Garden
from rules.outlook.garden_outlook import Outlook, outlook


def write(path: Path, out: Path | None, forecast_file: Path | None, moment: str | None) -> str:
    """The page written beside the garden file, or at `out`; its place is returned. The logbook is only read.

    Raises
    ------
    MistakeError
        `moment` is no time.
    """
    with _asked(path, forecast_file, moment) as (exchange, seen):
        return str(write_page(out or path.with_suffix(".html"), exchange, seen))


def write_calendar(path: Path, out: Path | None, forecast_file: Path | None, moment: str | None) -> str:
    """The calendar written beside the garden file, or at `out`; its place. Raises as `write` does."""
    place = out or path.with_suffix(".ics")
    with _asked(path, forecast_file, moment) as (exchange, seen):
        place.write_bytes(calendar_now(exchange, seen))
    return str(place)


@contextmanager
def _asked(path: Path, forecast_file: Path | None, moment: str | None) -> Iterator[tuple[Exchange, Outlook]]:
    garden, secrets = open_garden(path)
    now = parse_moment(moment, garden)
    round_inputs = read_inputs(garden, secrets, forecast_file, now)
    place = logbook_place(secrets)
    is_begun = not isinstance(place, Path) or place.exists()
    logbook = open_logbook(place if is_begun else "sqlite://")
    seen = outlook(inputs_of(garden, round_inputs), now)
    try:
        with logbook.begin() as c:
            yield _asked_here(c, garden, round_inputs, seen), seen
    finally:
        logbook.close()


def _asked_here(c: Connection, garden: Garden, round_inputs: RoundInputs, seen: Outlook) -> Exchange:
    """As if "page" had been said at the terminal."""
    inputs, owner, now = inputs_of(garden, round_inputs), garden.people[0], seen.now
    asked = Incoming(
        update_id=0, chat_id=TERMINAL_CHAT, person=owner.name, kind=IncomingKind.TEXT, text="page", at_utc=now
    )
    return Exchange(
        c=c,
        garden=garden,
        person=Person(garden=garden.name, chat_id=TERMINAL_CHAT, name=owner.name, role=owner.role),
        incoming=asked,
        now=now,
        heard_utc=now,
        records=round_inputs.records,
        look=lambda: seen,
        inputs=lambda: inputs,
        style=style_of(garden),
        made=lambda _, make: make(),  # nobody else waits for this logbook
        weather_of=garden.name,
    )
