"""A marked reply cut into clauses, each with its deed, its trees, its time, its negation."""

import re
from functools import partial

from bot.replies.clause import Clause
from bot.replies.clause_joining import joined_clauses
from bot.replies.nouns import Verb
from bot.replies.words.marking import Marked
from bot.replies.words.names import Named
from bot.replies.words.numbers import believed
from bot.replies.words.patterns import LOWEST, PHRASES, Replacement
from bot.replies.words.sightings import sight_in
from bot.replies.words.times import Moment
from bot.replies.words.vocabulary import (
    ADJUNCTS,
    DONE,
    DONE_ALONE,
    EITHER,
    EITHER_TENSE,
    FILLERS,
    FORMS,
    SEPARATORS,
    TROUBLES,
)

FIGURES = r"\d{1,18}"  # of a whole number; with more it is neither an item nor a reading, and too large for a float


def clauses_of(reply: Marked, *, fahrenheit: bool) -> list[Clause]:
    """The clauses of a marked reply, parts that belong together put back together."""
    text = f"{reply.text} "
    for pattern, replacement in PHRASES:
        text = pattern.sub(partial(_replaced, replacement), text)
    found = [_clause(joined_by, words, reply, fahrenheit=fahrenheit) for joined_by, words in _split(text.split())]
    return joined_clauses([clause for clause in found if clause is not None])


def _replaced(replacement: Replacement, match: re.Match[str]) -> str:
    """The mark of a turn of phrase, and with it the trees and times that stood inside the phrase."""
    mark = match.expand(replacement) if isinstance(replacement, str) else replacement(match)
    if mark[0] == "=" and not EITHER_TENSE.isdisjoint(match[0].split()):
        mark = f"{mark} {EITHER}"
    words = " ".join([mark, *re.findall(r"[@#%]\d+", match[0])])
    before, after = match.string[: match.start()][-1:], match.string[match.end() :][:1]
    return f"{before.strip() and ' '}{words}{after.strip() and ' '}"  # or it would grow together with what is beside it


def _split(words: list[str]) -> list[tuple[str, list[str]]]:
    parts: list[tuple[str, list[str]]] = [("", [])]
    for word in words:
        if word == "but" and parts[-1][1][-1:] in (["*ALL"], ["*BOTH"]):
            parts[-1][1].append("!EXCEPT")
        elif word in SEPARATORS or word == "but":
            if parts[-1][1]:
                parts.append((word, []))
            elif len(parts) > 1 and word in ("and", "also", "then"):
                parts[-1] = (word, [])
        elif _begins_next_reading(parts[-1][1], word):
            parts.append((",", [word]))
        else:
            parts[-1][1].append(word)
    return parts


def _begins_next_reading(words: list[str], word: str) -> bool:
    """Whether a second reading starts here: "-12 kaki -9 wall", "kaki -12 wall -9"."""
    signs = [w[0] for w in words if w[0] in "@%"]
    if "%" not in signs or word[0] not in "@%":
        return False
    return word[0] == "%" if signs[0] == "%" else word[0] == "@"


def _clause(joined_by: str, words: list[str], reply: Marked, *, fahrenheit: bool) -> Clause | None:
    if not words:
        return None
    clause = Clause(joined_by=joined_by)
    line = " ".join(words)
    clause.is_inside, clause.is_lowest = "!INSIDE" in words, bool(LOWEST.search(line))
    clause.sight = sight_in(line)
    clause.is_either_tense = not EITHER_TENSE.isdisjoint(words)
    if words[0] in DONE_ALONE and all(w in FILLERS or w.startswith("#") for w in words):
        clause.did, clause.is_bare_verb = DONE, True  # "ok tonight" promises
    is_aside = False
    for word in words:
        if word in ADJUNCTS:
            is_aside = True
        elif not _read_mark(word, clause, reply) and word not in FILLERS and not is_aside:
            clause.unknown.append(word)
    if "one" in words and clause.did and not clause.has_targets:
        clause.group = "one"  # "closed one": which?
    clause.is_lowest |= clause.moment is not None and clause.moment.is_night
    clause.is_stray = (len(words) <= 2 and len(clause.unknown) == 1) or any(word in TROUBLES for word in words)
    clause.unknown += [word for word in words if word in TROUBLES and word not in clause.unknown]
    _read_bare_temperature(clause, words, fahrenheit=fahrenheit)
    return clause


def _read_mark(word: str, clause: Clause, reply: Marked) -> bool:
    """Take one marked word into the clause; False when it is no mark and no word of ours."""
    if word[0] == "!":
        _read_turn(word, clause)
    elif word[0] == "=" or word in FORMS:
        for part in FORMS.get(word, word).split():
            _read_turn(part, clause) if part[0] == "!" else _read_deed(part, clause)
    elif word[0] == "@" and word[1:].isdigit():
        _add_tree(clause, reply.trees[int(word[1:])])
    elif word[0] == "#" and word[1:].isdigit():
        clause.moment = _fuller(clause.moment, reply.moments[int(word[1:])])
    elif word[0] == "%" and word[1:].isdigit():
        clause.temperature = clause.temperature or reply.temperatures[int(word[1:])]
    elif word[0] == "*":
        clause.group = word[1:].casefold() if clause.group in (None, "them") else clause.group
        clause.targets_before_verb |= clause.did is None
    elif word.isdigit() or re.fullmatch(r"\d(?:st|nd|rd|th)", word):
        (clause.excepted_numbers if _excepting(clause) else clause.numbers).append(int(re.match(FIGURES, word)[0]))  # type: ignore[index]
        clause.targets_before_verb |= clause.did is None
    else:
        return False
    return True


def _read_turn(mark: str, clause: Clause) -> None:
    if mark == "!NOT":
        clause.refusal = clause.refusal or Verb.NOT_DONE
    elif mark == "!CANNOT":
        clause.refusal = Verb.CANNOT
    elif mark == "!INTEND":
        clause.is_promise = True
    elif mark == "!REMIND":
        clause.is_reminder = True
    elif mark == "!LATER":
        clause.is_later = True
    elif mark == "!UNTIL":
        clause.is_until = True
    elif mark == "!EXCEPT":
        clause.excepted.append(Named(trees=()))


def _read_deed(mark: str, clause: Clause) -> None:
    did, bare = mark[1:].rstrip("."), mark.endswith(".")
    if clause.did in (None, DONE):  # "did close it" is a closing
        clause.did, clause.is_bare_verb = did, bare and clause.did != DONE


def _excepting(clause: Clause) -> bool:
    return bool(clause.excepted)


def _add_tree(clause: Clause, named: Named) -> None:
    (clause.excepted if _excepting(clause) else clause.named).append(named)
    clause.targets_before_verb |= clause.did is None


def _fuller(before: Moment | None, here: Moment) -> Moment:
    return here if before is None or before.is_today else before


def _read_bare_temperature(clause: Clause, words: list[str], *, fahrenheit: bool) -> None:
    """A whole number beside a tree or "low", with nothing done, is a reading."""
    # the 3 of "2 and 3 last night" is a tree: a night alone makes a low of it only where it begins the reply
    low = bool(LOWEST.search(" ".join(words))) or (clause.is_lowest and not clause.joined_by)
    spoken = clause.named or low or clause.is_inside or "reads" in words or "thermometer" in words
    if (
        clause.temperature
        or clause.has_word
        or clause.is_promise
        or len(clause.numbers) != 1
        or not spoken
        or clause.group == "all"
    ):
        return
    number = clause.numbers.pop()
    clause.temperature = believed(float(number), fahrenheit=fahrenheit, as_written=str(number))
