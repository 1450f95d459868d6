"""What each piece of a reply tells, by the cues it holds: the clauses that are read on as those of the grammar."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise
from typing import Final

from bot.replies.clause import DONE, Clause, clause_of
from bot.replies.cues.deeds import (
    BECAUSE,
    deed_of,
    done_of,
    first_list,
    has_other_subject,
    is_ahead,
    is_closed,
    is_denied,
    is_infinitive,
    is_of_a_time_ahead,
    is_regretted,
    is_subordinate,
    is_unsure,
    times_kept,
    trees_kept,
    trees_of,
    was_so,
)
from bot.replies.cues.pieces import Piece, pieces, runs_on
from bot.replies.cues.spotting import Span, Spotter
from bot.replies.grammar import grammar, ours
from bot.replies.grammar.recogniser import Kept
from bot.replies.meanings.targets import verbs_meant
from bot.replies.nouns import Context
from bot.replies.words.marking import Marked
from bot.replies.words.times import Moment

MAYBE: Final = "?"  # behind what is told: it was told so that it must be asked
ASK: Final = "did" + MAYBE
TALK: Final = "talk"  # none of our business
SHORTEST_ABSENCE: Final = timedelta(hours=10)  # no source
Teller = Callable[[Piece, Spotter], tuple[str, list[Kept]] | None]


def told_by_cues(marked: Marked, context: Context) -> list[Clause]:
    """The clauses of a reply, as far as cues tell; what holds none is told as talk."""
    spotter = Spotter(marked)
    found = [_clause(one, spotter, context) for one in pieces(spotter)]
    return _agreed(_completed([one for one in found if one.words]), spotter)


def _clause(piece: Piece, spotter: Spotter, context: Context) -> Clause:
    tells, kept = _told(piece, spotter, context)
    trees = trees_kept(piece, spotter)
    if tells.removesuffix(MAYBE) not in ("did", TALK, *PUT_OFF):  # "fuzz all over it" is not of all trees
        trees = [Kept("tree", n, n + 1) for n in first_list(trees_of(piece, spotter), spotter.words)]
    kept = [*kept, *trees, *times_kept(spotter.words, piece)]
    return clause_of(tells, tuple(kept), spotter.marked, piece.start, piece.end, piece.joined_by)


def _told(piece: Piece, spotter: Spotter, context: Context) -> tuple[str, list[Kept]]:
    if spotter.has(piece.start, piece.end, "OTHERS") and not spotter.deeds(piece.start, piece.end):
        return TALK, []
    for teller in TELLERS:
        told = teller(piece, spotter)
        if told is not None:
            return told
    return (
        _away(piece, spotter, context)
        or _deed(piece, spotter, context)
        or _put_off(piece, spotter, context)
        or _rest(piece, spotter)
    )


def _deed(piece: Piece, spotter: Spotter, context: Context) -> tuple[str, list[Kept]] | None:
    deed, at = deed_of(piece, spotter), (piece.start, piece.end)
    named = any(piece.start <= n < piece.end for n in spotter.trees) or spotter.has(piece.start, piece.end, "GROUPED")
    if deed is not None and not named and not _is_asked_or_spoken(deed, piece, spotter, context):
        deed = None
    if deed is None and (named or context.asks):
        deed = done_of(piece, spotter)
        if deed is not None and not context.asks:
            return None
    if deed is None:
        said_no = any(one in spotter.states(*at) for one in spotter.spans("NAY", *at))
        return ("not_done", []) if named and said_no and not spotter.has(*at, "CORRECTED") else None
    kept = list(deed[2])
    if spotter.spans("SNUG", deed[0], deed[1]) and context.asks:
        kept[0] = Kept(DONE, deed[0], deed[1])  # "all tucked in" is what was asked
    if is_denied(piece, spotter) or is_regretted(piece, deed, spotter):
        return "not_done", []
    if is_ahead(piece, spotter, deed) or is_infinitive(deed, spotter):
        return "plan", kept[1:]
    if piece.joined_by in BECAUSE:
        return TALK, []
    if not named and runs_on(piece, spotter.words):
        return ASK, kept
    doubts = is_unsure(piece, spotter) or was_so(piece, deed, spotter) or is_subordinate(piece, deed, spotter)
    if doubts or not is_closed(piece, deed, spotter):
        return (ASK, kept) if named or context.asks else (TALK, [])
    return "did", kept


def _is_asked_or_spoken(deed: Span, piece: Piece, spotter: Spotter, context: Context) -> bool:
    """Whether a deed that names no tree may be of one spoken of before or asked about: no road that "is closed"."""
    if any(n < piece.start for n in spotter.trees):
        return True
    asked = {ask.verb for ask in context.asks}
    return not asked.isdisjoint(verbs_meant(deed[2][0].name)) and not has_other_subject(piece, deed, spotter)


def _put_off(piece: Piece, spotter: Spotter, context: Context) -> tuple[str, list[Kept]] | None:
    named = any(piece.start <= n < piece.end for n in spotter.trees)
    if not (named or context.asks):
        return None
    at = piece.start, piece.end
    if spotter.has(*at, "CORRECTED"):
        return None
    if spotter.has(*at, "NOT_YET", "FORGOTTEN"):
        return "not_done", []
    if any(one.future and one.future[0] - context.now > LATEST for one in _moments(piece, spotter)):
        return None  # "10/10" is a mark, and nobody puts off a wrap for months
    if spotter.has(*at, "UNABLE"):
        return "cannot", []
    if spotter.has(*at, "WISHED") and is_ahead(piece, spotter):
        return "plan", []
    if spotter.has(*at, "PUT_OFF") or (named and (is_ahead(piece, spotter) or is_of_a_time_ahead(piece, spotter))):
        return "later", [Kept("lt", piece.start, piece.start + 1)]
    return ("not_done", []) if named and is_denied(piece, spotter) else None


def _moments(piece: Piece, spotter: Spotter) -> list[Moment]:
    return [spotter.marked.moments[int(w[1:])] for w in spotter.words[piece.start : piece.end] if w[0] == "#"]


LATEST: Final = timedelta(days=31)  # no source


def _damage(piece: Piece, spotter: Spotter) -> tuple[str, list[Kept]] | None:
    befell = _befell(piece, spotter)
    if befell is None:
        return None
    if is_denied(piece, spotter) or piece.is_asked:
        return TALK, []
    tells = "damage" + MAYBE if spotter.has(piece.start, piece.end, "SUPPOSED", "DOUBTED", "HEARD_OF") else "damage"
    return tells, [Kept(befell, piece.start, piece.end)]


def _befell(piece: Piece, spotter: Spotter) -> str | None:
    at = piece.start, piece.end
    has = spotter.has
    blown = has(*at, "BLOWN")
    if has(*at, "LIDS") and blown and (has(*at, "AGENT") or not has(*at, "TOOK", "I")):
        return "cap_off"
    if has(*at, "PESTS"):
        return "pests"
    if has(*at, "MOULD"):
        return "mould"
    if has(*at, "BRANCH") and has(*at, "BROKEN"):
        return "branch"
    named = any(piece.start <= n < piece.end for n in spotter.trees)
    if (has(*at, "TEAR") and has(*at, "COVERS" if named else "FILMS")) or (has(*at, "CRACKED") and has(*at, "LIDS")):
        return "torn"
    if has(*at, "SOAKED") and has(*at, "FILL", "COVERS"):
        return "wet"
    if has(*at, "SUNKEN") and has(*at, "FILL"):
        return "sunk"
    if has(*at, "COVERS") and blown and has(*at, "AGENT"):
        return "off"
    return None


def _seen(piece: Piece, spotter: Spotter) -> tuple[str, list[Kept]] | None:
    sight = _sight(piece, spotter)
    if sight is None:
        return None
    if (
        is_denied(piece, spotter)
        or spotter.has(piece.start, piece.end, "SUPPOSED", "DOUBTED", "HEARD_OF")
        or piece.is_asked
    ):
        return TALK, []
    if sight == "scratch_test":
        return "job", [Kept("done_job", piece.start, piece.end), Kept("scratch_test", piece.start, piece.end)]
    return sight, [Kept(sight, piece.start, piece.end)]


def _sight(piece: Piece, spotter: Spotter) -> str | None:
    at = piece.start, piece.end
    has = spotter.has
    if has(*at, "SCRATCHED") and has(*at, "BARK_GREEN") and not has(*at, "BARK_BROWN"):
        return "scratch_test"
    if has(*at, "UNFURLED"):
        return "leafed"
    if has(*at, "BUDDING") or (has(*at, "BUDS") and has(*at, "SWOLLEN")):
        return "swelling"
    if not has(*at, "LEAVES"):
        return None
    names = {"frozen_green": "SPOILED", "dropped": "FALLEN", "yellow": "YELLOWED"}
    return next((sight for sight, cue in names.items() if has(*at, cue)), None)


def _stock(piece: Piece, spotter: Spotter) -> tuple[str, list[Kept]] | None:
    supply = spotter.spans("SUPPLY", piece.start, piece.end)
    if not supply or is_ahead(piece, spotter) or is_unsure(piece, spotter):
        return None
    is_what = Kept("supply", supply[0][0], supply[0][1])
    if spotter.has(piece.start, piece.end, "RUN_OUT"):
        named = any(piece.start <= n < piece.end for n in spotter.trees)
        return None if named else ("stock", [Kept("none", piece.start, piece.end), is_what])
    counts = spotter.spans("NUM", piece.start, supply[0][0])
    if not spotter.has(piece.start, piece.end, "BOUGHT") or not counts or is_denied(piece, spotter):
        return None
    number = Kept("num", counts[-1][0], counts[-1][1])
    whole = Kept("done_job", piece.start, piece.end)
    return "job", [whole, Kept("check_supplies", piece.start, piece.end), number, is_what]


def _moved(piece: Piece, spotter: Spotter) -> tuple[str, list[Kept]] | None:
    where = [one for one in spotter.spans("SHELTER", piece.start, piece.end) if one[1] - one[0] > 1]
    named = any(piece.start <= n < piece.end for n in spotter.trees)
    stands = bool(where) and _stands_right_before(where[0][0], spotter)
    if not where or not named or not (stands or spotter.has(piece.start, piece.end, "CARRIED")):
        return None
    if is_denied(piece, spotter):
        return "not_done", []
    if "still" in spotter.words[piece.start : piece.end]:
        return TALK, []  # where it has been all along
    if is_ahead(piece, spotter):
        return "plan", []
    if is_unsure(piece, spotter):
        return TALK, []
    return "moved", [Kept("where", where[0][0], where[0][1])]


def _stands_right_before(at: int, spotter: Spotter) -> bool:
    """Whether a tree and no verb but "is" stands before a place: "satsuma's now in the garage"."""
    while at > 0 and spotter.words[at - 1] in (
        "'s",
        "is",
        "are",
        "now",
        "back",
        "safe",
        "safely",
        "still",
        "been",
        "has",
    ):
        at -= 1
    return at > 0 and spotter.words[at - 1][0] == "@"


def _reading(piece: Piece, spotter: Spotter) -> tuple[str, list[Kept]] | None:
    at = piece.start, piece.end
    shown = [n for n in range(*at) if spotter.words[n][0] == "%"]
    if (
        len(shown) != 1
        or is_denied(piece, spotter)
        or spotter.has(*at, "FORECAST", "SUPPOSED", "DOUBTED", "OTHERS", "JOKED")
        or piece.is_asked
    ):
        return None
    written = spotter.marked.temperatures[int(spotter.words[shown[0]][1:])].as_written
    if not (spotter.has(*at, "SHOWN") or written[:1] in "+-−" or any(one.isalpha() or one == "°" for one in written)):
        return None  # "picked 2.5 from porch"
    kept = [Kept("temp", shown[0], shown[0] + 1)]
    for name, cue in (("inside", "INSIDE_OF"), ("low", "LOWW"), ("therm", "THERM")):
        kept += [Kept(name, start, end) for start, end, _ in spotter.spans(cue, *at)[:1]]
    return "reading" + MAYBE * spotter.has(*at, "OTHER_NIGHT"), kept


def _away(piece: Piece, spotter: Spotter, context: Context) -> tuple[str, list[Kept]] | None:
    at = piece.start, piece.end
    times = [w for w in spotter.words[piece.start : piece.end] if w[0] == "#"]
    ahead = [w for w in times if _is_far_ahead(spotter.marked.moments[int(w[1:])], context)]
    named = any(piece.start <= n < piece.end for n in spotter.trees)
    deeds = [one for one in spotter.deeds(*at) if not spotter.spans("BACK_ON", one[0], one[1])]
    gone = spotter.has(*at, "AWAY_ON") and not (deeds or spotter.has(*at, *NO_ABSENCE))
    opens = piece.start, min(piece.start + 4, piece.end)
    of_us = spotter.has(*opens, "WHO_DID", "AWAY_ON") or spotter.words[piece.start][0] in "#&"
    if (
        is_denied(piece, spotter)
        or not gone
        or not of_us
        or not ahead
        or named
        or piece.is_asked
        or spotter.has(*at, "DOUBTED", "SUPPOSED")
    ):
        return None
    return "away", []


NO_ABSENCE: Final = ("LIDS", "COVERS", "WISHED", "LEAVES", "FILL", "ROOM")


def _is_far_ahead(moment: Moment, context: Context) -> bool:
    """Whether it is another day's: nobody goes away for an hour."""
    return bool(moment.future) and not moment.is_tonight and moment.future[0] - context.now > SHORTEST_ABSENCE


