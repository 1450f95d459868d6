"""What is wrong with a garden file, in sentences a grower understands."""

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from rapidfuzz import process
from rapidfuzz.distance import OSA

TOKEN_SHAPE: Final = re.compile(r"(?<!\d)(\d{5,}):([A-Za-z0-9_-]{20,})")  # number:secret, as the messenger hands out
LONGEST_VALUE_SHOWN: Final = 48
LONGEST_PLACE_SHOWN: Final = 120
LONGEST_SENTENCE_SHOWN: Final = 400  # ours are shorter; what is written in the file may not be
MOST_SHOWN: Final = 20  # mistakes told in full: nobody mends more at once
CLOSE_ENOUGH: Final = 0.6  # share of letters in place before a word is offered as the one meant; assumed


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One mistake or doubt in a garden file.

    Parameters
    ----------
    key
        Where, e.g. "trees[2].standing"; entries count from 1. Empty for the file as a whole.
    sentence
        What is wrong and what would be right.
    value
        What is written there; None where nothing is.
    named
        Name of the tree or person, for entries of a list.
    line
        Line in the file from 1; None where unknown.
    """

    key: str
    sentence: str
    value: Any = None
    named: str = ""
    line: int | None = None

    def __str__(self) -> str:
        """The whole sentence: line, place, value, what would be right; never a token."""
        place = self.key.replace("]", f'] "{self.named}"', 1) if self.named else self.key
        place = place.replace('".', '", ', 1) if self.named else place
        place, sentence = _cut(place, LONGEST_PLACE_SHOWN), _middle_cut(self.sentence, LONGEST_SENTENCE_SHOWN)
        shown = f" = {_shown(self.value)}" if self.value is not None and self.key else ""
        start = ", ".join(part for part in (f"line {self.line}" if self.line else "", f"{place}{shown}") if part)
        return _in_one_line(without_tokens(f"{start}: {sentence}" if start else sentence))


class GardenError(Exception):
    """A garden file that cannot be used, with every mistake in it."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=lambda problem: problem.line or 0))
        super().__init__(problems_in_words(self))


def problems_in_words(error: GardenError) -> str:
    """Each mistake on a line of its own, in the order of the file; of very many the first, and how many more."""
    count = len(error.problems)
    head = "1 mistake" if count == 1 else f"{count} mistakes"
    lines = [f"  {line}" for line in first_in_words(error.problems)]
    return "\n".join([f"{head} in the garden file; nothing was changed.", *lines])


def first_in_words(problems: Sequence[Problem], most: int = MOST_SHOWN) -> list[str]:
    """The first mistakes, each a sentence, and how many more there are."""
    more = len(problems) - most
    return [*map(str, problems[:most]), *([f"and {more:,} more."] if more > 0 else [])]


def without_tokens(text: str) -> str:
    """The text with the secret part of anything that looks like a bot token struck out.

    >>> without_tokens("4839574812:AAFD39kkdpWt3ywyRZergyOLMaJhac60qcK")
    '4839574812:<secret>'
    """
    return TOKEN_SHAPE.sub(r"\1:<secret>", text)


def nearest(word: str, choices: Iterable[str]) -> str | None:
    """The choice most likely meant by a misspelt word; None when none is close.

    >>> nearest("stading", ["standing", "species"]), nearest("Denver", ["America/Denver"]), nearest("x", ["standing"])
    ('standing', 'America/Denver', None)
    """
    known = sorted(set(choices))
    wanted = word.casefold().replace(" ", "_")
    for choice in known if wanted else ():
        if wanted in choice.casefold().split("/")[1:]:
            return choice
    found = process.extractOne(
        word, known, scorer=OSA.normalized_similarity, processor=str.casefold, score_cutoff=CLOSE_ENOUGH
    )
    return found[0] if found else None


def did_you_mean(word: object, choices: Iterable[str]) -> str:
    """The question to add to a sentence about a misspelt word; empty when nothing is close."""
    found = nearest(word, choices) if isinstance(word, str) else None
    return f' (did you mean "{found}"?)' if found else ""


def listed(choices: Iterable[str]) -> str:
    """Choices as people list them."""
    return ", ".join(choices)


def _shown(value: object) -> str:
    """A value as the grower wrote it, cut where it is long."""
    return _cut(json.dumps(value, ensure_ascii=False, default=str), LONGEST_VALUE_SHOWN)


def _in_one_line(text: str) -> str:
    """What cannot be printed, as an escape: a name in a file breaks no line and steers no terminal."""
    return "".join(one if one.isprintable() else one.encode("unicode_escape").decode() for one in text)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"


def _middle_cut(text: str, most: int) -> str:
    """A sentence ends with what would be right, so it is the middle that may go."""
    return text if len(text) <= most else f"{text[: most // 2]}…{text[1 - most // 2 :]}"
