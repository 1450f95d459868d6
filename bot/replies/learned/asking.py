"""What is asked in words of a person's own, by what like questions were about: see `bot.replies.learned.likely`."""

from collections.abc import Iterator, Sequence
from functools import cache
from typing import Final, NamedTuple

from bot.replies.grammar import grammar, ours
from bot.replies.grammar.recogniser import ENDS
from bot.replies.learned.features import spoken_of
from bot.replies.learned.likely import ASKED, Likely, learned
from bot.replies.words.marking import Marked
from bot.replies.words.names import small_words
from bot.replies.words.spelling import deed_forms

SURE: Final = 0.3  # from here on three of four are right, on 160 questions of people who saw none of what was learned
BEGUN: Final = 0.5  # that a sentence without a sign that begins as one that asks does ask; no source
LIKELY: Final = 0.65  # no source
CERTAIN: Final = 0.97
ASKS: Final = 0.9  # that a sentence without a sign asks; one in twenty statements passes, no source
BEYOND: Final = "beyond"  # asked, but nothing that we know
UNDECIDED: Final = "asked"  # a question of which no one matter is likely enough
APART: Final = frozenset((",", ":", "-", "and", "but", "so", "then"))
WH: Final = frozenset((
    "what", "what's", "whats", "how", "how's", "hows", "when", "when's", "why", "which", "who", "who's", "whose", "wot",
    "where",
))  # fmt: skip
TURNED: Final = frozenset((
    "is", "are", "am", "do", "does", "did", "can", "could", "should", "shall", "must", "may", "will", "would", "has",
    "have", "was", "were", "ought", "any", "anything", "isn't", "aren't", "don't", "doesn't", "won't",
))  # fmt: skip
SUBJECTS: Final = frozenset((
    "i", "we", "it", "they", "you", "u", "the", "there", "my", "that", "this", "these", "those", "he", "she", "to",
))  # fmt: skip
LEADING: Final = frozenset(("is", "are", "will", "would", "can", "could", "should", "does"))  # of a sentence that asks
LEADS_IN: Final = frozenset((  # before a question word, and no more than part of it: "until what hour", "tell me what"
    "tell", "say", "show", "remind", "me", "us", "please", "until", "till", "by", "at", "from", "since", "for", "to",
    "in", "on",
))  # fmt: skip
SPEAKERS: Final = frozenset(("i", "we", "you", "u", "he", "she", "they"))
RELATED: Final = SUBJECTS | {"is", "was", "has", "had", "of", "are", "were", "i'm", "i'll", "i've", "we're", ""}
RELATING: Final = frozenset(("which", "who", "whose", "where", "when"))
STATED: Final = frozenset(("know", "knew", "see", "that's", "thats", "remember", "exactly", "so", "and", "it", "i"))


class Asked(NamedTuple):
    """What some words ask, up to which word, and how many words stand before the asking begins."""

    end: int
    before: int
    about: list[Likely]

    @property
    def tells(self) -> str:
        """The matter that stands out."""
        return self.about[0].matter if self.about[0].chance >= SURE else UNDECIDED


def asked_from(line: Marked, at: int) -> Iterator[Asked]:
    """What the words from `at` ask: to the next comma, and to the end of the sentence."""
    words = line.words
    for end in range(at + 1, len(words) + 1):
        stops = end == len(words) or words[end] in ENDS
        if stops or words[end] == ",":
            asked = _asked(line, at, end)
            if asked is not None:
                yield asked
        if stops:
            return


