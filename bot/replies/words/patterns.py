"""Turns of phrase: patterns over marked text, and the mark each leaves in the place of what it found.

Marks are upper case or hold a sign, so that no later pattern takes them for words: `=closed` a deed, `=closed.` the
bare verb ("close"), `!NOT` a negation, `!CANNOT` a refusal, `!INTEND` a promise, `*ALL` a group of trees.
"""

import re
from collections.abc import Callable
from typing import Final

from bot.replies.words.vocabulary import FORMS

Replacement = str | Callable[[re.Match[str]], str]

_LID = r"(?:(?:caps?|lids?|tops?|hats?|flaps?)(?:'s)?)"
_WRAP = r"(?:covers?|wraps?|wrapping|straw|burlap|fleece|blankets?|jackets?|coats?|sheets?|tarps?|film|foil)"
_HIS = r"(?:(?:the|its|their|his|her|both|my|all|a|@\d+(?: 's)?) )*"
_BE = r"(?:(?:is|are|were|was|came|went|goes|has|have|been|got|back|now|put|comes) )*"
_TOOK = r"(?:took|taken|take|pulled|lifted|popped|got|removed|remove)"
_SET = r"(?:put|pulled|set|placed|popped|got|threw|slid|stuck)"
_ACTS = "wrapping|closing|opening|venting|stripping|unwrapping|covering"


def _finished(match: re.Match[str]) -> str:
    """'finished wrapping' is a deed, not a promise."""
    return FORMS[match[1]].removeprefix("!INTEND ").rstrip(".")


_INSIDE = [
    r"inside|indoors|within|beneath",
    r"under (?:the |its )?(?:@\d+ (?:'s )?)?(?:wrap|cover|fleece|cap|straw|blanket)",
    r"in (?:the |its )?(?:\w+ )?(?:@\d+ )?(?:cover|wrap|cage)",
]
_CANNOT = [
    r"too (?:lazy|windy|late|early|dark|cold|tired|busy|sick|icy|wet|snowy|far|much snow|much wind)",
    r"can'?t|cannot|can not|could ?n'?t|could not|wo n'?t|won'?t|will not|will never|unable",
    r"no (?:time|chance|way)(?! (?:i|we)\b)|no can do|impossible|skip(?:ping)?|pass",
    r"(?<!are )in bed|asleep|at work|out of town|i'?m (?:ill|sick|busy|out)",
    r"not (?:(?:at )?home|here|today|tonight|able|going to|gonna|possible)",
]
_NOT = [
    r"not yet|not|n't|never|nothing|none|neither|nor|without|forgot|forgotten|refuse[ds]?|undone|missed|unless",
    r"have ?n'?t|havn'?t|hav'?nt|hasn'?t|hadn'?t|didn'?t|did'?nt|don'?t|doesn'?t|isn'?t|aren'?t|wasn'?t",
    r"weren'?t|ain'?t|shouldn'?t|wouldn'?t|needn'?t|mustn'?t|\w+n't|no|nope|nah|nay|hardly|barely|fail(?:ed)?",
    r"still (?:to (?:do|go)|open|closed|shut|wrapped|vented|bare|uncovered|covered)",
    r"(?:wind|storm|gale|snow) (?:opened|uncovered|stripped|unwrapped|took|blew|pulled|tore|broke)",
    r"almost|nearly|half|halfway|partly|mostly|start(?:ed|ing)|began|trying|tried|in progress",
]
_INTEND = [
    r"will do|on it|on my way|omw|heading (?:out|over)|going (?:out )?now|in a (?:sec|moment|minute)|doing it|about to",
    r"right away|soon|(?:i|we|he|she)'?ll|will|shall|would|must|should|(?:going|need|have|want|hope|ought|intend) to",
    r"(?:can|could|would) you|gonna|gotta|plan(?:ning)? to|let me|let'?s|doing|if|once i",
    r"when i(?! (?:got|woke|left|came|went|was|looked|checked|saw|read)\b)",
]
_ALL = [
    r"all (?:of )?(?:the )?(?:two|three|four|five|six|\d)(?: of them)?|all (?:of )?(?:the )?(?:trees|covers|them)",
    r"all of (?:them|it)|them all|they'?re all|they are all|everything|every ?one|each|the lot|every (?:tree|one)",
    r"all(?! of)|(?:the )?whole garden",
]
_NOT_THE_ACT = (  # "the porch cover", "its cap" is a thing
    r"(?:the|its|my|a|an|your|this|that|their|@\d+(?: ?'s)?) "
    r"(?:covers?|wraps?|caps?|vents?|air|seals?|strips?|open)(?! @)"
)

_STOOD = (  # "-11 at the wall, cover was open" tells of the reading, and of no deed
    rf"(?:with )?(?:the |its )?(?:covers?|{_LID}) (?:was|were|stayed|stood) (?:still )?"
    r"(?:open|shut|closed|off|on|vented)"
    rf"|{_LID} left (?:open|off)"
)

