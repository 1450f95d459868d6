"""What words tell of a new tree: a whole description, or the answer that is typed to one question."""

import re
from typing import Any, Final

from bot.replies.phrases.descriptions import NO_COVER, TreeWords, read_cover_words, read_tree_words, standing_in
from bot.replies.words.amounts import NUMBER, number_of
from bot.replies.words.normalising import normalised
from bot.settings.cross_checks import WORDS_OF_THE_CHAT
from rules.garden.cover import CoverState
from rules.garden.species import UNKNOWN, nearest_species
from rules.garden.tree import Purpose, Tending

NONE: Final = "none"
MOST_TRIPS: Final = 1000  # as the garden file has it
WORTH_WORDS: Final = (
    ("80", "a lot|lots|very much|a great deal"),
    ("10", "a little|little|not much|hardly"),
    ("40", "as usual|usual|normal|average"),
)
# nothing but a number: an article or a temperature is none
_TRIPS: Final = re.compile(
    rf"(?:(?:about|around|maybe|say|worth|it is) )*(?!an? )(?P<number>{NUMBER})(?: (?:trips?|walks?|or so))*"
)
LONGEST_CHOICE: Final = 5  # words in which a button's answer is typed: a longer text tells something else. No source
_A_SPOT: Final = re.compile(r"(?:in|on|by|under|against|at) (?:the|an?|my|our) ")  # "in the open" names a place
# Words near those of the buttons; the first that fits.
STANDS_WORDS: Final = (
    (CoverState.BARE.value, "not|no|nope|nah|off|bare|outside|uncovered"),
    (CoverState.VENTED.value, "(?<!in the )open|vented|off"),
    (CoverState.CLOSED.value, "shut|closed|on|wrapped|mounded|inside|in|yes|covered"),
)
WAY_WORDS: Final = (
    (Tending.AS_TAUGHT.value, "taught|learned|learnt|my way|own way"),
    (Tending.EARLY.value, "early|earlier|sooner"),
    (Tending.FEWEST_TRIPS.value, "few|fewest|fewer|trips|least"),
)


def draft_of(words: TreeWords) -> dict[str, Any]:
    """What a description told, by step; what it left out is missing."""
    said: dict[str, Any] = {
        "name": words.name,
        "species": words.species,
        "cultivar": words.cultivar,
        "planted_year": words.planted_year,
        "standing": words.standing,
        "purpose": None if words.purpose is Purpose.KEEP else words.purpose,
        "left_bare": words.left_bare or None,
        "twin": words.twin,
        "like": words.cover_like,
        "height_m": words.height_m,
        "cover": words.cover,
        "sizes_m": dict(words.cover_sizes_m) or None,
        "built": dict(words.cover_built) or None,
    }
    draft = {key: value for key, value in said.items() if value}
    return draft | ({"cover": NONE} if words.left_bare or words.has_no_cover else {})


def draft_alone(words: TreeWords) -> tuple[dict[str, Any], list[str]]:
    """A draft that names no other tree, and what is not kept of the words: no other is known yet."""
    draft, unkept = draft_of(words), list(words.unkept)
    for key, said in (("twin", "twin of"), ("like", "same cover as")):
        if key in draft:
            unkept.append(f"{said} {draft.pop(key)}")
    return draft, unkept


def unknown_kind(kind: str) -> dict[str, str]:
    """A kind that is in no table: kept under its name, its wood taken as that of an unknown one."""
    return {"species": UNKNOWN, "cultivar": kind.removeprefix("a ").removeprefix("an ")}


def typed(step: str, text: str, year: int) -> Any:
    """What a typed answer says to one question; None where it is none."""
    words = normalised(text)
    match step:
        case "name":
            name = text.strip().strip("\"'“”‘’.")
            return None if _is_no_name(name) else name
        case "species":
            told = draft_of(read_tree_words(text, year))
            if "species" in told:
                return told
            if len(words) <= 2 or not words.replace(" ", "").isalpha():
                return None
            return {"heard": words} if nearest_species(text) else unknown_kind(words)
        case "standing":
            return standing_in(words) if not re.search(r"\d", words) else None
        case "cover":
            found = read_cover_words(text, inches=False)
            if NO_COVER.match(words):
                return NONE
            return {"cover": found.preset, "sizes_m": found.sizes_m, "built": found.built} if found else None
    if step in ("stands", "tending"):
        return _chosen_in(step, words)
    return _trips(words)


def _trips(words: str) -> str | None:
    """What wood is worth, as the number or in words near those of the buttons."""
    if found := _TRIPS.fullmatch(words):
        return str(number_of(found["number"])) if number_of(found["number"]) <= MOST_TRIPS else None
    return next((trips for trips, said in WORTH_WORDS if re.search(rf"\b(?:{said})\b", words)), None)


def _is_no_name(name: str) -> bool:
    """Whether it is an answer to another question, or a word the chat has for something else."""
    if not name or name.casefold() in WORDS_OF_THE_CHAT:
        return True
    return bool(_A_SPOT.match(normalised(name)))


def _chosen_in(step: str, words: str) -> str | None:
    """How the cover stands, or whose way is followed, from words near those of the buttons."""
    table = STANDS_WORDS if step == "stands" else WAY_WORDS
    if len(words.split()) > LONGEST_CHOICE:
        return None
    return next((value for value, pattern in table if re.search(rf"\b(?:{pattern})\b", words)), None)
