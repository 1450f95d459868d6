"""Whether a deed told now stands on record already: the same answer twice, or by two people, is one record."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Final

from bot.logbook import Nudge, NudgeState
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind

# who closes a cover has wrapped it, and so on: the deeds that answer an ask
ANSWERS_TO: Final = {
    DeedKind.WRAPPED: (DeedKind.WRAPPED, DeedKind.CLOSED, DeedKind.VENTED),
    DeedKind.CLOSED: (DeedKind.CLOSED, DeedKind.WRAPPED),
    DeedKind.VENTED: (DeedKind.VENTED, DeedKind.STRIPPED),
    DeedKind.STRIPPED: (DeedKind.STRIPPED,),
    DeedKind.BLANKETED: (DeedKind.BLANKETED, DeedKind.WRAPPED, DeedKind.CLOSED, DeedKind.VENTED),
}
# how a cover may stand for a deed to be still true of it
STILL_TRUE: Final = {
    DeedKind.WRAPPED: (CoverState.VENTED, CoverState.CLOSED),
    DeedKind.CLOSED: (CoverState.CLOSED,),
    DeedKind.VENTED: (CoverState.VENTED,),
    DeedKind.STRIPPED: (CoverState.BARE,),
    DeedKind.BLANKETED: (CoverState.BARE, CoverState.VENTED, CoverState.CLOSED),
}
SAME_WITHIN: Final = timedelta(hours=12)  # a deed told again within it is the one told before; assumed, no source
SAME_MOMENT: Final = timedelta(minutes=1)


def said_before(told: Sequence[Deed], deed: Deed, asked: Nudge | None, *, is_dated: bool) -> Deed | None:
    """The deed on record that `deed` only says again; None where it is news.

    Parameters
    ----------
    told
        All deeds on record, oldest first.
    asked
        The nudge that `deed` answers. Of one that is settled, whatever answered it since it was opened is the answer:
        a late tap on a second phone says nothing of how the cover stands now.
    is_dated
        Whether a time was said with it: then only the same time is the same deed.
    """
    here = [one for one in told if one.tree == deed.tree and one.at_utc <= deed.at_utc]
    if is_dated:
        return next((one for one in here if one.kind is deed.kind and deed.at_utc - one.at_utc < SAME_MOMENT), None)
    if asked is not None and asked.state is not NudgeState.OPEN:
        answers = ANSWERS_TO[DeedKind(asked.ask)]
        return next((one for one in here if one.kind in answers and one.at_utc >= asked.opened_utc), None)
    at = next((i for i in reversed(range(len(here))) if here[i].kind is deed.kind), None)
    if at is None or deed.at_utc - here[at].at_utc >= SAME_WITHIN:
        return None
    still = all(one.state in STILL_TRUE[deed.kind] for one in here[at:])
    return here[at] if still else None
