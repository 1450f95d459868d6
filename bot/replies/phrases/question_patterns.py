"""How people ask: the patterns of `questions.toml`, in the order they are tried."""

import tomllib
from pathlib import Path
from typing import Final

from bot.replies.nouns import Verb

_TABLE = tomllib.loads((Path(__file__).parent / "questions.toml").read_text(encoding="utf-8"))
QUESTIONS: Final[list[tuple[Verb, str]]] = [(Verb(row["verb"]), "|".join(row["asks"])) for row in _TABLE["question"]]
