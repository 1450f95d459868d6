"""An invented freeze week on a simulated clock: the conversation as it would reach the phone, without a network."""

import select
import sys
import tempfile
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Final, TextIO

from tqdm import tqdm

from bot.forecasts import Transport
from bot.hosting.one_garden import Watch
from bot.logbook import TERMINAL_CHAT, note_person, open_logbook
from bot.rounds import Setting
from bot.settings import Garden, read_garden
from bot.terminal_chat import Terminal

CONFIG: Final = Path(__file__).parents[2] / "demo_config"
# when the simulated clock stops to look: often around the times at which nudges fall due
LOOKS: Final = (time(6), time(7), time(8), time(9), time(11), time(13), time(14), time(15), time(16), time(20))


@dataclass(frozen=True, kw_only=True)
class Line:
    """One thing the invented grower says."""

    at: datetime
    text: str


class SimulatedClock:
    """A clock that stands where it was set."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def __call__(self) -> datetime:
        """The simulated present."""
        return self.at


def run_demo(out: TextIO = sys.stdout, typed: TextIO | None = None, config: Path = CONFIG) -> int:
    """Play the demo week; `typed` is where a person may type along, None where nobody can."""
    garden = read_garden(config / "larkmoor.toml")
    start, end, said = read_script(config / "conversation.toml", garden)
    lines = [Line(at=at, text=text) for at, text in said]
    clock = SimulatedClock(start)
    with tempfile.TemporaryDirectory(prefix="bedstraw-demo-") as folder:
        logbook = open_logbook(Path(folder) / "demo.logbook")
        with logbook.begin() as c:
            note_person(c, garden.name, TERMINAL_CHAT, garden.people[0].name, "owner")
        transport = Transport(saved_path=garden.saved_forecasts)
        watch = Watch(Setting(garden=garden, logbook=logbook, transport=transport))
        dated = Dated(out, clock, garden)
        terminal = Terminal(watch, dated, clock, person=garden.people[0].name)
        print(_heading(garden, start), file=out)
        for moment, line in tqdm(list(_moments(start, end, lines, garden)), file=sys.stderr, disable=_is_quiet(out)):
            clock.at = moment
            terminal.tick()
            if line is not None:
                print(f"{garden.people[0].name}: {line.text}", file=dated)
                terminal.hear(line.text)
            _hear_person(terminal, typed)
        logbook.close()
    return 0


def _heading(garden: Garden, start: datetime) -> str:
    local = start.astimezone(garden.site.zone)
    return (
        f"An invented week in the invented garden {garden.name}, from {local:%A} {local.day} {local:%B %Y}.\n"
        f"No network, a simulated clock; #n is a message of the bot, the rest is {garden.people[0].name}.\n"
    )


def read_script(path: Path, garden: Garden) -> tuple[datetime, datetime, list[tuple[datetime, str]]]:
    """When a written conversation begins and ends, and what the grower says when."""
    script = tomllib.loads(path.read_text(encoding="utf-8"))

    def local(moment: datetime) -> datetime:
        return moment.replace(tzinfo=garden.site.zone)

    lines = [(local(said["at"]), str(said["text"])) for said in script["says"]]
    return local(script["start"]), local(script["end"]), lines


def _moments(
    start: datetime, end: datetime, lines: Sequence[Line], garden: Garden
) -> Iterator[tuple[datetime, Line | None]]:
    """All looks and lines in the order of time."""
    days = range((end.date() - start.date()).days + 1)
    looks = [datetime.combine(start.date() + timedelta(days=day), at, garden.site.zone) for day in days for at in LOOKS]
    moments: list[tuple[datetime, Line | None]] = [(at, None) for at in looks if start <= at <= end]
    moments += [(line.at, line) for line in lines]
    yield from sorted(moments, key=lambda pair: pair[0])


def _is_quiet(out: TextIO) -> bool:
    """The bar would only get in the way of the story on a terminal, and of a file."""
    return not sys.stderr.isatty() or out.isatty()


def _hear_person(terminal: Terminal, typed: TextIO | None) -> None:
    while typed is not None and select.select([typed], [], [], 0.0)[0]:
        line = typed.readline()
        if not line:
            return
        terminal.hear(line)


class Dated:
    """A stream that writes the simulated day and time once above what belongs to it."""

    def __init__(self, out: TextIO, clock: SimulatedClock, garden: Garden) -> None:
        self._out = out
        self._clock = clock
        self._zone = garden.site.zone
        self._written = ""

    def write(self, text: str, /) -> object:
        local = self._clock.at.astimezone(self._zone)
        stamp = f"{local:%A} {local.day} {local:%B, %H:%M}"
        if stamp != self._written and text.strip():
            self._out.write(f"\n— {stamp} —\n")
            self._written = stamp
        return self._out.write(text)

    def flush(self) -> object:
        self._out.flush()
        return None
