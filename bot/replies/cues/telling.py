"""What each piece of a reply tells, by the cues it holds: the clauses that are read on as those of the grammar."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Final

from bot.replies.clause import DONE, Clause, clause_of
from bot.replies.cues.asked import asked_whole, question
from bot.replies.cues.away import away, back, prolonged
from bot.replies.cues.deeds import (
    BECAUSE,
    all_known,
    deed_of,
    done_of,
    has_other_subject,
    is_ahead,
    is_closed,
    is_denied,
    is_denied_far_behind,
    is_denied_near_tree,
    is_infinitive,
    is_of_a_time_ahead,
    is_refusal,
    is_regretted,
    is_subordinate,
    is_unable,
    is_unsure,
    known_words,
    was_so,
)
from bot.replies.cues.doubting import agreed
from bot.replies.cues.finds import found, listed, put_right
from bot.replies.cues.joining import completed, counted
from bot.replies.cues.named import first_list, is_bare_place, moments_of, names_of, times_kept, trees_kept, trees_of
from bot.replies.cues.pieces import Piece, pieces, runs_on
from bot.replies.cues.spotting import Span, Spotter
from bot.replies.cues.told import ASK, MAYBE, PUT_OFF, SEEN, TALK, Told
from bot.replies.grammar import grammar, ours
from bot.replies.grammar.recogniser import Kept
from bot.replies.learned.clauses import ALONE, is_deed_told
from bot.replies.meanings.targets import verbs_meant
from bot.replies.nouns import Context, Verb
from bot.replies.words.marking import Marked
from bot.replies.words.time_phrases import MONTHS
from bot.replies.words.times import Moment
from rules.garden.cover import CoverState


def told_by_cues(marked: Marked, context: Context) -> list[Clause]:
    """The clauses of a reply, as far as cues tell; what holds none is told as talk."""
    spotter = Spotter(marked)
    clauses = [_clause(one, spotter, context) for one in asked_whole(pieces(spotter), spotter)]
    told = [one for one in clauses if one.words]
    for n in range(1, len(told)):
        told[n] = put_right(told[:n], listed(told[n - 1], told[n], spotter), spotter)
    whole = completed(_of_sole_tree(prolonged(told), spotter))
    return agreed(counted(whole, spotter, context), spotter, context)


def _clause(piece: Piece, spotter: Spotter, context: Context) -> Clause:
    tells, kept = _told(piece, spotter, context)
    trees = trees_kept(piece, spotter)
    if tells.removesuffix(MAYBE) not in ("did", TALK, *PUT_OFF):  # "fuzz all over it" is not of all trees
        trees = [Kept("tree", n, n + 1) for n in first_list(trees_of(piece, spotter), spotter.words)]
    before = [n for n in spotter.trees if n < piece.start]
    if tells == "not_done" and not trees and before and "it" in spotter.words[piece.start : piece.end]:
        trees = [Kept("tree", before[-1], before[-1] + 1)]  # "… past bench, it stayed open"
    kept = [*kept, *trees, *times_kept(spotter.words, piece)]
    return clause_of(tells, tuple(kept), spotter.marked, piece.start, piece.end, piece.joined_by)


def _told(piece: Piece, spotter: Spotter, context: Context) -> Told:
    if spotter.words[max(piece.start, piece.end - 2) : piece.end] in (["or", "nah"], ["or", "not"], ["or", "no"]):
        return TALK, []  # "shut it or nah"
    astray = spotter.has(piece.start, piece.end, "LID_ASTRAY")  # "the cap is in the neighbour's hedge"
    if spotter.has(piece.start, piece.end, "OTHERS") and not (astray or spotter.deeds(piece.start, piece.end)):
        return TALK, []
    return (
        question(piece, spotter)
        or found(piece, spotter)
        or back(piece, spotter)
        or away(piece, spotter, context)
        or _deed(piece, spotter, context)
        or _put_off(piece, spotter, context)
        or _by_grammar(piece, spotter)
        or _rest(piece, spotter)
    )


def _deed(piece: Piece, spotter: Spotter, context: Context) -> Told | None:
    deed, at = deed_of(piece, spotter), (piece.start, piece.end)
    if spotter.has(*at, "STUCK_SO") and _is_asked(piece, spotter, context):
        return "cannot", []  # "kaki's lid is frozen open"
    named = bool(trees_of(piece, spotter)) or spotter.has(*at, "GROUPED")
    if deed is not None and spotter.has(piece.start, deed[0], "LEFT_SO"):
        as_it_was = _left_as_it_was(deed[2][0].name, piece, spotter, context)
        if as_it_was is not None:
            return as_it_was, []
    if deed is not None and not named and not _is_asked_or_spoken(deed, piece, spotter, context):
        deed = None
    if deed is None and (named or context.asks):
        deed = done_of(piece, spotter)
        if deed is not None and not context.asks:
            return None
    if deed is None:
        if context.asks and is_refusal(piece, spotter):
            return "not_done", []
        said_no = any(one in spotter.states(*at) for one in spotter.spans("NAY", *at))
        if named and said_no and context.asks and "only" in spotter.words[piece.start : piece.end]:
            return ASK, [Kept(DONE, piece.start, piece.start + 1)]  # "nope only wall"
        return ("not_done", []) if named and said_no and not spotter.has(*at, "CORRECTED") else None
    if piece.joined_by in BECAUSE or spotter.words[piece.start] in BECAUSE:
        return TALK, []
    if any(word.isdigit() and word[:2] in CENTURIES and len(word) == YEAR for word in spotter.words[slice(*at)]):
        return TALK, []  # "wrapped the kaki in 2024"
    kept = list(deed[2])
    if spotter.spans("SNUG", deed[0], deed[1]) and context.asks:
        kept[0] = Kept(DONE, deed[0], deed[1])  # "all tucked in" is what was asked
    far = is_denied_far_behind(piece, deed, spotter)
    if (is_denied(piece, spotter) and not far) or is_regretted(piece, deed, spotter):
        return (ASK, kept) if "said" in spotter.words[piece.start : piece.end] else ("not_done", [])
    if is_ahead(piece, spotter, deed) or is_infinitive(deed, spotter):
        return "plan", kept[1:]
    numbered = bool(spotter.spans("NUM", max(piece.start, deed[0] - 1), deed[0])) and not spotter.has(*at, "LAST_ONE")
    if not named and (numbered or runs_on(piece, spotter.words)):
        return ASK, kept  # "two done": which two?
    if was_so(piece, deed, spotter) and _stands_so(deed, piece, spotter, context):
        return TALK, []  # "kaki was closed already", as is known
    doubts = far or is_unsure(piece, spotter) or was_so(piece, deed, spotter) or is_subordinate(piece, deed, spotter)
    answers = _answers(deed, piece, spotter, context)
    closed = is_closed(piece, deed, spotter, answers=answers)
    if doubts or not (closed or _is_told_otherwise(deed, piece, spotter, answers=answers)):
        return (ASK, kept) if named or context.asks else (TALK, [])
    return "did", kept


def _is_told_otherwise(deed: Span, piece: Piece, spotter: Spotter, *, answers: bool) -> bool:
    """Whether words that are not all known tell the deed for all that.

    None of them stands between the deed and its trees, "closed the window on the porch", and no place alone is named
    that may be of the house.
    """
    unread = set(range(piece.start, piece.end)) - known_words(piece, spotter)
    trees = trees_of(piece, spotter)
    if not trees or (is_bare_place(piece, spotter) and not answers):
        return False
    between = range(min(deed[0], *trees), max(deed[1] - 1, *trees))
    return unread.isdisjoint(between) and is_deed_told(
        deed[2][0].name, spotter.marked, piece.start, piece.end, unread, ALONE
    )


def _stands_so(deed: Span, piece: Piece, spotter: Spotter, context: Context) -> bool:
    """Whether the trees it names are known to stand as it says, and nothing is asked of them."""
    state = {"closed": CoverState.CLOSED, "vented": CoverState.VENTED}.get(deed[2][0].name)
    named = names_of(piece, spotter)
    known = {tree.name for tree in context.trees if tree.state is state}
    return bool(named) and named <= known and not _is_asked(piece, spotter, context)


def _left_as_it_was(did: str, piece: Piece, spotter: Spotter, context: Context) -> str | None:
    """What "left" tells: that what is asked is not done; of straw left on, or a top left shut, nothing."""
    other = {"vented": Verb.CLOSED, "closed": Verb.VENTED}.get(did)
    named = names_of(piece, spotter)
    before = [n for n in spotter.trees if n < piece.start]
    if not named and before and "it" in spotter.words[piece.start : piece.end]:
        named = names_of(
            replace(piece, start=before[-1], end=before[-1] + 1), spotter
        )  # "… past bench, it stayed open"
    first = not any(n < piece.start for n in spotter.trees)  # else "that one" is of the tree just named
    all_asked = not named and spotter.has(piece.start, piece.end, "GROUPED", *(["THOSE"] * first))
    if any(ask.verb is other and (all_asked or named & set(ask.trees)) for ask in context.asks):
        return "not_done"
    return TALK if did in ("wrapped", "closed") else None


def _answers(deed: Span, piece: Piece, spotter: Spotter, context: Context) -> bool:
    """Whether a deed is told of trees for which it is asked."""
    named = names_of(piece, spotter)
    asks = [ask for ask in context.asks if ask.verb in verbs_meant(deed[2][0].name)]
    of_all = not named and bool(asks) and spotter.has(piece.start, piece.end, "GROUPED", "THOSE")
    return of_all or any(named & set(ask.trees) for ask in asks)


def _is_asked_or_spoken(deed: Span, piece: Piece, spotter: Spotter, context: Context) -> bool:
    """Whether a deed that names no tree may be of one spoken of before or asked about: no road that "is closed"."""
    if any(n < piece.start for n in spotter.trees):
        return True
    asked = {ask.verb for ask in context.asks}
    told = spotter.deeds(0, piece.start)
    if (
        "again" in spotter.words[deed[1] : piece.end]
        and told
        and not asked.isdisjoint(verbs_meant(told[-1][2][0].name))
    ):
        return piece.start == deed[0]  # "opened, then hail, shut again"
    return not asked.isdisjoint(verbs_meant(deed[2][0].name)) and not has_other_subject(piece, deed, spotter)


def _put_off(piece: Piece, spotter: Spotter, context: Context) -> Told | None:
    named = bool(trees_of(piece, spotter))
    at = piece.start, piece.end
    if not (named or context.asks) or spotter.words[piece.start] in BECAUSE or spotter.has(*at, "CORRECTED"):
        return None
    first = " ".join(spotter.words[piece.start : piece.start + 2])
    if first in ("can't you", "couldn't you", "won't you"):
        return TALK, []  # "can't you grow arms"
    of_a_deed = _is_asked(piece, spotter, context) or spotter.has(*at, "DEED", "WISHED", "DONE_BY", "ACTING")
    if named and not of_a_deed and is_denied(piece, spotter):
        return TALK, []  # "no number from kaki", "the wall I forgot to look": nothing asked was left undone
    if named and _is_asked(piece, spotter, context) and spotter.has(*at, "LEFT_SO"):
        return "not_done", []  # "the kaki we left"
    if spotter.has(*at, "NOT_YET", "FORGOTTEN"):
        return "not_done", []
    if any(one.future and one.future[0] - context.now > LATEST for one in moments_of(piece, spotter)):
        return None  # "10/10" is a mark, and nobody puts off a wrap for months
    if spotter.has(*at, "STUCK_IN"):
        return None  # "stuck it in the kaki": a thermometer
    if is_unable(piece, spotter):
        tonight = any(one.future and not (one.is_today or one.is_tonight) for one in moments_of(piece, spotter))
        return ("later", [Kept("lt", piece.start, piece.start + 1)]) if tonight else ("cannot", [])  # "at work till 8"
    if spotter.has(*at, "WISHED") and is_ahead(piece, spotter):
        return "plan", []
    if named and spotter.has(*at, "PUT_OFF") and any(_was_today(one, context) for one in moments_of(piece, spotter)):
        return "bare", []  # "closed wall, porch after dinner at 5", said at six
    later = spotter.has(*at, "PUT_OFF") and not spotter.deeds(*at)
    if later or (named and (spotter.has(*at, "TO_COME") or is_of_a_time_ahead(piece, spotter))):
        return "later", [Kept("lt", piece.start, piece.start + 1)]
    of_a_deed = (named and is_denied_near_tree(piece, spotter)) or (bool(context.asks) and spotter.has(*at, "WISHED"))
    return ("not_done", []) if of_a_deed and is_denied(piece, spotter) else None


def _is_asked(piece: Piece, spotter: Spotter, context: Context) -> bool:
    """Whether what is asked is asked of a tree that it names."""
    return any(names_of(piece, spotter) & set(ask.trees) for ask in context.asks)


def _was_today(moment: Moment, context: Context) -> bool:
    """Whether it may have been today already."""
    now = context.local_now
    return bool(moment.past) and moment.past[0].astimezone(now.tzinfo).date() == now.date() and not moment.is_today


CENTURIES, YEAR = ("19", "20"), 4  # the figures of a year
LATEST: Final = timedelta(days=31)  # no source


def _of_sole_tree(told: Sequence[Clause], spotter: Spotter) -> list[Clause]:
    """What is found is of the only tree spoken of, where nothing is told of that tree and no other place is named."""
    if not spotter.sole_tree or any(one.named for one in told if one.tells not in (TALK, "bare")):
        return list(told)
    named = (spotter.marked.trees[int(spotter.words[spotter.trees[0]][1:])],)
    return [
        replace(one, named=named) if one.tells in OF_A_TREE and not one.has_targets and not _elsewhere(one) else one
        for one in told
    ]


def _elsewhere(one: Clause) -> bool:
    """Whether it names a place: "mice in the attic"."""
    words, parts = one.words, ours().words("LID", "WRAP", "PLANT") | {"it", "there", "here", *MONTHS}
    leading = ("in", "at") if one.tells not in ("damage", "damage?") else ("in", "at", "on", "of", "off", "from")
    return any(word in leading and parts.isdisjoint(words[n + 1 : n + 3]) for n, word in enumerate(words))


OF_A_TREE: Final = (*SEEN, "damage?", "job", "moved", "moved?")


OF_NUMBERS: Final = ("reading", "number", "numbers")


NEWS_OF_LINES: Final = (*OF_NUMBERS, "half", "moved")


RIGHT_AFTER: Final = ("straight", "right", "after", "that", "then", "afterwards")


def _by_grammar(piece: Piece, spotter: Spotter) -> Told | None:
    """What a line of the grammar tells that fits all of the piece, where no cue did; a number is asked about."""
    named = bool(trees_of(piece, spotter))
    for line, kept in spotter.lines(piece.start, piece.end):
        if not line.is_open and (line.tells in SEEN or (named and line.tells in NEWS_OF_LINES)):
            return line.tells + MAYBE * (line.tells in OF_NUMBERS), kept
    return None


def _rest(piece: Piece, spotter: Spotter) -> Told:
    named = bool(trees_of(piece, spotter))
    words = [w for w in spotter.words[piece.start : piece.end] if w[0] not in "@#,"]
    small = all(
        w in grammar().words("DET") | {"and", "also", "too", "fig", "one", "in", "on", "at", "it's", "of", *RIGHT_AFTER}
        for w in words
    )
    of_all = len(words) > 1 and all_known(piece, spotter, only=("GROUPED",))  # "…, all three"
    return ("bare", []) if (named and small) or of_all else (TALK, [])