def _question(piece: Piece, spotter: Spotter) -> tuple[str, list[Kept]] | None:
    at = piece.start, piece.end
    words = spotter.words[piece.start : piece.end]
    led = [span for span in spotter.spans("ASKED", *at) if span[0] <= piece.start + 2]
    if not piece.is_asked and not (led and _is_turned(words, led[0][0] - piece.start)):
        return None
    has = spotter.has
    for topic, tells in _TOPICS.items():
        if has(*at, topic):
            return tells, []
    return TALK, []


_TOPICS: Final = {
    "TOPIC_WHY": "why", "TOPIC_FROST": "last_frost", "TOPIC_FIRST": "first", "TOPIC_STRIP": "strip_when",
    "TOPIC_LEARNED": "learned", "TOPIC_OPEN": "may_open", "TOPIC_NIGHT": "tonight", "TOPIC_CHANCE": "tonight",
    "TOPIC_SUPPLY": "need", "TOPIC_WRAP": "how_to", "TOPIC_DO": "due",
}  # fmt: skip
_BEFORE_ASKING: Final = frozenset(("so", "and", "hey", "ok", "hi", "but", "hmm", "um", "erm", "wait", "well", "just"))
_WH: Final = frozenset(
    ("what", "what's", "whats", "how", "how's", "when", "when's", "why", "which", "who", "wot", "where")
)
_INVERTED: Final = frozenset(("i", "we", "it", "you", "u", "the", "they", "there", "my", "that", "this"))


