"""What the README says can be said is understood, in the demo's garden."""

import re
from dataclasses import replace
from pathlib import Path

from bot.replies import Context, NotUnderstood, TreeName, parse_reply
from tests.bot.replies.test_replies_phrases import SCENES

ROOT = Path(__file__).parents[3]
DEMO = (
    ("Porch fig", "porch", "fig"), ("Wall fig", "wall", "fig"), ("Bench fig", "bench", "fig"), ("Kaki", "kaki", "kaki"),
    ("Pomegranate", "pom", "pomegranate"), ("Trial pomegranate", "trial", "pomegranate"),
    ("Satsuma", "satsuma", "satsuma"), ("Gate", "gate", "fig"),
)  # fmt: skip


def garden() -> Context:
    named = enumerate(DEMO, start=1)
    trees = tuple(TreeName(name=name, short_names=(short,), number=n, species=kind) for n, (name, short, kind) in named)
    return replace(SCENES["quiet"], trees=trees, people=("Rowan", "Juniper"))


def test_whatever_the_readme_says_can_be_said_is_understood() -> None:
    table = (
        (ROOT / "README.md")
        .read_text(encoding="utf-8")
        .partition("| say | means |\n|---|---|\n")[2]
        .partition("\n\n")[0]
    )
    said = [one for row in table.splitlines() for one in row.split("|")[1].strip().split(" · ")]
    plain = [re.sub(r" \(.*?\)", "", one) for one in said if " / " not in one]  # a list of words, an aside
    assert len(plain) > 80
    assert [one for one in plain if isinstance(parse_reply(one, garden()), NotUnderstood)] == []
