"""A piece that speaks of a deed: done, put off, denied, or told so that it must be asked."""

from dataclasses import replace
from typing import Final

from bot.replies.clause import COVERED, DONE, UNCOVERED
from bot.replies.cues.named import groups_end, moments_of, trees_of
from bot.replies.cues.pieces import Piece
from bot.replies.cues.spotting import Span, Spotter
from bot.replies.grammar import grammar
from bot.replies.grammar.recogniser import Kept
from bot.replies.words.time_phrases import MONTHS

UNSURE: Final = ("BY_AGENT", "DOUBTED", "HEARD_OF", "JOKED", "SUPPOSED", "CORRECTED", "OTHERS")


KNOWN: Final = (
    "A",
    "TREES",
    "EXCEPT",
    "WHO_DID",
    "JOINER",
    "LIDS",
    "COVERS",
    "DEED",
    "DONE_BY",
    "LID_ON",
    "LID_OFF",
    "WRAP_ON",
    "WRAP_OFF",
    "PUT",
    "TOOK",
)


NOT_ON_IT: Final = frozenset(("ground", "floor", "lawn", "grass", "roof", "path", "bench", "list", "way"))


def deed_of(piece: Piece, spotter: Spotter) -> Span | None:
    """The words that tell the deed, and under which name; a lid that is on or off tells one too."""
    found = [one for one in spotter.deeds(piece.start, piece.end) if not _is_none_of_ours(one, piece, spotter)]
    if found:
        return found[-1]
    return _of_a_part(piece, spotter, "LIDS", on="closed", off="vented", put="LID_ON", taken="LID_OFF") or _of_a_part(
        piece, spotter, "COVERS", on="wrapped", off="stripped", put="WRAP_ON", taken="WRAP_OFF"
    )


def _is_none_of_ours(deed: Span, piece: Piece, spotter: Spotter) -> bool:
    """ "Tied up at work", "the covered ones": no deed at a cover."""
    if spotter.spans("BACK_ON", deed[0], deed[1]):
        grouped = spotter.has(piece.start, piece.end, "GROUPED", "TREES")
        return spotter.has(piece.start, piece.end, "COVERS") or not grouped  # "all back on now" is of the caps
    behind = spotter.words[deed[1] : deed[1] + 1]
    some = bool(spotter.spans("SOME_OF", deed[1], piece.end))
    if (
        behind
        and behind[0] in ("ones", "one", "trees")
        and not some
        and spotter.words[max(0, deed[0] - 1)] not in ("i", "we")
    ):
        return True
    named = bool(trees_of(piece, spotter))
    soft = bool(spotter.spans("SOFT", deed[0], deed[1]))
    if not named and not spotter.has(piece.start, piece.end, "GROUPED") and _has_other_object(deed, piece, spotter):
        return True
    loose = soft or deed[2][0].name in (COVERED, UNCOVERED)
    return loose and not named and not spotter.has(piece.start, piece.end, "LIDS", "COVERS", "GROUPED", "THOSE")


def _has_other_object(deed: Span, piece: Piece, spotter: Spotter) -> bool:
    """ "Closed the gate": behind an article stands what is none of ours."""
    behind = list(spotter.words[deed[1] : min(deed[1] + 3, piece.end)])
    if len(behind) < 2 or behind[0] not in grammar().words("DET"):
        return False
    ours = known_words(replace(piece, start=deed[1]), spotter)
    return all(n not in ours for n in range(deed[1] + 1, deed[1] + 2))


def _of_a_part(piece: Piece, spotter: Spotter, part: str, *, on: str, off: str, put: str, taken: str) -> Span | None:
    parts = spotter.spans(part, piece.start, piece.end)
    if not parts or spotter.has(piece.start, piece.end, "UNDONE"):
        return None
    for name, cue in ((off, taken), (on, put)):
        for start, end, _ in spotter.spans(cue, piece.start, piece.end):
            by_verb = spotter.has(piece.start, start, "PUT", "TOOK", "CARRIED")
            behind = [at for at in parts if at[1] <= start]
            is_up = not spotter.spans("LID_UP", piece.start, start) or by_verb  # "cap is up": lifted, or put on?
            if (
                not by_verb
                and (part == "COVERS" or {"is", "are", "was"}.intersection(spotter.words[end : piece.end]))
                and end < piece.end
                and not spotter.has(behind[-1][1] if behind else start, start, "BE")
            ):
                continue  # "straw on the kaki" tells of no deed
            if (behind or by_verb) and is_up and not NOT_ON_IT & set(spotter.words[end : end + 2]):
                first = min(start, parts[0][0])
                return first, max(end, parts[-1][1]), (Kept(name, start, end),)
    return None


def has_other_subject(piece: Piece, deed: Span, spotter: Spotter) -> bool:
    """ "The road is closed": what it is said of is none of ours."""
    known = known_words(piece, spotter)
    return any(n not in known for n in range(_subject(piece, deed, spotter), deed[0]))