def _is_turned(words: Sequence[str], at: int) -> bool:
    """Whether it begins by asking: a word that asks, or a verb before its subject."""
    first, second = words[at], words[at + 1] if at + 1 < len(words) else ""
    if first in _WH:
        return at == 0 or words[0] in _BEFORE_ASKING
    turned = at == 0 or words[0] in _BEFORE_ASKING
    return turned and bool(second) and (second in _INVERTED or second[0] in "@&")


def _rest(piece: Piece, spotter: Spotter) -> tuple[str, list[Kept]]:
    named = any(piece.start <= n < piece.end for n in spotter.trees)
    words = [w for w in spotter.words[piece.start : piece.end] if w[0] not in "@#,"]
    small = all(
        w in ("the", "my", "and", "also", "too", "fig", "one", "in", "on", "at", "it's", "of", "a") for w in words
    )
    return ("bare", []) if named and small else (TALK, [])


TELLERS: Final[tuple[Teller, ...]] = (_question, _damage, _seen, _stock, _moved, _reading)


def _completed(clauses: list[Clause]) -> list[Clause]:
    """The clauses with the trees, times and deeds that stand apart from them."""
    kept: list[Clause] = []
    for n, one in enumerate(clauses):
        before = next((c for c in reversed(kept) if c.tells != TALK), None)
        if one.tells == "bare" and before is not None and before.tells not in ("bare", "did", ASK) and not before.named:
            kept[kept.index(before)] = replace(before, named=one.named)
        elif one.tells == "bare" and n + 1 < len(clauses) and not clauses[n + 1].named and clauses[n + 1].tells != TALK:
            clauses[n + 1] = replace(clauses[n + 1], named=one.named)
        elif one.tells == "bare" and before is not None and before.tells == "did" and one.joined_by in (",", "and"):
            if before.moment is None and "and" in (*one.words, one.joined_by) and _lies_behind(one):
                kept[kept.index(before)] = replace(before, told_at=one.moment)  # "opened porch, wall and bench at 11"
            kept.append(_same_deed(one, before))
        elif (
            _is_time_alone(one)
            and before is not None
            and before.tells in ("did", ASK, "moved", "reading")
            and not before.moment
        ):
            kept[kept.index(before)] = replace(before, told_at=one.moment)
        else:
            kept.append(_spoken_before(one, kept))
    return kept


