"""A meaning becomes a record: deeds, readings, sightings, refusals; and undo takes them back."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from bot.answers.exchange import Exchange
from bot.answers.said_before import ANSWERS_TO, said_before
from bot.logbook import (
    Batch,
    Nudge,
    NudgeState,
    Refusal,
    SendState,
    Source,
    enqueue,
    last_said,
    messages_of_nudge,
    note_entry,
    note_to_fetch,
    nudge_by_id,
    open_nudges,
    read_refusals,
    records_of_update,
    reopen_nudges,
    settle_nudge,
    undo,
)
from bot.messages import IncomingKind, OnUnknown, Outgoing
from bot.replies import DEEDS, Meaning
from bot.rounds.gathering import LATER
from bot.wording.covers.words import do_words, done_label, has_top
from bot.wording.formats import sentence
from rules.garden.condition import ConditionKind
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Reading, Sighting, state_now
from rules.garden.season_records import Photo

STATE_AFTER = {
    DeedKind.VENTED: CoverState.VENTED,
    DeedKind.CLOSED: CoverState.CLOSED,
    DeedKind.STRIPPED: CoverState.BARE,
    DeedKind.BLANKETED: CoverState.BARE,  # over a bare tree; a cover that is on stands as it stood
}
UNDOES_DEEDS = (
    ConditionKind.LAYER_OFF, ConditionKind.TOP_GONE, ConditionKind.TOP_OPEN, ConditionKind.NOT_ON,
)  # fmt: skip
ASK_AGAIN = timedelta(hours=1)  # "later" without a time; assumed, no source


def source_of(exchange: Exchange) -> Source:
    """Who said it, where, in which update."""
    return Source(
        garden=exchange.garden.name,
        person=exchange.incoming.person,
        person_id=exchange.incoming.person_id,
        update_id=exchange.incoming.update_id,
        noted_utc=exchange.heard_utc,
    )


@dataclass(frozen=True, kw_only=True)
class DeedsTold:
    """What became of the deeds of one kind.

    `noted` are new, `again` stood on record already. At the trees of `top_unsaid` nobody said how the top stands after
    the wrap: it is taken as open, the colder, until somebody does.
    """

    kind: DeedKind
    noted: Sequence[Deed] = ()
    again: Sequence[Deed] = ()
    top_unsaid: Sequence[str] = ()


def note_deeds(exchange: Exchange, meaning: Meaning) -> DeedsTold:
    """The deeds of one meaning, noted where they are news; `settle_done` settles what they answer."""
    kind = DEEDS[meaning.verb]
    at = min(meaning.at_utc or exchange.now, exchange.now)
    asked = nudge_answered(exchange, meaning)
    noted, again, unsaid = [], [], []
    for tree in meaning.trees:
        told_top = STATE_AFTER.get(meaning.top) if meaning.top else None
        state = told_top or _state_after(exchange, kind, tree, at, asked)
        deed = Deed(tree=tree, kind=kind, state=state or CoverState.VENTED, at_utc=at)
        before = said_before(_still_told(exchange, tree), deed, asked, is_dated=meaning.at_utc is not None)
        if before is not None:
            again.append(before)
            continue
        note_entry(exchange.c, source_of(exchange), deed)
        noted.append(deed)
        unsaid += [tree] if state is None else []
    return DeedsTold(kind=kind, noted=noted, again=again, top_unsaid=unsaid)


def _still_told(exchange: Exchange, tree: str) -> list[Deed]:
    """The deeds at a tree since something last befell its cover: what was done before it may be done anew."""
    changed = [one.at_utc for one in exchange.records.conditions if one.tree == tree and one.kind in UNDOES_DEEDS]
    return [deed for deed in exchange.records.deeds if deed.tree == tree and all(deed.at_utc > at for at in changed)]


def settle_done(exchange: Exchange, told: Sequence[DeedsTold]) -> None:
    """Settle for everyone what the deeds of one reply answer: one nudge may ask for trees that are told one by one."""
    for kind in dict.fromkeys(one.kind for one in told):
        deeds = [deed for one in told if one.kind is kind for deed in (*one.noted, *one.again)]
        standing = [deed.tree for deed in deeds if later_deed(exchange, deed) is None]
        did = done_label(kind, standing, exchange.covers).lower()
        settle_answered(exchange, standing, kind, f"{did} by {exchange.incoming.person}")


def nudge_answered(exchange: Exchange, meaning: Meaning) -> Nudge | None:
    """The nudge of this garden that a meaning answers, open or not."""
    key = meaning.ask_key or ""
    return nudge_by_id(exchange.c, exchange.garden.name, int(key[1:])) if key[1:].isdigit() else None


def later_deed(exchange: Exchange, deed: Deed) -> Deed | None:
    """The last deed at the same tree that was told before and happened after; None where this one is how it stands."""
    later = [one for one in exchange.records.deeds if one.tree == deed.tree and one.at_utc > deed.at_utc]
    return later[-1] if later else None


def _state_after(
    exchange: Exchange, kind: DeedKind, tree: str, at: datetime, answered: Nudge | None
) -> CoverState | None:
    """How the cover stands after a deed; a wrap told of a cover that is on leaves its top as it is.

    A wrap that was asked for is as it was asked: in the message whose button was tapped, else in all that ask for it.
    None where nobody said anything of the top, or two said different things.
    """
    if kind != DeedKind.WRAPPED:
        return STATE_AFTER[kind]
    if not has_top(exchange.covers.get(tree)):
        return CoverState.CLOSED
    before = state_now(exchange.records, tree, at)
    if before in (CoverState.VENTED, CoverState.CLOSED):
        return before
    own = [answered] if answered is not None and answered.ask == kind else []
    open_now = [n for n in open_nudges(exchange.c, exchange.garden.name) if n.ask == kind and tree in n.trees]
    is_tapped = exchange.incoming.kind is IncomingKind.TAP
    told = {_as_asked(exchange, one, tree) for one in (own if is_tapped and own else open_now or own)}
    return told.pop() if len(told) == 1 else None


def _as_asked(exchange: Exchange, asked: Nudge, tree: str) -> CoverState | None:
    """How a wrap was asked for; of a nudge that does not tell, how the last look ahead asks for it."""
    told = json.loads(asked.numbers).get("stands", {}).get(tree)
    if told is not None:
        return CoverState(told)
    seen = exchange.look()
    acts = [act.state for act in seen.acts if act.tree == tree and act.kind == asked.ask] if seen else []
    return acts[0] if acts else None


def reading_told(exchange: Exchange, meaning: Meaning) -> Reading:
    """A thermometer reading as it was told, not yet noted."""
    if meaning.air_c is None:
        raise ValueError("a reading needs a temperature, got none")
    return Reading(
        tree=meaning.trees[0],
        air_c=meaning.air_c,
        at_utc=min(meaning.at_utc or exchange.now, exchange.now),
        place=meaning.place,
        is_minimum=meaning.is_minimum,
    )


def note_sightings(exchange: Exchange, meaning: Meaning) -> list[Sighting]:
    """What was seen on each tree, noted."""
    if meaning.sight is None:
        raise ValueError("a sighting needs what was seen, got none")
    at = min(meaning.at_utc or exchange.now, exchange.now)
    seen = [Sighting(tree=tree, sight=meaning.sight, at_utc=at) for tree in meaning.trees]
    for sighting in seen:
        note_entry(exchange.c, source_of(exchange), sighting)
    return seen


def note_refusal(exchange: Exchange, meaning: Meaning, *, later: bool) -> datetime:
    """Until when nothing is asked for these trees: "can't" to the end of the day's night, "later" to its time."""
    until = meaning.until_utc or (exchange.now + ASK_AGAIN if later else _next_noon(exchange))
    standing = {
        (one.tree, one.ask, one.until_utc) for one in read_refusals(exchange.c, exchange.garden.name, exchange.now)
    }
    for tree in meaning.trees:
        refusal = Refusal(tree=tree, ask=LATER if later else "cannot", at_utc=exchange.now, until_utc=until)
        if (refusal.tree, refusal.ask, refusal.until_utc) not in standing:  # a second tap says nothing new
            note_entry(exchange.c, source_of(exchange), refusal)
    if not later:
        settle_answered(exchange, meaning.trees, None, f"can't, says {exchange.incoming.person}")
    return until


