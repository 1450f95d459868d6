"""What a clause tells of an absence: from when, until when, and whether all of the garden's people go."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Final

from bot.replies.clause import Clause
from bot.replies.grammar import somebody_else
from bot.replies.grammar.recogniser import chart_of
from bot.replies.nouns import Context, Meaning
from bot.replies.words.times import PART_HOURS, Moment

_BESIDE_TIMES: Final = frozenset((
    "the", "on", "next", "this", "by", "again", "late", "early", "in", "at", "around", "about", "come", "following",
    "only",
))  # fmt: skip
_UNTIL: Final = frozenset(
    ("until", "till", "til", "to", "thru", "through", "-", "back", "home", "return", "returning", "before")
)
_NO_JOURNEY: Final = frozenset(("bed", "garden", "shop", "shops", "store", "shed", "house", "bath", "bathroom", "pub"))
_WE: Final = frozenset(("we", "we're", "we'll", "we've"))
PAIR: Final = 2
SHORTEST: Final = timedelta(hours=6)  # no source


def read_absence(meaning: Meaning, clause: Clause, context: Context) -> Meaning | None:
    """From when until when who writes is away, or all of the garden; None where it is over, or somebody else's."""
    begins, end = _absence(clause, context)
    if clause.tells == "quiet":
        end = end if clause.has("until") else _end_of_day(clause, context)
        return replace(meaning, trees=(), until_utc=end) if end is not None else None
    if _is_over(clause, end) or not somebody_else().isdisjoint(clause.words[:3]):
        return None
    if not _NO_JOURNEY.isdisjoint(clause.words) or (end is not None and end - context.now < SHORTEST):
        return None  # "off to the pub until 10"
    if begins is not None and end is not None and end <= begins:
        return None
    chart = chart_of(tuple(clause.marked.words))
    both = len(context.people) == PAIR and not _WE.isdisjoint(clause.words)  # "we're away", where two live
    together = both or any(chart.name_at("TOGETHER", at) for at in chart.may_begin("TOGETHER"))
    apart = any(word[0] == "&" and then == "leaves" for word, then in pairwise(clause.marked.words))
    everyone = "everyone" if together and not apart and "not" not in clause.marked.words else ""
    return replace(meaning, trees=(), at_utc=begins, until_utc=end, text=everyone)


def _end_of_day(clause: Clause, context: Context) -> datetime | None:
    """ "No more messages tonight": the next morning; None where another day is named."""
    if clause.moment is None or not (clause.moment.is_today or clause.moment.is_tonight):
        return None
    morning = context.local_now.replace(hour=PART_HOURS["dawn"], minute=0, second=0, microsecond=0)
    morning += timedelta(days=morning <= context.local_now)
    return morning.astimezone(UTC)


def _is_over(clause: Clause, end: datetime | None) -> bool:
    """ "Home now", "I was away until Friday"."""
    words = set(clause.words)
    return bool({"was", "were", "been", "since"} & words) or (bool({"home", "back"} & words) and end is None)


def _absence(clause: Clause, context: Context) -> tuple[datetime | None, datetime | None]:
    """From when somebody is away, where that is a day to come, and until when; None is now, or unsaid.

    "Away thurs to sun" and "from friday, home again on wednesday" name both; "for a week from sunday" its length.
    """
    roles = [
        (_role(n, one, clause), one, n)
        for n, word in enumerate(clause.words)
        if word[0] == "#" and (one := clause.marked.moment_of(word)).future
    ]
    if clause.tells == "quiet":
        return None, max((one.future[0] for _, one, _ in roles), default=None)
    ends = [one.future[0] for role, one, _ in roles if role == "until"]
    starts = [(one.future[0], role, n) for role, one, n in roles if role in ("from", "")]
    lasts = [one.future[0] - context.now for role, one, _ in roles if role == "for"]
    if roles and roles[0][0] == "until" and not any(role == "from" for _, role, _ in starts):
        starts = []  # "till friday evening"
    begins = starts[0][0] if starts else None
    if not ends and len(starts) > 1:
        ends = [starts[-1][0]]
    end = ends[-1] if ends else (begins or context.now) + lasts[0] if lasts else None
    if end is None and starts and starts[0][1] == "":
        end = starts[0][0] + timedelta(days=2 if "weekend" in _said(starts[0][2], clause) else 1)
    if end is not None and begins is not None and end <= begins:
        of_this = "weekend" in _said(starts[0][2], clause)  # "for the weekend, back sunday", on its saturday
        begins, end = (None, end) if of_this else (begins, end + timedelta(days=7))  # the Monday after that Friday
    later = begins is not None and begins.astimezone(context.zone).date() > context.local_now.date()
    return begins if later else None, end


def _said(at: int, clause: Clause) -> str:
    return clause.marked.moments_said[int(clause.words[at][1:])]


def _role(at: int, moment: Moment, clause: Clause) -> str:
    """What a time is of an absence: "until" its end, "from" its beginning, "for" its length."""
    before = [word for word in clause.words[max(0, at - 5) : at] if word not in _BESIDE_TIMES][-1:]
    if _UNTIL.intersection(before):
        return "until"
    return "for" if moment.is_duration else "from" if before == ["from"] else ""