def _spoken_before(one: Clause, clauses: Sequence[Clause]) -> Clause:
    """What is told of the trees that the words before it speak of: "the kaki straw reeks, it's all fuzz"."""
    if one.tells not in (*_FOUND, "did", ASK) or one.has_targets:
        return one
    if one.tells in ("did", ASK) and one.group is None and _speaks_of_one(one):
        last = [word for word in one.marked.words[: one.start] if word[0] == "@"]
        return replace(one, named=(one.marked.trees[int(last[-1][1:])],)) if last else one
    marks = dict.fromkeys(word for c in clauses if c.tells == TALK for word in c.words if word[0] == "@")
    if any(c.named for c in clauses if c.tells != TALK):
        return one
    named = tuple(one.marked.trees[int(mark[1:])] for mark in marks)
    if one.tells in _FOUND:
        return replace(one, named=named) if len(named) == 1 and one.joined_by != "." else one
    return replace(one, named=named, tells=ASK) if named else one


def _speaks_of_one(one: Clause) -> bool:
    """ "… I'm leaving that one open": of the tree named last, not of all that were spoken of."""
    return any(a in ("that", "this") and b == "one" for a, b in pairwise(one.words))


_FOUND: Final = ("reading", "damage", "damage?", "swelling", "leafed", "dropped", "yellow", "frozen_green")


