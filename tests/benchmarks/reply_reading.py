"""How long reading one reply takes: every phrase of both tables, and a message as long as is read.

Run by hand: `nice python tests/benchmarks/reply_reading.py`.
"""

import sys
import time
import tomllib
from datetime import datetime
from pathlib import Path
from statistics import quantiles
from zoneinfo import ZoneInfo

from bot.replies import Context, OpenAsk, TreeName, Verb, parse_reply

TABLES = Path(__file__).parents[1] / "bot"
ZONE = ZoneInfo("America/Denver")
NAMES = ("Porch fig", "Wall fig", "Kaki", "Eave pomegranate", "Trial fig")
TREES = tuple(TreeName(name=name, number=i, species=name.split()[-1].lower()) for i, name in enumerate(NAMES, 1))
ASK = OpenAsk(key="n1", verb=Verb.CLOSED, trees=NAMES[:2])


def main() -> int:
    context = Context(trees=TREES, now=datetime(2026, 11, 25, 16, 10, tzinfo=ZONE), zone=ZONE, open_asks=(ASK,))
    texts = [
        said
        for name in ("phrases.toml", "phrases_held_back.toml")
        for rows in tomllib.loads((TABLES / name).read_text(encoding="utf-8")).values()
        for said in rows
    ]
    taken_ms = [_taken_ms(text, context) for text in texts * 5]
    cuts = quantiles(taken_ms, n=100)
    longest = max(_taken_ms("closed porch and the wall at 4, " * 40, context) for _ in range(20))
    print(f"{len(taken_ms)} replies: median {cuts[49]:.2f} ms, p99 {cuts[98]:.2f} ms, worst {max(taken_ms):.2f} ms")
    print(f"a message of 1280 characters: {longest:.2f} ms")
    return 0


def _taken_ms(text: str, context: Context) -> float:
    start = time.perf_counter()
    parse_reply(text, context)
    return (time.perf_counter() - start) * 1000


if __name__ == "__main__":
    sys.exit(main())