def done_of(piece: Piece, spotter: Spotter) -> Span | None:
    """Words that tell that what was asked is done."""
    found = spotter.spans("DONE_BY", piece.start, piece.end)
    found = found or [
        one for one in spotter.spans("AYE", piece.start, piece.end) if one in spotter.states(piece.start, piece.end)
    ]
    found = [one for one in found if not _has_other_object(one, piece, spotter) and _tells(one, piece, spotter)]
    return (found[0][0], found[0][1], (Kept(DONE, found[0][0], found[0][1]),)) if found else None


def _tells(one: Span, piece: Piece, spotter: Spotter) -> bool:
    """Whether a bare "did" is of what was asked: not "I did see your message", "that's about all I did"."""
    if spotter.words[one[0]] != "did" or one[1] - one[0] > 1:
        return True
    behind, led = spotter.words[one[1] : piece.end], spotter.words[max(piece.start, one[0] - 2) : one[0]]
    if not behind:
        return piece.end - piece.start <= SHORTEST
    if led[:1] and led[0][0] == "@":
        return True  # "porch I did myself"
    some = bool(spotter.spans("SOME_OF", one[1], piece.end))
    return some or behind[0] in OBJECTS or behind[0][0] in "@#" or behind[0].isdigit()


SHORTEST: Final = 3  # words of "we did that"; no source


OBJECTS: Final = frozenset((
    "it", "them", "both", "all", "that", "the", "those", "my", "our", "everything", "this", "just", "already", "so",
    "one",
))  # fmt: skip


def is_denied(piece: Piece, spotter: Spotter) -> bool:
    """Whether a word denies, and is no turn of phrase that denies nothing."""
    return bool(_denials(piece, spotter))


def _denials(piece: Piece, spotter: Spotter) -> list[Span]:
    return spotter.apart(piece.start, piece.end, "DENIED", by=("NOT_DENYING", "CORRECTED"))


def is_unable(piece: Piece, spotter: Spotter) -> bool:
    """Whether something keeps them from it; "can't say" keeps them from nothing."""
    return bool(spotter.apart(piece.start, piece.end, "UNABLE", by=("NOT_DENYING",)))


def is_denied_near_tree(piece: Piece, spotter: Spotter) -> bool:
    """Whether what denies stands by a tree or a deed: not "… kaki, bins are out, mum wasn't in"."""
    told = [
        *trees_of(piece, spotter),
        *(n for a, b, _ in spotter.spans("WISHED", piece.start, piece.end) for n in (a, b)),
    ]
    denials = spotter.spans("DENIED", piece.start, piece.end)
    return any(abs(n - at) <= NEAR for at, _, _ in denials for n in told)


NEAR: Final = 4  # words; no source


def is_denied_far_behind(piece: Piece, deed: Span, spotter: Spotter) -> bool:
    """Whether all that denies stands well behind a deed and its trees: "opened wall … sorry, not you"."""
    told = max([deed[1], *(n + 1 for n in trees_of(piece, spotter))])
    denials = _denials(piece, spotter)
    return bool(denials) and all(start > told + 2 for start, _, _ in denials)


def is_ahead(piece: Piece, spotter: Spotter, deed: Span | None = None) -> bool:
    """Whether it speaks of what is still to come; behind a deed only a time does: "opened all five gotta run"."""
    last = piece.end if deed is None else max([deed[1], *(n + 1 for n in trees_of(piece, spotter))])
    found = spotter.spans("AHEAD", piece.start, piece.end)
    return any(start < last or spotter.words[start] in ("later", "soon", "please", "pls") for start, _, _ in found)


def is_of_a_time_ahead(piece: Piece, spotter: Spotter) -> bool:
    """Whether the times it names can only lie ahead."""
    return any(one.future and not (one.past or one.told or one.is_today) for one in moments_of(piece, spotter))


def is_unsure(piece: Piece, spotter: Spotter) -> bool:
    """Whether a word doubts, jokes, supposes, puts right, or speaks of what is another's."""
    doubts = spotter.apart(piece.start, piece.end, *UNSURE, by=("SURE_OF_IT", "GROUPED"))
    return piece.is_asked or bool(doubts)


def is_refusal(piece: Piece, spotter: Spotter) -> bool:
    """ "No", "nope" and nothing else between two stops."""
    return bool(spotter.spans("NAY", piece.start, piece.end)) and piece.end - piece.start == 1


def is_regretted(piece: Piece, deed: Span, spotter: Spotter) -> bool:
    """ "I should have done porch": what was to be done and was not."""
    return any(end <= deed[0] for _, end, _ in spotter.spans("REGRET", piece.start, piece.end)) and (
        bool({"have", "'ve", "supposed", "meant", "wanted"} & set(spotter.words[piece.start : deed[0]]))
    )