def _same_deed(one: Clause, before: Clause) -> Clause:
    """ "Undressed kaki at 10, pomegranate at 11": the deed goes on; at a time to come it is put off."""
    moment = one.moment
    if moment is not None and not (moment.past or moment.told or moment.is_today):
        return replace(one, tells="later")
    return replace(one, tells="did", did=before.did, kept=(*before.kept[:1], *one.kept))


def _lies_behind(one: Clause) -> bool:
    return one.moment is not None and bool(one.moment.past or one.moment.told)


def _is_time_alone(one: Clause) -> bool:
    others = {word for word in one.words if word[0] != "#"}
    return one.tells == TALK and one.moment is not None and not one.moment.is_today and others <= _AT


_AT: Final = frozenset((
    "went", "was", "that", "it", "is", "circa", "about", "around", "at", "like", "so", "then", "it's", "that's", "on",
    "in", "the", "by", "this", "roughly", "since", "already", "of", "maybe",
))  # fmt: skip


def _last_absence(clauses: list[Clause]) -> list[Clause]:
    """ "Off for a week, leaving Friday, back the Friday after" is one absence: till the last of those days."""
    ends = {n: max(m.future[0] for m in _of(one) if m.future) for n, one in enumerate(clauses) if one.tells == "away"}
    last = max(ends, key=lambda n: ends[n], default=None)
    return [one for n, one in enumerate(clauses) if n not in ends or n == last]


def _of(one: Clause) -> list[Moment]:
    return [one.marked.moments[int(word[1:])] for word in one.words if word[0] == "#"]


def _takes_back(one: Clause, spotter: Spotter) -> bool:
    """A few words that belong to what is told beside them, and make it doubtful: "if it holds", "says my husband"."""
    at = one.start, one.end
    free = spotter.has(*at, "NOT_DENYING")
    doubts = ("SUPPOSED", *(() if free else ("DENIED",)), "HEARD_OF", "DOUBTED", "UNDONE", "FORGOTTEN")
    of_another = any(word[0] == "@" for word in one.words) or _is_time_alone(one)
    return one.tells == TALK and len(one.words) <= FEW and (of_another or spotter.has(*at, *doubts))


def _is_number(one: Clause) -> bool:
    """ "Bought 3 rolls. 2. they only had 2": a number by itself puts another right."""
    return one.tells == TALK and len(one.words) == 1 and one.words[0].isdigit()


