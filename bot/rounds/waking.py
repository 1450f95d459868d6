"""Who wants to be woken, and what could be done tonight in the dark: shut a cap that stands open."""

import json
from collections.abc import Iterator
from datetime import datetime

from bot.logbook import Connection, Person, note_state, read_state, read_states
from bot.rounds.presence import listeners
from bot.wording.formats import Style
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from rules.outlook.garden_outlook import Outlook
from rules.plan.garden_plan import Act, Reason
from rules.wood.margins import TreeMargins


def note_wake(c: Connection, person: Person, *, wakes: bool) -> None:
    """This chat may be woken in the quiet hours when the worst threatens, or not any more."""
    note_state(c, person.garden, f"wake {person.chat_id}", json.dumps(wakes))


def may_wake(c: Connection, person: Person) -> bool:
    """Whether this chat asked to be woken."""
    return json.loads(read_state(c, person.garden, f"wake {person.chat_id}") or "false") is True


def wakeable(c: Connection, garden: str, now: datetime) -> list[Person]:
    """Those among the listeners who asked to be woken."""
    people = listeners(c, garden, now)
    kept = read_states(c, garden, [f"wake {one.chat_id}" for one in people])
    return [one for one in people if json.loads(kept.get(f"wake {one.chat_id}", "false")) is True]


def threats_tonight(outlook: Outlook, style: Style) -> list[Act]:
    """A closing for each tree whose cap stands open, with its chance of harm as it stands and if it were shut."""
    return [act for one in outlook.trees for act in _threat(one, outlook, style)]


def _threat(one: TreeMargins, outlook: Outlook, style: Style) -> Iterator[Act]:
    if one.cover is None or one.tree.left_bare or one.state is not CoverState.VENTED or not one.nights:
        return
    night = one.night_of(style.evening(outlook.now))
    if not {CoverState.VENTED, CoverState.CLOSED} <= set(night.tissue):
        return
    stands, shut = night.tissue[CoverState.VENTED], night.tissue[CoverState.CLOSED]
    yield Act(
        tree=one.tree.name, kind=DeedKind.CLOSED, state=CoverState.CLOSED, reason=Reason.COLD, night=night.evening,
        from_utc=outlook.now, by_utc=night.lowest_utc, minutes=one.cover.minutes_to_close, chance=stands.chance,
        chance_after=shut.chance, saves_trips=(stands.lost - shut.lost) * one.tree.worth_trips, price_trips=1.0,
    )  # fmt: skip
