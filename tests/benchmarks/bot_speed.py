"""How fast one garden's bot is: replies with three winters on record, a round, start-up, memory after a day of ticks.

Run by hand: nice python -m tests.benchmarks.bot_speed
"""

import resource
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from bot.forecasts import Transport
from bot.hosting.one_garden import Watch
from bot.inbox import RawUpdate, store
from bot.logbook import TERMINAL_CHAT, Door, Source, note_entry, note_person, open_logbook
from bot.rounds import Setting
from bot.settings import read_garden
from bot.terminal_chat import read_line
from bot.upkeep.memory import give_back_memory
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Reading

ROOT = Path(__file__).parents[2]
NOW = datetime(2025, 11, 28, 16, tzinfo=UTC)
BETWEEN = timedelta(seconds=20)  # two messages of one person
PHRASES = (
    *("closed porch", "undo", "tonight", "due", "trees", "why porch", "-6.5 at the wall", "frobnicate", "help"),
    *("vented wall", "last night", "why", "what if -12", "how hard", "need", "settings", "first frost", "thanks"),
    *(
        "can't today",
        "leaves yellow kaki",
        "undo",
        "season",
        "what did you learn",
        "what first",
        "note birds in the fig",
    ),
)


def watch_with_three_winters(folder: Path) -> Watch:
    """A watch whose logbook holds three winters: two deeds and two readings a day from October to April."""
    garden = read_garden(ROOT / "demo_config" / "larkmoor.toml")
    logbook = open_logbook(folder / "bench.logbook")
    with logbook.begin() as c:
        note_person(c, garden.name, TERMINAL_CHAT, "Rowan", "owner")
        for day in range(3 * 365):
            at = NOW - timedelta(days=day + 1)
            if at.month in (10, 11, 12, 1, 2, 3, 4):
                source = Source(garden=garden.name, person="Rowan", update_id=-day, noted_utc=at)
                for hours, state in ((0, CoverState.VENTED), (7, CoverState.CLOSED)):
                    kind = DeedKind.VENTED if state == CoverState.VENTED else DeedKind.CLOSED
                    at_utc = at + timedelta(hours=hours)
                    note_entry(c, source, Deed(tree="Porch fig", kind=kind, state=state, at_utc=at_utc))
                    note_entry(c, source, Reading(tree="Wall fig", air_c=-3.0, at_utc=at_utc))
    return Watch(Setting(garden=garden, logbook=logbook, transport=Transport(saved_path=garden.saved_forecasts)))


def reply_ms(watch: Watch, rounds: int, begin: datetime) -> dict[str, list[float]]:
    """Milliseconds of work from a stored update to its committed answer, by what was said.

    A person writes at most every twenty seconds, else the flood guard would answer; the bot ticks in between, untimed.
    """
    taken: dict[str, list[float]] = {phrase: [] for phrase in PHRASES}
    for i in range(rounds * len(PHRASES)):
        phrase, at = PHRASES[i % len(PHRASES)], begin + i * BETWEEN
        raw = f'{{"update_id": {10**9 + i}, "person": "Rowan", "at": "{at.isoformat()}", "text": "{phrase}"}}'
        began = time.process_time()
        with watch.logbook.begin() as c:
            store(c, [RawUpdate(10**9 + i, raw, at, TERMINAL_CHAT)], Door.TERMINAL)
        watch.take_pending(read_line, lambda at=at: at, Door.TERMINAL)  # type: ignore[misc]  # bound at once
        taken[phrase].append(1000 * (time.process_time() - began))
        watch.tick(at + BETWEEN / 2)
    return taken


def main() -> None:
    """Print all figures."""
    give_back_memory()
    import bot.commands.serving.one_garden
    import bot.telegram_chat
    import bot.timetable  # noqa: F401 - to count the weight of all that serves

    with tempfile.TemporaryDirectory() as folder:
        watch = watch_with_three_winters(Path(folder))
        begin = time.perf_counter()
        watch.tick(NOW)
        print(f"first round (garden of 8 trees, 31 members, 10 days): {time.perf_counter() - begin:.2f} s")
        later = NOW + timedelta(hours=7)
        begin = time.perf_counter()
        watch.tick(later)
        print(f"a later round, heat carried on: {time.perf_counter() - begin:.2f} s")
        by_kind = reply_ms(watch, 12, later)
        ms = np.concatenate(list(by_kind.values()))
        print(f"{len(ms)} replies: p50 {np.percentile(ms, 50):.1f} ms of work, p99 {np.percentile(ms, 99):.1f} ms")
        slowest = sorted(by_kind.items(), key=lambda one: -float(np.median(one[1])))[:6]
        print("slowest kinds: " + ", ".join(f"{phrase} {np.median(one):.0f} ms" for phrase, one in slowest))
        later += BETWEEN * len(ms)
        begin = time.perf_counter()
        for tick in range(2880):
            watch.tick(later + timedelta(seconds=30 * tick))
        print(f"a day of 2880 ticks: {time.perf_counter() - begin:.1f} s")
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    now_mb = int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 2**20
    print(f"memory after it: {now_mb:.0f} MB, at its peak {peak_mb:.0f} MB")
    best = min(_startup_s() for _ in range(5))
    print(f"bedstraw --help, best of 5: {best:.3f} s")


def _startup_s() -> float:
    begin = time.perf_counter()
    subprocess.run([sys.executable, "-m", "bot", "--help"], cwd=ROOT, capture_output=True, check=True)
    return time.perf_counter() - begin


if __name__ == "__main__":
    main()
