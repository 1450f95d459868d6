"""Questions without a question mark: whoever asks has told us nothing, so nothing is noted and no nudge put off."""

import re
from typing import Final

from bot.replies.nouns import DEEDS, Ambiguous, Choice, Meaning, NotUnderstood, Reply, Understood, Verb
from bot.replies.phrases.questions import without_lead
from bot.replies.words.marking import Marked

_WHO = r"(?:i|we|they|it|this|that|these|there|the|my|our|all|both|everything|anyone|anybody|@\d+)\b"
_ACT = r"(?:die|close|open|wrap|vent|strip|cover|shut|get|freeze|survive|need|have|make)\b"  # not "did kaki yesterday"
_ASKS = re.compile(
    rf"""^(?:
    (?:can|could|may|might|should|shall|must|would|will|does|is|are|was|were|has|had)\s{_WHO}
  | (?:am|do|did|have)\s(?:i|we|you|they|anyone|anybody)\b
  | (?:can|could|will|would|are)\syou\b(?!\s(?:please\s)?(?:remind|ask|tell|nudge|note|write|put|mark|record|set)\b)
  | when\s(?:did|do|does|should|is|are|was|were|will|would|can|could|must|have|has|to)\b
  | did\s(?:the\s|my\s)?(?:@\d+|\w+)\s(?:the\s)?{_ACT}
  | how\b(?!\sabout\b) | what\b(?!\sa\b) | what's\b | whats\b | why\b
  | who\b | whose\b | where\b | which\b(?!\s(?:i|we|is|was)\b)
    )""",
    re.VERBOSE,
)
_NEXT_SENTENCE = re.compile(r"[,.;!]\s|\bbut\b")
_OF_THE_PAST = re.compile(r"^(?:who|when (?:did|was|were|have|has)|how long|did|have|has|was|were)\b")
_OF_THE_PLAN = re.compile(r"\b(?:wait|time|late|early|away|leave|skip|need|needed|have to|enough|first)\b")
_TELLS: Final = frozenset(DEEDS) | {
    *(Verb.NOT_DONE, Verb.CANNOT, Verb.SNOOZE, Verb.WILL_DO, Verb.READING, Verb.SIGHTING, Verb.AWAY, Verb.HAND_OVER),
    *(Verb.DIEBACK, Verb.PICKED, Verb.PRUNED, Verb.CUTTINGS, Verb.GIVE, Verb.JOB),
}


def asks_only(text: str, line: Marked) -> bool:
    """Whether a reply is one question and no more: "can it wait until tomorrow", "when did i close porch"."""
    return bool(_ASKS.match(without_lead(line.text))) and not _NEXT_SENTENCE.search(text.strip().rstrip(".!"))


def tells(reply: Reply) -> bool:
    """Whether a reading would note something or put a nudge off."""
    if isinstance(reply, NotUnderstood):
        return False
    return any(meaning.verb in _TELLS for meaning in _told(reply))


def answer_to_question(line: Marked, reply: Understood | Ambiguous) -> Reply:
    """What comes nearest to an answer: how the covers stand, what is due, or the choice of questions we know."""
    trees = line.trees_named
    asked, ahead = without_lead(line.text), any(moment.future for moment in line.moments)
    if _OF_THE_PAST.match(asked) and _is_of_deeds(reply):
        return Understood(meanings=(Meaning(verb=Verb.TREES, trees=trees, through_typo=line.through_typo),))
    if ahead or _OF_THE_PLAN.search(asked):
        return Understood(meanings=(Meaning(verb=Verb.DUE, trees=trees, through_typo=line.through_typo),))
    known = (Meaning(verb=Verb.TONIGHT, trees=trees), Meaning(verb=Verb.DUE), Meaning(verb=Verb.TREES, trees=trees))
    words = ("Tonight", "Due", "How it stands")
    choices = tuple(Choice(label=label, meanings=(one,)) for label, one in zip(words, known, strict=True))
    return NotUnderstood(heard="a question I have no answer to", choices=choices)


def _is_of_deeds(reply: Understood | Ambiguous) -> bool:
    return any(meaning.is_deed for meaning in _told(reply))


def _told(reply: Understood | Ambiguous) -> list[Meaning]:
    if isinstance(reply, Understood):
        return list(reply.meanings)
    return [meaning for way in reply.ways for meaning in way]
