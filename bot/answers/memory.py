"""The talk so far, as a reply is read against it: the last nudge, what was noted last, the choices offered last."""

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Final

from bot.answers.choices import kept_choices
from bot.answers.exchange import Answer, Exchange, context_of, shown_ask
from bot.logbook import last_said, note_state, nudges_since, read_state
from bot.nudges import NudgeState
from bot.replies import Choice, Context, Meaning, OpenAsk, Verb
from rules.garden.records import Deed, Reading

REMEMBERED: Final = timedelta(hours=24)  # after a day nobody means the last thing said; no source


def context_of_talk(exchange: Exchange) -> Context:
    """The context of a reply with the memory of the talk."""
    context = context_of(exchange)
    return replace(
        context,
        lapsed=_lapsed(exchange) if not context.open_asks else None,
        last_told=_last_told(exchange),
        offered=_offered(exchange),
    )


def _lapsed(exchange: Exchange) -> OpenAsk | None:
    """The last nudge of a day, where it ran out without an answer."""
    rows = [row for row in nudges_since(exchange.c, exchange.garden.name, exchange.now - REMEMBERED) if row.ask]
    late = [row for row in rows[-1:] if row.state is NudgeState.EXPIRED]
    return shown_ask(exchange, late[0]) if late else None


def _last_told(exchange: Exchange) -> tuple[Meaning, ...]:
    """What this person told last, if it was deeds or one reading and is not long ago."""
    last = last_said(exchange.c, exchange.garden.name)
    if last is None or exchange.now - last.noted_utc > REMEMBERED or last.person != exchange.person.name:
        return ()
    deeds = [one for one in last.entries if isinstance(one, Deed)]
    readings = [one for one in last.entries if isinstance(one, Reading)]
    if len(deeds) == len(last.entries):
        kinds = dict.fromkeys((one.kind, one.at_utc) for one in deeds)
        return tuple(
            Meaning(
                verb=Verb(kind.value), at_utc=at, trees=tuple(d.tree for d in deeds if (d.kind, d.at_utc) == (kind, at))
            )
            for kind, at in kinds
        )
    if len(readings) == len(last.entries) == 1:
        (one,) = readings
        told = Meaning(
            verb=Verb.READING, trees=(one.tree,), at_utc=one.at_utc, air_c=one.air_c, place=one.place,
            is_minimum=one.is_minimum,
        )  # fmt: skip
        return (told,)
    return ()


def _offered(exchange: Exchange) -> tuple[Choice, ...]:
    kept = json.loads(read_state(exchange.c, exchange.garden.name, _name(exchange)) or "null")
    return kept_choices(exchange, json.dumps(kept)) if kept is not None else ()


def remember_offer(exchange: Exchange, answers: Sequence[Answer]) -> None:
    """The choices an answer offers are those that a word may pick next; other answers leave none."""
    ours = f"c{exchange.incoming.update_id}:"
    offers = any(ours in button.data for answer in answers for button in answer.buttons)
    note_state(
        exchange.c, exchange.garden.name, _name(exchange), json.dumps(exchange.incoming.update_id if offers else None)
    )


def _name(exchange: Exchange) -> str:
    return f"offered {exchange.incoming.chat_id}"
