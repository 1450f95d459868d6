"""Questions that people who had not seen the code would ask are about what they said they are about."""

import tomllib
from pathlib import Path
from typing import Any

from bot.replies import Ambiguous, Meaning, Understood, parse_reply
from tests.bot.replies.test_replies_fresh_ears import heard

SETS = tomllib.loads((Path(__file__).parent / "questions.toml").read_text(encoding="utf-8"))
ASKED: list[tuple[str, dict[str, Any]]] = [(text, said) for one in SETS.values() for text, said in one.items()]


def understood(text: str, said: dict[str, Any]) -> tuple[Meaning, ...]:
    """What is answered at once, whatever else is asked back."""
    reply = parse_reply(text, heard(said))
    return reply.meanings if isinstance(reply, Understood) else reply.certain if isinstance(reply, Ambiguous) else ()


def test_a_question_is_about_what_whoever_asked_it_said() -> None:
    assert len(ASKED) > 100
    off = {
        text: (said["about"], [one.verb.value for one in understood(text, said)])
        for text, said in ASKED
        if said["about"] not in {one.verb.value for one in understood(text, said)}
    }
    assert not off


def test_a_question_alone_changes_no_cover() -> None:
    """What is asked without anything told beside it: it begins by asking, and is one sentence."""
    asks = ("is ", "can ", "what", "how", "why", "which", "when", "who", "did ", "should ", "do ", "will ")
    alone = [
        (text, said) for text, said in ASKED if not set(text[:-1]) & set(".,!;?") and text.lower().startswith(asks)
    ]
    assert len(alone) >= 40
    assert not [text for text, said in alone if any(one.is_deed for one in understood(text, said))]
