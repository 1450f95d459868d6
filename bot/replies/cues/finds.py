"""What was found or measured, bought or moved, by the cues of a piece."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from bot.replies.clause import Clause
from bot.replies.cues.deeds import UNLESS, all_known, is_ahead, is_denied, is_unsure
from bot.replies.cues.named import first_list, is_bare_place, trees_of
from bot.replies.cues.pieces import Piece
from bot.replies.cues.spotting import Spotter
from bot.replies.cues.told import ASK, MAYBE, TALK, Told
from bot.replies.grammar import grammar
from bot.replies.grammar.recogniser import Kept
from bot.replies.learned.clauses import HARM, kinds_told, tells_surely
from bot.replies.learned.harm import is_gone, is_none_there

WITNESSED: Final = 0.5  # that words which hold one for mice or mould tell of them; else it is asked; no source
IN_DOUBT: Final = ("SUPPOSED", "DOUBTED", "HEARD_OF")


def damage(piece: Piece, spotter: Spotter) -> Told | None:
    """What befell a cover or its tree."""
    befell = _befell(piece, spotter)
    if befell is None:
        return None
    others = befell != "cap_off" and spotter.has(piece.start, piece.end, "OTHERS")  # a cap lies in others' gardens
    if others or is_denied(piece, spotter) or piece.is_asked or is_none_there(_words(piece, spotter)):
        return TALK, []
    harm, right_again, fine = _likely_befell(piece, spotter)
    if fine > max(harm, right_again):
        return TALK, []  # "kaki is free of mice"
    is_over = (
        spotter.has(piece.start, piece.end, "CLEARED_OUT") or right_again > harm or is_gone(_words(piece, spotter))
    )
    witnessed = befell == "off" or harm + right_again >= WITNESSED  # of a layer that is off nothing is learned
    unsure = _is_unsure(piece, spotter) or not witnessed
    mended = [Kept("mended", piece.start, piece.end)] * is_over
    return "damage" + MAYBE * unsure, [Kept(befell, piece.start, piece.end), *mended]


def _likely_befell(piece: Piece, spotter: Spotter) -> tuple[float, float, float]:
    """How likely it is that something befell, was put right, or was looked for and not found, by what is learned."""
    chances = dict(kinds_told(spotter.marked, piece.start, piece.end))
    return sum(chances.get(one, 0.0) for one in HARM), chances.get("mended", 0.0), chances.get("fine", 0.0)


def _is_unsure(piece: Piece, spotter: Spotter) -> bool:
    """Whether it is supposed or heard of, or may be of the house wall."""
    elsewhere = not trees_of(piece, spotter) and _is_elsewhere(piece, spotter)  # "mould in the bathroom"
    either = "or" in _words(piece, spotter)  # "mould or only frost"
    return either or spotter.has(piece.start, piece.end, *IN_DOUBT) or is_bare_place(piece, spotter) or elsewhere


def _befell(piece: Piece, spotter: Spotter) -> str | None:
    at = piece.start, piece.end
    has = spotter.has
    blown = has(*at, "BLOWN") and not has(*at, "OFF_A_ROOF")
    if has(*at, "LIDS") and blown and (has(*at, "AGENT") or not has(*at, "TOOK", "I")):
        return "cap_off"
    if has(*at, "LID_ASTRAY"):
        return "cap_off"
    if has(*at, "TAKEN_OUT") or any(end == piece.end for _, end, _ in spotter.spans("STREWN", *at)):
        return "off"
    if has(*at, "PESTS") and {"ears", "guard", "guards"}.isdisjoint(spotter.words[piece.start : piece.end]):
        return "pests"
    if has(*at, "MOULD") and not (has(*at, "LIDS") and has(*at, "ROTTED")):
        return "mould"
    if has(*at, "BRANCH") and has(*at, "BROKEN") and not has(*at, "BARK_GREEN", "BARK_BROWN"):
        return "branch"
    named = bool(trees_of(piece, spotter))
    if (has(*at, "TEAR") and has(*at, "COVERS" if named else "FILMS")) or (
        has(*at, "CRACKED") and has(*at, "LIDS") and not has(*at, "OPENED_BY")
    ):
        return "torn"
    if has(*at, "SOAKED") and has(*at, "FILL", "COVERS"):
        return "wet"
    if has(*at, "SUNKEN") and has(*at, "FILL"):
        return "sunk"
    if has(*at, "COVERS") and blown and has(*at, "AGENT"):
        return "off"
    return None


def seen(piece: Piece, spotter: Spotter) -> Told | None:
    """What was seen of a tree itself."""
    sight = _sight(piece, spotter)
    if sight is None:
        return None
    if is_denied(piece, spotter) or spotter.has(piece.start, piece.end, *IN_DOUBT) or piece.is_asked:
        return TALK, []
    if sight == "scratch_test":
        return "job", [Kept("done_job", piece.start, piece.end), Kept("scratch_test", piece.start, piece.end)]
    return sight, [Kept(sight, piece.start, piece.end)]


def _sight(piece: Piece, spotter: Spotter) -> str | None:
    at = piece.start, piece.end
    has = spotter.has
    if {"they", "he", "she"} & set(_words(piece, spotter)):
        return None  # of another's tree
    if has(*at, "SCRATCHED") and has(0, len(spotter.words), "BARK_GREEN", "BARK_BROWN"):
        return "scratch_test"
    if has(*at, "UNFURLED"):
        return "leafed"
    if has(*at, "BUDDING") or (has(*at, "BUDS") and has(*at, "SWOLLEN")):
        return "swelling"
    if has(*at, "BUDS") and has(*at, "SPOILED"):
        return "frozen_green"
    if not has(*at, "LEAVES") or has(*at, "SWEPT"):
        return None
    names = {"frozen_green": "SPOILED", "dropped": "FALLEN", "yellow": "YELLOWED"}
    return next((sight for sight, cue in names.items() if has(*at, cue)), None)


def stock(piece: Piece, spotter: Spotter) -> Told | None:
    """What was bought, or has run out."""
    supply = spotter.spans("SUPPLY", piece.start, piece.end)
    if not supply or is_ahead(piece, spotter) or is_unsure(piece, spotter):
        return None
    is_what = Kept("supply", supply[0][0], supply[0][1])
    if spotter.has(piece.start, piece.end, "RUN_OUT"):
        named = bool(trees_of(piece, spotter))
        sure = all_known(replace(piece, end=supply[0][0]), spotter, "RUN_OUT", "BOUGHT", "NUM")
        of_tree = named and spotter.words[max(0, supply[0][0] - 3) : supply[0][0] - 1] != ["last", "of"]
        return None if of_tree else ("stock" + MAYBE * (not sure), [Kept("none", piece.start, piece.end), is_what])
    goods = spotter.spans("GOODS", piece.start, piece.end)
    if not spotter.has(piece.start, piece.end, "GOTW", "BOUGHT") or not goods or is_denied(piece, spotter):
        return None
    return "bought", list(goods[0][2])


def listed(before: Clause, one: Clause, spotter: Spotter) -> Clause:
    """ "… and four balls of string": bought like what stands before it in the list."""
    goods = spotter.spans("GOODS", one.start, one.end)
    goes_on = before.tells == "bought" and one.tells == TALK and one.joined_by in (",", "and")
    if not goes_on or not goods or goods[0][0] != one.start:
        return one
    return replace(one, tells="bought", kept=goods[0][2])


def put_right(told: Sequence[Clause], one: Clause, spotter: Spotter) -> Clause:
    """ "Film has a rip, taped it", "… found the cap in a hedge, its back on": what was found is right again."""
    before = next((other for other in reversed(told) if other.tells == "damage"), None)
    if before is None or one.tells not in (TALK, "did", ASK) or one.has_targets:
        return one
    cue = "PUT_BACK" if before.has("cap_off") else "MENDED_NOW"
    spans = spotter.spans(cue, one.start, len(spotter.words))
    by_cue = any(start == one.start and end >= one.end for start, end, _ in spans)
    if not by_cue and not (tells_surely("mended", spotter.marked, one.start, one.end) and not before.has("cap_off")):
        return one
    return replace(before, start=one.start, end=one.end, kept=(*before.kept, Kept("mended", one.start, one.end)))


def moved(piece: Piece, spotter: Spotter) -> Told | None:
    """Where a tree was brought."""
    where = [one for one in spotter.spans("SHELTER", piece.start, piece.end) if one[1] - one[0] > 1]
    spoken_of = (
        spotter.sole_tree and piece.start > spotter.trees[0] and {"it", "him", "her"} & set(_words(piece, spotter))
    )
    named = bool(trees_of(piece, spotter)) or bool(spoken_of)
    stands = bool(where) and _stands_right_before(where[0][0], spotter)
    if not where or not named or not (stands or spotter.has(piece.start, piece.end, "CARRIED")):
        return None
    if is_denied(piece, spotter):
        return "not_done", []
    words = spotter.words[piece.start : piece.end]
    if "still" in words:
        return TALK, []  # where it has been all along
    if {"back", "in", "out"} <= set(words):
        return "moved" + MAYBE, [Kept("where", where[-1][0], where[-1][1])]  # "took it out and back in again"
    if is_ahead(piece, spotter):
        return "plan", []
    if is_unsure(piece, spotter):
        return TALK, []
    hangs = UNLESS.intersection(words) - {"before"} or "before" in words[: where[0][1] - piece.start]
    upto = replace(piece, end=min(where[0][1] + 1, piece.end))
    sure = all_known(upto, spotter, "MOVED", "SHELTER", "CARRIED", "HANGING") and not hangs
    return "moved" + MAYBE * (not sure), [Kept("where", where[0][0], where[0][1])]


def _words(piece: Piece, spotter: Spotter) -> Sequence[str]:
    return spotter.words[piece.start : piece.end]


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


def reading(piece: Piece, spotter: Spotter) -> Told | None:
    """What a thermometer shows, at one tree or in the open."""
    at = piece.start, piece.end
    shown = [n for n in range(*at) if spotter.words[n][0] == "%"]
    if (
        len(shown) != 1
        or is_denied(piece, spotter)
        or spotter.has(*at, "FORECAST", "SUPPOSED", "DOUBTED", "OTHERS", "JOKED", "NOT_AIR")
        or piece.is_asked
    ):
        return None
    written = spotter.marked.temperatures[int(spotter.words[shown[0]][1:])].as_written
    if not (spotter.has(*at, "SHOWN") or written[:1] in "+-−" or any(one.isalpha() or one == "°" for one in written)):
        return None  # "picked 2.5 from porch"
    if spotter.has(*at, "INSIDE_OF") and spotter.has(*at, "OUTSIDE"):
        return None  # "minus 9 outside and 1 inside": which of the two it is nobody knows
    kept = [Kept("temp", shown[0], shown[0] + 1)]
    for name, cue in (("inside", "INSIDE_OF"), ("low", "LOWW"), ("therm", "THERM")):
        kept += [Kept(name, start, end) for start, end, _ in spotter.spans(cue, *at)[:1]]
    known = all_known(piece, spotter, "R", "PLACE", "INSIDE_OF", "SHOWN")
    is_signed = written[:1] in "+-−" or written.startswith(("minus", "plus"))
    open_ended = _is_elsewhere(piece, spotter) or is_ahead(piece, spotter)
    signed = _is_of_one_list(piece, spotter) and is_signed and not open_ended
    return "reading" + MAYBE * (not (known or signed) or spotter.has(*at, "OTHER_NIGHT", "NOT_MEASURED")), kept


def _is_of_one_list(piece: Piece, spotter: Spotter) -> bool:
    trees = trees_of(piece, spotter)
    return bool(trees) and first_list(trees, spotter.words) == trees


def _is_elsewhere(piece: Piece, spotter: Spotter) -> bool:
    """Whether it names a place that is no tree's: "-18 in the freezer by the porch"."""
    words = spotter.words
    led = [
        n + 1
        for n in range(piece.start, piece.end - 1)
        if words[n] in ("in", "on", "at", "inside", "near", "says", "from")
    ]
    behind = [
        next(
            (m for m in range(n, piece.end) if words[m] not in grammar().words("DET") and words[m][0] != "&"), piece.end
        )
        for n in led
    ]
    ours = {
        n
        for cue in ("R", "INSIDE_OF", "SHOWN", "COVERS", "FILL", "LIDS", "TREEISH")
        for a, b, _ in spotter.spans(cue, *(piece.start, piece.end))
        for n in range(a, b)
    }
    return any(n < piece.end and words[n][0] not in "@#%" and n not in ours for n in behind)


def found(piece: Piece, spotter: Spotter) -> Told | None:
    """What a piece tells of what was found, bought or moved; None where it tells nothing of that."""
    tellers = (damage, seen, stock, moved, reading)
    return next((told for teller in tellers if (told := teller(piece, spotter)) is not None), None)