def is_infinitive(deed: Span, spotter: Spotter) -> bool:
    """ "Ok to open": the word before it makes a wish of it."""
    return spotter.words[max(0, deed[0] - 1)] == "to" and deed[0] > 0


def is_subordinate(piece: Piece, deed: Span, spotter: Spotter) -> bool:
    """ "Before I closed porch": what hangs on another clause."""
    return bool(UNLESS & set(spotter.words[piece.start : deed[0]])) or piece.joined_by in BECAUSE


UNLESS: Final = frozenset(("before", "until", "till", "when", "once", "whenever", "while", "whilst"))


BECAUSE: Final = frozenset(("because", "cos", "cuz"))


def was_so(piece: Piece, deed: Span, spotter: Spotter) -> bool:
    """ "Bench was shut": how it stood, and no word when or by whom it was done."""
    words = spotter.words[piece.start : deed[0]]
    return bool({"was", "were"} & set(words)) and not any(w[0] == "#" for w in spotter.words[piece.start : piece.end])


def is_closed(piece: Piece, deed: Span, spotter: Spotter, *, answers: bool) -> bool:
    """Whether every word is known; of what `answers` an open ask, from the subject to the last tree.

    "Closed the gate by porch" is of a gate. Who was asked to close porch and says "closed porch with my coat over my
    pyjamas" has closed it; told unasked, the words that hang on behind may make another matter of it.
    """
    known = known_words(piece, spotter)
    if _excepts(piece, spotter):
        return False
    if not answers:
        return all(n in known for n in range(piece.start, piece.end))
    last = max([deed[1], *(n + 1 for n in trees_of(piece, spotter)), *groups_end(piece, spotter)])
    done_with = deed[2][0].name == DONE and spotter.words[deed[1] : deed[1] + 1] == ["with"]  # "all done with work"
    if done_with or any(n not in known for n in range(_subject(piece, deed, spotter), last)):
        return False
    tail = next((n for n in range(last, piece.end) if n not in known), piece.end)
    said_after = [spotter.words[n] for n in range(last, piece.end) if n not in known]
    dated = any(word[0].isdigit() or word in DATES for word in said_after)
    dated |= tail < piece.end and "since" in spotter.words[max(last, tail - 2) : tail]
    if dated or (said_after and deed[2][0].name in COVERING):
        return False  # "wrapped kaki in 2024", "the wall is covered in ivy"
    before = tail
    while before > last and spotter.words[before - 1] in grammar().words("DET"):
        before -= 1  # "in my pyjamas"
    hangs = [at for at, _, _ in spotter.spans("HANGING", last, tail + 1) if before - 1 <= at <= tail]
    ahead = last == deed[1] and any(spotter.words[at] in WHENEVER for at in hangs)
    follows = (
        last == deed[1] and spotter.words[last : last + 1] != [] and spotter.words[last] not in grammar().words("DET")
    )
    return tail == piece.end or (not ahead and (follows or bool(hangs)))


COVERING: Final = (COVERED, UNCOVERED, "wrapped", "stripped")


DATES: Final = frozenset((*MONTHS, "christmas", "boxing", "easter", "halloween", "thanksgiving"))


WHENEVER: Final = frozenset(("when", "once", "after", "as", "by", "until"))  # "porch closed when the kids are asleep"


def _excepts(piece: Piece, spotter: Spotter) -> bool:
    """Whether something is left out that is no tree's name we know."""
    said = [n for n in range(piece.start, piece.end) if spotter.words[n] in ("except", "bar", "besides", "minus")]
    return any(not any(a <= n < b for a, b, _ in spotter.spans("EXCEPT", piece.start, piece.end)) for n in said)


def _subject(piece: Piece, deed: Span, spotter: Spotter) -> int:
    """Where the clause of the deed begins: at whoever did it, where words of another matter stand before him."""
    own = ("i", "we", "i've", "we've", "ive", "she", "he")
    before = [n for n in range(piece.start, deed[0]) if spotter.words[n] in own or spotter.words[n][0] == "&"]
    return before[-1] if before else piece.start


def all_known(piece: Piece, spotter: Spotter, *more: str, only: tuple[str, ...] = ()) -> bool:
    """Whether a piece holds no word beyond those known of deeds and what more is named, or beyond `only` some."""
    known, more = (set(), only) if only else (known_words(piece, spotter), more)
    known.update(n for name in more for a, b, _ in spotter.spans(name, piece.start, piece.end) for n in range(a, b))
    return all(n in known or spotter.words[n][0] in "%~" for n in range(piece.start, piece.end))


def known_words(piece: Piece, spotter: Spotter) -> set[int]:
    known = {n for n in range(piece.start, piece.end) if spotter.words[n][0] in "@#&,:"}
    for name in (*KNOWN, "DENIED", "LEAVING", "SOME_OF", "NOT_DENYING", "SURE_OF_IT", "GROUPED", "THOSE"):
        for start, end, _ in spotter.spans(name, piece.start, piece.end):
            known.update(range(start, end))
    return known
