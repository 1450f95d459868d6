"""Who is away, and who is back."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Final

from bot.replies.clause import Clause
from bot.replies.cues.deeds import (
    all_known,
    is_denied,
)
from bot.replies.cues.named import moments_of, trees_of
from bot.replies.cues.pieces import Piece
from bot.replies.cues.spotting import Spotter
from bot.replies.cues.told import MAYBE, TALK, Told
from bot.replies.grammar import grammar, somebody_else
from bot.replies.nouns import Context
from bot.replies.words.times import Moment

SHORTEST_ABSENCE: Final = timedelta(hours=10)  # no source


def away(piece: Piece, spotter: Spotter, context: Context) -> Told | None:
    at = piece.start, piece.end
    ahead = any(_is_far_ahead(one, context) for one in moments_of(piece, spotter))
    named = bool(trees_of(piece, spotter))
    deeds = [one for one in spotter.deeds(*at) if not spotter.spans("BACK_ON", one[0], one[1])]
    likes = spotter.spans("AWAY_LIKE", *at)
    like = bool(likes) and spotter.has(*at, "UNTIL_WHEN") and not spotter.has(*at, "AWAY_ON")
    others = spotter.apart(*at, *NO_ABSENCE, by=("AWAY_LIKE",))
    gone = (like or spotter.has(*at, "AWAY_ON")) and not (deeds or others)
    first = min([start for start, _, _ in (*likes, *spotter.spans("AWAY_ON", *at))], default=piece.end)
    of_us = all_known(replace(piece, end=first), spotter, "AHEAD", "UNTIL", "FOR_US")  # "the cat's been away" is not
    led = spotter.words[piece.start : first]
    of_another = any(word[0] == "&" for word in led) and grammar().words("I").isdisjoint(led)  # "juniper is away"
    of_tree = not piece.joined_by and piece.start > 0 and spotter.words[piece.start - 1][0] == "@"
    if (
        of_another
        or of_tree  # "wall fig I'm leaving another week"
        or (is_denied(piece, spotter) and not spotter.has(*at, "NOT_THEN"))
        or not gone
        or not of_us
        or not ahead
        or named
        or piece.is_asked
        or spotter.has(*at, "DOUBTED", "SUPPOSED", "NO_MORE_AWAY")
        or not somebody_else().isdisjoint(spotter.words[piece.start : first])  # my wife is away
    ):
        return None
    several = sum(bool(one.future) for one in moments_of(piece, spotter)) > 1
    return "away" + MAYBE * (bool(likes) and not several and not spotter.has(*at, "AWAY_SURE")), []


def back(piece: Piece, spotter: Spotter) -> Told | None:
    """ "We're back!", "trip's off": nothing else in the piece."""
    spans = spotter.spans("BACK_HOME", piece.start, piece.end)
    whole = any((start, end) == (piece.start, piece.end) for start, end, _ in spans)
    return ("back", []) if whole and not piece.is_asked else None


def prolonged(told: Sequence[Clause]) -> list[Clause]:
    """ "… from friday, and home again on wednesday": the end of an absence told before."""
    kept: list[Clause] = []
    for one in told:
        away = next((n for n, other in enumerate(kept) if other.tells.removesuffix(MAYBE) == "away"), None)
        times = [one.marked.moment_of(word) for word in one.words if word[0] == "#"]
        returns = _RETURNING.intersection(one.words) and any(time.future for time in times)
        if away is not None and returns and one.tells.removesuffix(MAYBE) in (TALK, "away", "later"):
            kept = [*kept[:away], replace(kept[away], tells="away", end=one.end)]
        else:
            kept.append(one)
    return kept


_RETURNING: Final = frozenset(("back", "home", "return", "returning"))


NO_ABSENCE: Final = ("LIDS", "COVERS", "WISHED", "LEAVES", "FILL", "ROOM")


def _is_far_ahead(moment: Moment, context: Context) -> bool:
    """Whether it is another day's: nobody goes away for an hour."""
    return bool(moment.future) and not moment.is_tonight and moment.future[0] - context.now > SHORTEST_ABSENCE