def _next_noon(exchange: Exchange) -> datetime:
    local = exchange.now.astimezone(exchange.garden.site.zone)
    return datetime.combine(local.date() + timedelta(days=1), time(12), exchange.garden.site.zone)


def settle_answered(exchange: Exchange, trees: Sequence[str], verb: DeedKind | None, words: str) -> None:
    """Settle the open nudges all of whose trees are now answered for, and say so in the message itself."""
    for nudge in open_nudges(exchange.c, exchange.garden.name):
        if not nudge.ask:  # news of jobs is answered by what is said of jobs
            continue
        fits = verb is None or verb in ANSWERS_TO[DeedKind(nudge.ask)]
        rest = [tree for tree in nudge.trees if tree not in trees and not _tended_since(exchange, tree, nudge)]
        if fits and not rest and settle_by(exchange, nudge):
            asked = do_words(DeedKind(nudge.ask), nudge.trees, exchange.covers)
            close_messages(exchange, nudge, asked, words)


def settle_by(exchange: Exchange, nudge: Nudge) -> bool:
    """Whether what was said just now is the answer that settles a nudge."""
    said = exchange.incoming
    answered = NudgeState.ANSWERED
    return settle_nudge(exchange.c, nudge.key, answered, said.person, exchange.now, said.update_id, said.person_id)


