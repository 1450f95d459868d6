"""Write: one nudge with its messages, its buttons, and what to beware of in the work."""

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, time
from typing import Final

from bot.logbook import (
    Connection,
    Nudge,
    NudgeState,
    enqueue,
    messages_of_nudge,
    nudge_by_key,
    open_nudge,
    settle_nudge,
)
from bot.messages import Button, OnUnknown, Outgoing
from bot.nudges import Ask, DueNudge, Stage
from bot.replies import Verb, button_data
from bot.rounds.inputs import quiet_of, style_of
from bot.rounds.presence import listeners
from bot.rounds.said_once import first_time, note_said, note_way_told, unsaid, way_told
from bot.rounds.waking import wakeable
from bot.settings import Garden
from bot.wording.covers.words import Covers, covers_of, done_label
from bot.wording.nudges import nudge_text
from bot.wording.people.tending import way_followed
from bot.wording.year.jobs import before_wrap, caution_words
from rules.garden.records import DeedKind
from rules.garden.tree import Tending
from rules.jobs import Caution, GardenFacts, Job, cautions_of, jobs_with_wrap
from rules.outlook.garden_outlook import Outlook

WayPrices = Callable[[Tending, Sequence[str]], list[str]]  # what a way costs these trees more, a line each


def no_prices(_: Tending, __: Sequence[str]) -> list[str]:
    """Where nobody can tell them."""
    return []


CAUTION_WITH_ASK: Final = 200  # letters; longer cautions follow the ask in a silent message of their own. No source


def write_nudge(
    c: Connection,
    garden: Garden,
    outlook: Outlook,
    due: DueNudge,
    round_id: int | None,
    now: datetime,
    facts: Callable[[], GardenFacts],
    prices: WayPrices = no_prices,
) -> None:
    """One nudge and its messages; a stand-down also settles what it is about."""
    row = _row(garden, due, round_id, now)
    if not open_nudge(c, row):
        return
    for settled in due.settles:
        settle_nudge(c, f"{garden.name}/{settled}", NudgeState.STOOD_DOWN, None, now)
    if due.ask is None:
        settle_nudge(c, row.key, NudgeState.ANSWERED, None, now)  # it asks for nothing
    for tree in due.trees if due.stage is Stage.LOST else ():
        first_time(c, garden, f"lost {tree}", killed_utc(outlook, tree))
    text = due.text or nudge_text(due, outlook, style_of(garden))
    before = _before_wrap(due, facts)
    text = "\n".join([text, *before_wrap(before, style_of(garden)), *_way_once(c, garden, due, outlook, prices)])
    caution = _caution_once(c, garden, due.ask, before, facts, now) if due.ask and due.stage is not Stage.WAKE else ""
    kept = nudge_by_key(c, row.key)
    buttons = _buttons(due, kept.nudge_id if kept else None, covers_of(outlook))
    if len(caution) <= CAUTION_WITH_ASK:
        send_to_all(c, garden, due, row.key, f"{text}\n{caution}".strip(), buttons, now)
        return
    send_to_all(c, garden, due, row.key, text, buttons, now)
    send_to_all(c, garden, replace(due, silent=True, edits=None), f"{row.key}:cautions", caution, (), now)


def _way_once(c: Connection, garden: Garden, due: DueNudge, outlook: Outlook, prices: WayPrices) -> list[str]:
    """What the way that asks for this costs, once: where the garden file chose it nobody was told."""
    acts = due.ask.acts if due.ask and due.stage is Stage.TODAY else ()
    asking: dict[Tending, list[str]] = {}
    for act in acts:
        tending = outlook.tree(act.tree).tree.tending
        if act.own_way and tending is not None and not way_told(c, garden, tending):
            asking.setdefault(tending, []).append(act.tree)
    told = {tending: prices(tending, trees) for tending, trees in asking.items()}
    for tending in (one for one, lines in told.items() if lines):
        note_way_told(c, garden, tending)
    return [way_followed(tending, lines) for tending, lines in told.items() if lines]


