"""The vocabulary of `vocabulary.toml`: which word means which deed, and which say nothing or must not be touched."""

import tomllib
from pathlib import Path
from typing import Final

# Words that mean a deed only together with what was asked, or with how the cover stands.
COVERED: Final = "covered"  # wrapped or closed
UNCOVERED: Final = "uncovered"  # opened or stripped
DONE: Final = "done"

_TABLE = tomllib.loads((Path(__file__).parent / "vocabulary.toml").read_text(encoding="utf-8"))


def _by_form(tense: str, mark: str) -> dict[str, str]:
    return {form: mark.format(verb) for verb, forms in _TABLE["forms"][tense].items() for form in forms.split()}


def _words(name: str) -> frozenset[str]:
    return frozenset(_TABLE["words"][name].split())


FORMS: Final = _by_form("past", "={}") | _by_form("base", "={}.") | _by_form("going", "!INTEND ={}.")

DONE_ALONE: Final = _words("done_alone")

EITHER: Final = "~"  # the mark of a deed that may be told or wished: "put the cover on the kaki on monday"
EITHER_TENSE: Final = _words("either_tense") | {EITHER}

SEPARATORS: Final = frozenset((",", ";", ".", "!", "?", "and", "but", "then", "plus", "also", "n"))

FILLERS: Final = _words("fillers") | {":", EITHER}
# Something is wrong with a cover: news, but no deed.
TROUBLES: Final = _words("troubles")
ADJUNCTS: Final = _words("adjuncts")
EXACT_ONLY: Final = _words("exact_only")
# Common words that lie within the fuzzy budget of a word of ours, or would, with a tree's name: never mended.
KNOWN: Final = _words("known")
WORTH_MENDING: Final = _words("worth_mending")