def _tended_since(exchange: Exchange, tree: str, nudge: Nudge) -> bool:
    answers = ANSWERS_TO[DeedKind(nudge.ask)]
    return any(d.tree == tree and d.kind in answers and d.at_utc >= nudge.opened_utc for d in exchange.records.deeds)


def close_messages(exchange: Exchange, nudge: Nudge, asked: str, words: str) -> None:
    """Edit the nudge in every chat to its settled state, without buttons."""
    for message in messages_of_nudge(exchange.c, nudge.key):
        # who answers at once may be quicker than the messenger's answer to us: the edit waits its turn in that chat
        if message.message_id is not None or message.state is SendState.SENDING:
            settled = Outgoing(
                key=f"settled:{message.key}:{exchange.incoming.update_id}",
                chat_id=message.chat_id,
                text=f"Settled: {asked}. {sentence(words).rstrip('.')} at {exchange.style.clock(exchange.now)}.",
                due_utc=exchange.heard_utc,
                expires_utc=exchange.heard_utc + timedelta(hours=12),
                silent=True,
                on_unknown=OnUnknown.HOLD,
                edits=message.key,
            )
            enqueue(exchange.c, settled, exchange.garden.name)


def take_back(exchange: Exchange, update_id: int | None = None) -> Batch | None:
    """The last reply's records taken back, or those of one reply; None where there is nothing to undo."""
    if update_id is None:
        found = last_said(exchange.c, exchange.garden.name)
    else:
        found = records_of_update(exchange.c, exchange.garden.name, update_id)
    if found is None:
        return None
    undo(exchange.c, exchange.garden.name, found.record_ids, exchange.now)
    if any(isinstance(entry, Photo) for entry in found.entries):
        note_to_fetch(exchange.c, exchange.garden.name)  # the door puts its file away
    if found.update_id is not None:
        reopen_nudges(exchange.c, exchange.garden.name, found.update_id)
    return found