def _asked(line: Marked, at: int, end: int) -> Asked | None:
    """What some words ask; None where they ask nothing, or tell of ours before they do."""
    words = line.words[at:end]
    whole = at == 0 or line.words[at - 1] in ENDS
    begins = next((n for n in range(len(words)) if _begins(words, n, starts=whole)), None)
    apart = whole or line.words[at - 1] in APART
    if begins is None and not apart:
        return None  # words in the middle of what is told
    before = words[:begins]  # all, where nothing begins to ask
    told = bool(begins) and (_befell(before) or any(word[0] in "@%" for word in before))
    if told or not _deeds_told().isdisjoint(before):
        leads = whole and words[0] not in _deeds_told()
        return Asked(end, 0, _about(line, at, end)) if leads and _asks(line, at, end) >= CERTAIN else None
    if line.words[end : end + 1] == ["?"]:
        says = begins is not None or any(word[0] not in "@#%~&" and word not in small_words() for word in words)
        return Asked(end, begins or 0, _about(line, at, end)) if says else None
    if "," in words and any(word[0] == "%" for word in words[list(words).index(",") :]):
        return None  # "what did we get, minus three at the bench"
    if begins is not None:
        begun = _begun(line, at + begins, end, leads=whole and LEADS_IN.issuperset(before))
        return Asked(end, begins, _about(line, at, end)) if begun else None
    spoken = whole and (len(words) > 1 or len(line.words) == 1)  # "forecast"
    about = _about(line, at, end) if spoken and _asks(line, at, end) >= LIKELY else []  # the least of what it takes
    return Asked(end, 0, about) if about and _asks_unmarked(line, at, end, about[0]) else None


def _about(line: Marked, at: int, end: int) -> list[Likely]:
    return learned().likely(ASKED, spoken_of(line, at, end))


def _asks(line: Marked, at: int, end: int) -> float:
    return learned().asks(spoken_of(line, at, end))


def _begun(line: Marked, at: int, end: int, *, leads: bool) -> bool:
    """Whether words that begin as a question, with no mark behind them, do ask."""
    first, second = line.words[at], line.words[at + 1] if at + 1 < end else ""
    if not leads and first in RELATING and second in RELATED:
        return False  # "the kaki, which I did at five"
    if (first in TURNED and second in SPEAKERS) or (first == "did" and _is_wish(line.words[at + 2 : at + 3])):
        return True
    if not leads and first not in WH and second != "it":
        return False  # "closed porch, was the idea"
    plainly = leads and (first in WH or second in SUBJECTS)  # "did the kaki" may tell
    return _asks(line, at, end) >= (BEGUN if plainly else LIKELY if leads else ASKS)


def _asks_unmarked(line: Marked, at: int, end: int, about: Likely) -> bool:
    """Whether a sentence asks that neither begins nor ends as one that does: "no idea if the kaki lives"."""
    if about.chance < SURE or about.matter == BEYOND:
        return False
    asks = _asks(line, at, end)
    told = _befell(line.words[at:end]) or any(word[0] == "%" for word in line.words[at:end])
    return asks >= (CERTAIN if told else LIKELY if about.chance >= BEGUN else ASKS)


def _befell(words: Sequence[str]) -> bool:
    return not ours().words("BEFALLS").isdisjoint(words)


def _is_wish(words: Sequence[str]) -> bool:
    """ "Did juniper close the porch"; not "did the porch"."""
    return not (grammar().words("BASE") & deed_forms()).isdisjoint(words)


@cache
def _deeds_told() -> frozenset[str]:
    """The words by which a deed is told, not those by which it is wished."""
    return deed_forms() - grammar().words("BASE", "ACTING") | {"shut", "open"}


def _begins(words: Sequence[str], at: int, *, starts: bool) -> bool:
    """Whether a question begins at a word: one that asks, or a verb before its subject."""
    first, second = words[at], words[at + 1] if at + 1 < len(words) else ""
    if first in WH:
        return at == 0 or words[at - 1] not in STATED
    leads = at == 0 and starts and (first in LEADING or (first == "did" and _is_wish(words[2:3])))
    turned = first in TURNED and (leads or second in SUBJECTS or second[:1] in tuple("@&%#"))
    return turned and (at == 0 or words[at - 1] not in SUBJECTS | TURNED)