def _shakes(one: Clause, before: Clause | None, spotter: Spotter) -> bool:
    """Whether a clause makes doubtful what was told beside it."""
    at = one.start, one.end
    if one.tells == ASK:
        return not one.has_targets
    if one.tells != TALK or not one.words:
        return False
    if _is_time_alone(one) and before is not None and before.tells == "did":
        return True  # a second time: "yesterday evening, was quarter to six"
    if spotter.has(*at, "DOUBTED", "UNDONE") or (spotter.has(*at, "DEED", "WISHED") and spotter.has(*at, "DENIED")):
        return True
    if spotter.has(*at, "CLOSABLE") and before is not None and before.tells == "did" and not before.named:
        return True  # closed what: the shop?
    behind = before is not None and before.tells in RECORDED
    supposed = spotter.has(*at, "SUPPOSED", "HEARD_OF") and spotter.words[one.end : one.end + 1] == [","]
    return supposed or (behind and _may_go_on(one, spotter))


def _are_elsewhere(clauses: Sequence[Clause], spotter: Spotter) -> bool:
    """Whether words apart say where the thermometers hung: "… all of them beneath the covers", "… in the freezer"."""
    shown = any(one.tells == "reading" and not one.has("inside") for one in clauses)
    apart = [one for one in clauses if one.tells in (TALK, "bare") and one.words]
    return shown and any(
        spotter.has(one.start, one.end, "IN") or (one.words[0] in ("in", "at") and len(one.words) <= SHORT)
        for one in apart
    )


def _may_go_on(one: Clause, spotter: Spotter) -> bool:
    """Whether a few words behind a report may go on with it: "closed porch, banana", "closed porch. the gate"."""
    words = one.words
    acts = words[0] in ours().words("SUBJECT") or any(w in ours().words("FINITE") or w.endswith(_ACTING) for w in words)
    if len(words) > SHORT or acts:
        return False
    asked = spotter.words[one.end : one.end + 1] == ["?"]
    listed = one.joined_by in (",", "and") and words[0] not in _APART
    return asked or listed or words[0] in grammar().words("DET") | {"in", "why"}


FEW: Final = 4  # words; no source
SHORT: Final = 3  # words; no source
_ACTING: Final = ("ed", "ing", "'s")
_APART: Final = frozenset(("like", "what", "with", "no", "phew", "brr", "sorry", "thanks", "honest", "boss", "mate"))
SEEN: Final = ["damage", "swelling", "leafed", "dropped", "yellow", "frozen_green"]
RECORDED: Final = ["did", "damage", "stock", "moved", "reading", "job"]
PUT_OFF: Final = ("cannot", "later", "plan", "not_done")


def _agreed(clauses: list[Clause], spotter: Spotter) -> list[Clause]:
    """Deeds asked about where words beside them shake what was told; what is said twice only once."""
    put_right = any(one.tells != "did" and spotter.has(one.start, one.end, "JOKED", "CORRECTED") for one in clauses)
    shaken = ["did"] * any(
        _shakes(one, before, spotter) for one, before in zip(clauses, (None, *clauses), strict=False)
    )
    wondered = ("DOUBTED", "BUDS", "PESTS", "MOULD")
    shaken += SEEN * any(one.tells == TALK and spotter.has(one.start, one.end, *wondered) for one in clauses)
    shaken += ["reading"] * _are_elsewhere(clauses, spotter)
    shaken += RECORDED * (put_right or any(_is_number(one) or _takes_back(one, spotter) for one in clauses))
    clauses = [replace(one, tells=one.tells + MAYBE) if one.tells in shaken else one for one in clauses]
    untold = [one for one in clauses if one.tells in PUT_OFF and not one.has_targets]
    denied = any(one.tells == "not_done" for one in untold)
    if untold:  # "all done, will close soon"; "closed? no, closed porch"
        clauses = [
            replace(one, tells=ASK) if one.tells == "did" and (denied or not one.has_targets) else one
            for one in clauses
        ]
    told = any(one.tells in ("did", ASK) for one in clauses)
    placed = {kept.name for one in clauses if one.tells == "damage" and one.named for kept in one.kept[:1]}
    noted = any(one.tells in RECORDED for one in clauses)
    clauses = _last_absence(clauses)
    return [
        one for one in clauses
        if not (noted and one.tells == "bare") and not (told and one.tells in PUT_OFF and not one.has_targets)
        and not (one.tells == "damage" and not one.named and one.kept[0].name in placed)
    ]  # fmt: skip
