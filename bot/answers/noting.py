"""A meaning becomes a record: deeds, readings, sightings, refusals; and undo takes them back."""

from collections.abc import Sequence
from datetime import datetime, time, timedelta

from bot.answers.exchange import Exchange
from bot.logbook import (
    Batch,
    Nudge,
    NudgeState,
    Refusal,
    SendState,
    Source,
    enqueue,
    last_records,
    messages_of_nudge,
    note_cannot,
    note_deed,
    note_reading,
    note_sighting,
    note_to_fetch,
    open_nudges,
    reopen_nudges,
    settle_nudge,
    undo,
)
from bot.messages import OnUnknown, Outgoing
from bot.replies import DEEDS, Meaning
from bot.rounds.deciding import LATER
from bot.wording.answers import DONE
from bot.wording.asks import DO
from bot.wording.year.jobs import short_names
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Reading, Sighting
from rules.garden.season_records import Photo

STATE_AFTER = {
    DeedKind.VENTED: CoverState.VENTED,
    DeedKind.CLOSED: CoverState.CLOSED,
    DeedKind.STRIPPED: CoverState.BARE,
}
# who closes a cover has wrapped it, and so on: the deeds that answer an ask
ANSWERS_TO = {
    DeedKind.WRAPPED: (DeedKind.WRAPPED, DeedKind.CLOSED, DeedKind.VENTED),
    DeedKind.CLOSED: (DeedKind.CLOSED, DeedKind.WRAPPED),
    DeedKind.VENTED: (DeedKind.VENTED, DeedKind.STRIPPED),
    DeedKind.STRIPPED: (DeedKind.STRIPPED,),
}
UNDO_REACH = 10
ASK_AGAIN = timedelta(hours=1)  # "later" without a time; assumed, no source


def source_of(exchange: Exchange) -> Source:
    """Who said it, where, in which update."""
    return Source(
        garden=exchange.garden.name,
        person=exchange.incoming.person,
        update_id=exchange.incoming.update_id,
        noted_utc=exchange.heard_utc,
    )


def note_deeds(exchange: Exchange, meaning: Meaning) -> list[Deed]:
    """The deeds of one meaning, noted; the nudges they answer are settled for everyone."""
    kind = DEEDS[meaning.verb]
    at = min(meaning.at_utc or exchange.now, exchange.now)
    deeds = [Deed(tree=tree, kind=kind, state=_state_after(exchange, kind, tree), at_utc=at) for tree in meaning.trees]
    for deed in deeds:
        note_deed(exchange.c, source_of(exchange), deed)
    standing = [deed.tree for deed in deeds if later_deed(exchange, deed) is None]
    settle_answered(exchange, standing, kind, f"{DONE[kind]} by {exchange.incoming.person}")
    return deeds


def later_deed(exchange: Exchange, deed: Deed) -> Deed | None:
    """The last deed at the same tree that was told before and happened after; None where this one is how it stands."""
    later = [one for one in exchange.records.deeds if one.tree == deed.tree and one.at_utc > deed.at_utc]
    return later[-1] if later else None


def _state_after(exchange: Exchange, kind: DeedKind, tree: str) -> CoverState:
    """How the cover stands after a deed; a wrap that was asked for as it was asked, else open, which is the colder."""
    if kind != DeedKind.WRAPPED:
        return STATE_AFTER[kind]
    seen = exchange.look()
    was_asked = any(n.ask == kind and tree in n.trees for n in open_nudges(exchange.c, exchange.garden.name))
    asked = [act.state for act in seen.acts if act.tree == tree and act.kind == kind] if seen and was_asked else []
    return asked[0] if asked else CoverState.VENTED


def note_one_reading(exchange: Exchange, meaning: Meaning) -> Reading:
    """A thermometer reading, noted."""
    if meaning.air_c is None:
        raise ValueError("a reading needs a temperature, got none")
    reading = Reading(
        tree=meaning.trees[0],
        air_c=meaning.air_c,
        at_utc=min(meaning.at_utc or exchange.now, exchange.now),
        place=meaning.place,
        is_minimum=meaning.is_minimum,
    )
    note_reading(exchange.c, source_of(exchange), reading)
    return reading


def note_sightings(exchange: Exchange, meaning: Meaning) -> list[Sighting]:
    """What was seen on each tree, noted."""
    if meaning.sight is None:
        raise ValueError("a sighting needs what was seen, got none")
    at = min(meaning.at_utc or exchange.now, exchange.now)
    seen = [Sighting(tree=tree, sight=meaning.sight, at_utc=at) for tree in meaning.trees]
    for sighting in seen:
        note_sighting(exchange.c, source_of(exchange), sighting)
    return seen


def note_refusal(exchange: Exchange, meaning: Meaning, *, later: bool) -> datetime:
    """Until when nothing is asked for these trees: "can't" to the end of the day's night, "later" to its time."""
    until = meaning.until_utc or (exchange.now + ASK_AGAIN if later else _next_noon(exchange))
    for tree in meaning.trees:
        refusal = Refusal(tree=tree, ask=LATER if later else "cannot", at_utc=exchange.now, until_utc=until)
        note_cannot(exchange.c, source_of(exchange), refusal)
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
        if (
            fits
            and not rest
            and settle_nudge(
                exchange.c,
                nudge.key,
                NudgeState.ANSWERED,
                exchange.incoming.person,
                exchange.now,
                exchange.incoming.update_id,
            )
        ):
            close_messages(exchange, nudge, f"{DO[DeedKind(nudge.ask)]} {short_names(nudge.trees)}", words)


def _tended_since(exchange: Exchange, tree: str, nudge: Nudge) -> bool:
    answers = ANSWERS_TO[DeedKind(nudge.ask)]
    return any(d.tree == tree and d.kind in answers and d.at_utc >= nudge.opened_utc for d in exchange.records.deeds)


def close_messages(exchange: Exchange, nudge: Nudge, asked: str, words: str) -> None:
    """Edit the nudge in every chat to its settled state, without buttons."""
    for message in messages_of_nudge(exchange.c, nudge.key):
        # who answers at once may be quicker than the messenger's answer to us: the edit waits its turn in that chat
        if message.message_id is not None or message.state is SendState.SENDING:
            settled = Outgoing(
                key=f"settled:{nudge.key}:{message.chat_id}:{exchange.incoming.update_id}",
                chat_id=message.chat_id,
                text=f"Settled ({asked}): {words} at {exchange.style.clock(exchange.now)}.",
                due_utc=exchange.heard_utc,
                expires_utc=exchange.heard_utc + timedelta(hours=12),
                silent=True,
                on_unknown=OnUnknown.HOLD,
                edits=message.key,
            )
            enqueue(exchange.c, settled, exchange.garden.name)


def take_back(exchange: Exchange, update_id: int | None = None) -> Batch | None:
    """The last reply's records taken back, or those of one reply; None where there is nothing to undo."""
    batches = last_records(exchange.c, exchange.garden.name, UNDO_REACH, said_only=True)
    found = [batch for batch in batches if update_id is None or batch.update_id == update_id]
    if not found:
        return None
    undo(exchange.c, exchange.garden.name, found[0].record_ids, exchange.now)
    if any(isinstance(entry, Photo) for entry in found[0].entries):
        note_to_fetch(exchange.c, exchange.garden.name)  # the door puts its file away
    if found[0].update_id is not None:
        reopen_nudges(exchange.c, exchange.garden.name, found[0].update_id)
    return found[0]