# In the order applied: refusals and negations first, so that no deed is read inside them.
_TURNS: list[tuple[Replacement, list[str]]] = [
    ("!INSIDE", _INSIDE),
    ("while", [_STOOD]),
    ("!CANNOT", _CANNOT),
    ("!NOT", _NOT),
    (
        _finished,
        [
            rf"(?:finished|done|stopped|through|did|got a?round to)(?: (?:with )?(?:all )?the)? ({_ACTS})"
            r"(?: (?:on|of|for))?"
        ],
    ),
    (
        "=done",
        [
            r"@\d+ (?:yes|yep|yeah)",
            r"all set|done and dusted|mission accomplished|taken care of|took care of|good to go|job done",
        ],
    ),
    ("!INTEND", _INTEND),
    ("!REMIND", [r"(?:remind|ping|nudge)(?: me)?|snooze|ask (?:me )?again|postpone|delay"]),
    ("!LATER", [r"later(?: on)?|not now|in a (?:bit|while)|after (?:work|dinner|lunch|supper)|busy|hold on|wait"]),
    ("!UNTIL", [r"until|till|til"]),
    (
        "!EXCEPT",
        [r"except(?: for)?|besides|apart from|other than|(?:minus|bar)(?= @)|not counting|excluding|save for"],
    ),
    ("=closed", [rf"{_SET} {_HIS}{_LID} {_HIS}{_BE}(?:back )?(?:on|down)", rf"{_SET} (?:back )?on {_HIS}{_LID}"]),
    ("=closed", [rf"{_LID} {_BE}(?:back )?(?:on|down|closed|shut)"]),
    ("=vented", [rf"{_TOOK} (?:off )?{_HIS}{_LID} ?{_HIS}(?:off|open|up|out)?(?=\W|$)"]),
    ("=vented", [rf"{_LID} {_BE}(?:off|open|up|opened|out)", rf"(?:open(?:ed)?|popped|cracked) {_HIS}{_LID}"]),
    ("=closed", [rf"(?:closed|shut) {_HIS}{_LID}"]),
    ("=closed.", [rf"close {_HIS}{_LID}"]),
    ("=stripped", [rf"{_TOOK} (?:off|down) {_HIS}{_WRAP}", rf"{_TOOK} {_HIS}{_WRAP} {_HIS}(?:off|down|away)"]),
    ("=stripped", [rf"{_TOOK} {_HIS}{_WRAP}(?= (?:from|of)\b)", rf"{_WRAP} (?:of @\d+ )?{_BE}(?:off|gone|removed)"]),
    ("=wrapped", [rf"{_SET} {_HIS}{_WRAP} {_HIS}(?:back )?(?:on|around|over|up)"]),
    ("=wrapped", [rf"{_SET} (?:on )?{_HIS}{_WRAP}(?= (?:on|around|over)\b)"]),
    ("=wrapped", [rf"(?:covers?|wraps?|jackets?|coats?) (?:of @\d+ )?{_BE}(?:back )?(?:on|up)"]),
    ("=closed", [r"(?:buttoned|zipped|battened|closed|shut|sealed)(?: them| it| @\d+)? (?:up|down)"]),
    ("=wrapped", [r"(?:tucked|wrapped|bundled|packed) (?:up|in)|packed"]),
    ("=vented", [r"opened (?:up|out)"]),
    (" ", [_NOT_THE_ACT]),
    ("*ALL", _ALL),
    ("*BOTH", [r"both(?: of them)?(?: trees)?|the two(?: of them)?|the pair"]),
    ("*REST", [r"(?:the )?(?:rest|others?|remaining(?: ones?)?)"]),
    ("*THEM", [r"(?:it|they|that)'(?:s|re)|it|them|they|those|these|that one|this one|that|this"]),
]
PHRASES: Final[list[tuple[re.Pattern[str], Replacement]]] = [
    (re.compile(rf"(?:(?<=\W)|^)(?:{'|'.join(patterns)})(?=\W|$)"), replacement) for replacement, patterns in _TURNS
]

# What makes a whole reply suspect as a deed, checked once more at the very end.
NEGATIVE: Final = re.compile(
    r"(?:\b(?:not|no|never|nor|none|nothing|neither|without|forgot|forgotten|cannot|cant|wont|dont|didnt|couldnt|isnt|"
    r"arent|havent|havnt|havn|hasnt|hadnt|doesnt|wasnt|werent|aint|nope|nah|unable|skip|refused?|undone|missed|hardly|"
    r"barely|unless|failed|shouldnt|wouldnt|still open)\b|n't\b|n' t\b)"
)
# A deed that is only thought, wished, heard of, or spoken of beside the point: asked about, as with a denial.
_OPEN_OR_SHUT = r"(?:open|opened|closed|shut|wrapped|covered|uncovered|vented|bare|capped)"
HEDGED: Final = re.compile(
    r"\b(?:wish|hope(?! (?:it|that|this) helps)|hopefully|supposed to|meant to|maybe|perhaps|probably|apparently"
    r"|(?:might|may|could|would|should|must) have(?! done it)|(?:pretty|fairly|almost|quite) sure"
    r"|i (?:think|guess|believe|assume|reckon)"
    r"(?! (?:it|that|this|they) ?(?:'s|is|was|'re|are)? (?:all )?(?:fine|ok|good|right))"
    r"|last (?:year|winter|season)|(?<!you )said|says|told me|reckons|thinks"
    r"|done with (?:work|this|that|dinner|lunch|you|school|homework))\b"
    rf"|\b(?:looks?|seems?|appears?) (?:to be )?{_OPEN_OR_SHUT}\b"
    rf"|\b(?:keep|keeping|leave|leaving) (?:\w+ ){{0,4}}{_OPEN_OR_SHUT}\b"
    rf"|\bwhile (?:it (?:is|was) )?{_OPEN_OR_SHUT}\b"
    rf"|^(?:the )?{_OPEN_OR_SHUT} (?:ones?|trees|figs)\b"
    r"|^(?:(?:before|after|since|while|until) (?:i|we|you|they|he|she)|because|ask|tell)\b"
)
LOWEST: Final = re.compile(
    r"\b(?:lows?|lowest|min|minimum|bottomed|dipped|(?:got|went|fell|dropped|down) (?:down )?to|overnight)\b"
)
