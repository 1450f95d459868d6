"""What a grower may say to have seen on a tree."""

import re

from rules.records import Sight

_LEAVES = r"(?:lea(?:f|ves)|foliage)"
SIGHTS = [
    (
        Sight.LEAVES_FROZEN_GREEN,
        rf"{_LEAVES}\b.*\b(?:froze|frozen|frosted|blackened|black|mush|mushy|zapped|killed|frost)\b|"
        rf"\b(?:froze|frozen|frosted|blackened|black) (?:green )?{_LEAVES}|\bfroze (?:while )?green",
    ),
    (Sight.LEAVES_YELLOW, rf"\byellow(?:ed|ing)?\b.*{_LEAVES}|{_LEAVES}\b.*\b(?:yellow|turning|yellowing|yellowed|turned)\b|\bturning yellow|autumn colou?r"),
    (
        Sight.LEAVES_DROPPED,
        rf"{_LEAVES}\b.*\b(?:drop|dropped|dropping|fell|fallen|gone|off|down|shed)\b|\b(?:dropped|dropping|lost|shed|shedding|losing|drops)\b.*{_LEAVES}|"
        rf"\b(?:!NOT|no|bare of) {_LEAVES}(?: (?:left|anymore|any more))|\bleafless\b|\b{_LEAVES} drop",
    ),
    (Sight.BUDS_SWELLING, r"\bbuds?\b.*\b(?:swell|swelling|swollen|swelled|fat|fattening|moving|plump|breaking|break|showing|waking)\b|\b(?:swelling|swollen|fat) buds?\b|\bbud ?(?:break|swell)"),
    (Sight.LEAFED_OUT, rf"\bleaf(?:ed|ing|s)? out\b|\b(?:new|first|young) {_LEAVES}|\bin (?:full )?leaf\b|{_LEAVES}\b.*\b(?:out|coming|unfurling|unfurled|opening|=vented|=vented\.)(?=\W|$)"),
    (Sight.FRUIT_PEA_SIZE, r"\bpeas?[ -]?(?:size|sized)\b|\bsize of (?:a )?peas?\b|\blike peas\b|\bbig as peas?\b"),
]  # fmt: skip
_PATTERNS = [(sight, re.compile(pattern)) for sight, pattern in SIGHTS]
_LEFT = re.compile(rf"(?:!NOT|\bno) {_LEAVES} (?:left|any ?more)|\bleafless\b")
_NEGATED = re.compile(r"!NOT|!CANNOT|\bno\b")


def sight_in(clause: str) -> Sight | None:
    """The sight one clause tells of; None for none, and for one that is denied ("leaves not off yet")."""
    if _LEFT.search(clause):
        return Sight.LEAVES_DROPPED
    if _NEGATED.search(clause):
        return None
    return next((sight for sight, pattern in _PATTERNS if pattern.search(clause)), None)
