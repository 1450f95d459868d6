"""Questions about what to do at the covers: what first, what else, may I open, how is it put on, what does it mean."""

import re
from typing import Final

from bot.replies.nouns import Context, Meaning, Verb
from bot.replies.words.names import tree_named_wholly

_TREE: Final = r"(?: (?:for|at|with|on|to|about|of) (?:the |my |our )?(?P<tree>.+?))?"
_END: Final = re.compile(r"(?: please| now| today| tonight| this evening)*\s*[?.!]*\s*$", re.IGNORECASE)
_AND_MOUND: Final = r"(?: and (?:mound|cover|wrap|bury))?(?: (?:a |an |the |my )?(?P<tree>.+?))?"
_ASKED: Final = (
    (Verb.FIRST, r"(?:what|which|where)(?: tree| one| job| cover)?(?: should| shall| do| must| can)? (?:i|we) (?:do |"
     r"start |begin |wrap |close |cover |tend |save |go )?(?:to )?(?:at |with )?first"),
    (Verb.FIRST, r"what(?:'s| is| comes)(?: to do)? first|what first"),
    (Verb.FIRST, r"where (?:do|should|shall) (?:i|we) (?:start|begin)"),
    (Verb.FIRST, r"what(?: is| are|'s)? (?:most |the most )?(?:urgent|pressing|important)|triage|priorities"),
    (Verb.MORE, r"(?:what|is there anything|anything)(?: else| more)(?: can| could| should)?(?: (?:i|we))?(?: still)?"
     r"(?: do| help| help it)?" + _TREE),
    (Verb.MORE, r"how (?:can|could|do) (?:i|we) (?:save|help|protect)(?: (?:the |my )?(?P<tree>.+?))?"),
    (Verb.MAY_OPEN, r"(?:can|may|should|could|shall) (?:i|we) (?:open|vent|air|uncap)"
     r"(?: (?:the |my )?(?:tops?|caps?|lids?|covers?|them|all|it)(?: of| on)?)?(?: (?:the |my )?(?P<tree>.+?))?"),
    (Verb.HOW_TO, r"how (?:do|can|should|shall|would) (?:i|we|you|one) (?:wrap|cover|mound|bury|bend down|box in|"
     r"protect|put (?:the )?cover on|build the cover (?:of|for))(?: up)?" + _AND_MOUND),
    (Verb.HOW_TO, r"how to (?:wrap|cover|mound|bury|bend down|box in)" + _AND_MOUND),
    (Verb.MEAN, r"what (?:does|do|is|are|'s) (?:\"|')?(?:a |an |the )?(?P<word>[\w ]{2,20}?)(?:\"|')? mean(?:ing)?"),
    (Verb.MEAN, r"what (?:is|are) (?:a |an |the )?(?P<word>cap|lid|mound|mulch|trip|dieback|hardening|waking|vented)"),
    (Verb.MEAN, r"what do you mean by (?:\"|')?(?P<word>[\w ]{2,20}?)(?:\"|')?"),
)  # fmt: skip
ASKED: Final = [
    (verb, re.compile(rf"^(?:so |and |ok |please |hi |hey )*(?:{pattern})$", re.IGNORECASE)) for verb, pattern in _ASKED
]


def asked_of_covers(text: str, context: Context) -> Meaning | None:
    """The question a whole reply holds; None where it holds none, or names what is no tree of the garden."""
    plain = _END.sub("", " ".join(text.split()))
    for verb, pattern in ASKED:
        found = pattern.match(plain)
        if found is None:
            continue
        groups = found.groupdict()
        named = groups.get("tree") or ""
        trees = tree_named_wholly(named, context.trees) if named else ()
        if not named or trees or (verb is Verb.HOW_TO and len(named.split()) == 1):
            return Meaning(verb=verb, trees=trees, text=groups.get("word") or "")
    return None