def _row(garden: Garden, due: DueNudge, round_id: int | None, now: datetime) -> Nudge:
    """A nudge as it goes on record, with the states it asks for: an answer means those."""
    numbers: dict[str, object] = {"silent": due.silent}
    if due.ask:
        stands = {act.tree: act.state.value for act in due.ask.acts}
        night = due.ask.acts[0].night.isoformat()
        chances = {act.tree: act.chance for act in due.ask.acts}
        numbers |= {"chance": due.ask.chance, "chances": chances, "night": night, "stands": stands}
    return Nudge(
        key=f"{garden.name}/{due.key}", garden=garden.name, stage=due.stage, ask=due.ask.verb if due.ask else "",
        trees=due.trees, night=due.day, opened_utc=now, expires_utc=due.expires_utc, numbers=json.dumps(numbers),
        round_id=round_id,
    )  # fmt: skip


def send_to_all(
    c: Connection, garden: Garden, due: DueNudge, key: str, text: str, buttons: tuple[Button, ...], now: datetime
) -> None:
    """One message of a nudge for each who listens, into the outbox."""
    earlier = {m.chat_id: m.key for m in messages_of_nudge(c, f"{garden.name}/{due.edits}")} if due.edits else {}
    for person in (wakeable if due.stage is Stage.WAKE else listeners)(c, garden.name, now):
        message = Outgoing(
            key=f"nudge:{key}:{person.chat_id}",
            chat_id=person.chat_id,
            text=text,
            buttons=buttons,
            due_utc=now,
            # what could not be sent by then must not ring in the night
            expires_utc=due.expires_utc if due.silent else min(due.expires_utc, quiet_of(garden).next_start(now)),
            silent=due.silent,
            on_unknown=OnUnknown.RESEND if due.ask else OnUnknown.HOLD,
            edits=earlier.get(person.chat_id),
        )
        enqueue(c, message, garden.name, key)


def _buttons(due: DueNudge, nudge_id: int | None, covers: Covers) -> tuple[Button, ...]:
    if due.ask is None or nudge_id is None:
        return ()
    return ask_buttons(due.ask.verb, f"n{nudge_id}", due.ask.trees, covers)


def ask_buttons(verb: DeedKind, key: str, trees: Sequence[str], covers: Covers) -> tuple[Button, ...]:
    """The likeliest answers to an ask, in the words of these covers."""
    return (
        Button(label=done_label(verb, trees, covers), data=button_data(Verb(verb.value), key, 0)),
        Button(label="Can't", data=button_data(Verb.CANNOT, key, 0)),
        Button(label="Why", data=button_data(Verb.WHY, key, 0)),
    )


def _before_wrap(due: DueNudge, facts: Callable[[], GardenFacts]) -> list[Job]:
    """What comes before the wrap that is asked for or announced: one visit, one message."""
    asked = due.ask if due.stage in (Stage.HEADS_UP, Stage.TODAY) else None
    return jobs_with_wrap(facts(), asked.day, asked.trees) if asked and asked.verb is DeedKind.WRAPPED else []


def _caution_once(
    c: Connection, garden: Garden, ask: Ask, before: Sequence[Job], facts: Callable[[], GardenFacts], now: datetime
) -> str:
    """What to beware of in this work and what comes before it, as far as nobody heard it yet this season."""
    meant = {*cautions_of(ask.acts, facts()), *(caution for job in before for caution in job.cautions)}
    cautions = unsaid(c, garden, [caution for caution in Caution if caution in meant], now)
    note_said(c, garden, cautions, now)
    lines = [caution_words(caution, style_of(garden)) for caution in cautions]
    return "\n".join(["Once this season:", *lines]) if lines else ""


def killed_utc(outlook: Outlook, tree: str) -> datetime:
    """When a tree was killed: it is told once in the season of that night, and is no news in the summer after it."""
    evening = outlook.tree(tree).hardiness.lost.evening
    return datetime.combine(evening, time(12), outlook.site.zone) if evening else outlook.now
