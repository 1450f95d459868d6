"""A meaning becomes a record: deeds, readings, sightings, refusals; and undo takes them back."""

from collections.abc import Sequence
from datetime import datetime, time, timedelta

from bot.answers.desk import Desk
from bot.logbook import (
    Batch,
    NudgeState,
    Refusal,
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
from bot.logbook import Nudge as KeptNudge
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


def source_of(desk: Desk) -> Source:
    """Who said it, where, in which update."""
    return Source(
        garden=desk.garden.name,
        person=desk.incoming.person,
        update_id=desk.incoming.update_id,
        noted_utc=desk.heard_utc,
    )


def note_deeds(desk: Desk, meaning: Meaning) -> list[Deed]:
    """The deeds of one meaning, noted; the nudges they answer are settled for everyone."""
    kind = DEEDS[meaning.verb]
    at = min(meaning.at_utc or desk.now, desk.now)
    deeds = [Deed(tree=tree, kind=kind, state=_state_after(desk, kind, tree), at_utc=at) for tree in meaning.trees]
    for deed in deeds:
        note_deed(desk.c, source_of(desk), deed)
    standing = [deed.tree for deed in deeds if later_deed(desk, deed) is None]
    settle_answered(desk, standing, kind, f"{DONE[kind]} by {desk.incoming.person}")
    return deeds


def later_deed(desk: Desk, deed: Deed) -> Deed | None:
    """The last deed at the same tree that was told before and happened after; None where this one is how it stands."""
    later = [one for one in desk.records.deeds if one.tree == deed.tree and one.at_utc > deed.at_utc]
    return later[-1] if later else None


def _state_after(desk: Desk, kind: DeedKind, tree: str) -> CoverState:
    """How the cover stands after a deed; a wrap that was asked for as it was asked, else open, which is the colder."""
    if kind != DeedKind.WRAPPED:
        return STATE_AFTER[kind]
    seen = desk.look()
    was_asked = any(n.ask == kind and tree in n.trees for n in open_nudges(desk.c, desk.garden.name))
    asked = [act.state for act in seen.acts if act.tree == tree and act.kind == kind] if seen and was_asked else []
    return asked[0] if asked else CoverState.VENTED


def note_one_reading(desk: Desk, meaning: Meaning) -> Reading:
    """A thermometer reading, noted."""
    if meaning.air_c is None:
        raise ValueError("a reading needs a temperature, got none")
    reading = Reading(
        tree=meaning.trees[0],
        air_c=meaning.air_c,
        at_utc=min(meaning.at_utc or desk.now, desk.now),
        place=meaning.place,
        is_minimum=meaning.is_minimum,
    )
    note_reading(desk.c, source_of(desk), reading)
    return reading


def note_sightings(desk: Desk, meaning: Meaning) -> list[Sighting]:
    """What was seen on each tree, noted."""
    if meaning.sight is None:
        raise ValueError("a sighting needs what was seen, got none")
    at = min(meaning.at_utc or desk.now, desk.now)
    seen = [Sighting(tree=tree, sight=meaning.sight, at_utc=at) for tree in meaning.trees]
    for sighting in seen:
        note_sighting(desk.c, source_of(desk), sighting)
    return seen


def note_refusal(desk: Desk, meaning: Meaning, *, later: bool) -> datetime:
    """Until when nothing is asked for these trees: "can't" to the end of the day's night, "later" to its time."""
    until = meaning.until_utc or (desk.now + ASK_AGAIN if later else _next_noon(desk))
    for tree in meaning.trees:
        refusal = Refusal(tree=tree, ask=LATER if later else "cannot", at_utc=desk.now, until_utc=until)
        note_cannot(desk.c, source_of(desk), refusal)
    if not later:
        settle_answered(desk, meaning.trees, None, f"can't, says {desk.incoming.person}")
    return until


def _next_noon(desk: Desk) -> datetime:
    local = desk.now.astimezone(desk.garden.site.zone)
    return datetime.combine(local.date() + timedelta(days=1), time(12), desk.garden.site.zone)


def settle_answered(desk: Desk, trees: Sequence[str], verb: DeedKind | None, words: str) -> None:
    """Settle the open nudges all of whose trees are now answered for, and say so in the message itself."""
    for nudge in open_nudges(desk.c, desk.garden.name):
        if not nudge.ask:  # news of jobs is answered by what is said of jobs
            continue
        fits = verb is None or verb in ANSWERS_TO[DeedKind(nudge.ask)]
        rest = [tree for tree in nudge.trees if tree not in trees and not _tended_since(desk, tree, nudge)]
        if (
            fits
            and not rest
            and settle_nudge(
                desk.c, nudge.key, NudgeState.ANSWERED, desk.incoming.person, desk.now, desk.incoming.update_id
            )
        ):
            close_messages(desk, nudge, f"{DO[DeedKind(nudge.ask)]} {short_names(nudge.trees)}", words)


def _tended_since(desk: Desk, tree: str, nudge: KeptNudge) -> bool:
    answers = ANSWERS_TO[DeedKind(nudge.ask)]
    return any(d.tree == tree and d.kind in answers and d.at_utc >= nudge.opened_utc for d in desk.records.deeds)


def close_messages(desk: Desk, nudge: KeptNudge, asked: str, words: str) -> None:
    """Edit the nudge in every chat to its settled state, without buttons."""
    for message in messages_of_nudge(desk.c, nudge.key):
        if message.message_id is not None:
            settled = Outgoing(
                key=f"settled:{nudge.key}:{message.chat_id}:{desk.incoming.update_id}",
                chat_id=message.chat_id,
                text=f"Settled ({asked}): {words} at {desk.style.clock(desk.now)}.",
                due_utc=desk.heard_utc,
                expires_utc=desk.heard_utc + timedelta(hours=12),
                silent=True,
                on_unknown=OnUnknown.HOLD,
                edits=message.key,
            )
            enqueue(desk.c, settled, desk.garden.name)


def take_back(desk: Desk, update_id: int | None = None) -> Batch | None:
    """The last reply's records taken back, or those of one reply; None where there is nothing to undo."""
    batches = last_records(desk.c, desk.garden.name, UNDO_REACH, said_only=True)
    found = [batch for batch in batches if update_id is None or batch.update_id == update_id]
    if not found:
        return None
    undo(desk.c, desk.garden.name, found[0].record_ids, desk.now)
    if any(isinstance(entry, Photo) for entry in found[0].entries):
        note_to_fetch(desk.c, desk.garden.name)  # the door puts its file away
    if found[0].update_id is not None:
        reopen_nudges(desk.c, desk.garden.name, found[0].update_id)
    return found[0]
