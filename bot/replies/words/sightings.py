"""What a grower may say to have seen on a tree."""

import re

from rules.garden.records import SightingKind

_LEAVES = r"(?:lea(?:f|ves)|foliage)"
_SPOILT = "froze|frozen|frosted|blackened|black"
_SIGHTS: list[tuple[SightingKind, list[str]]] = [
    (
        SightingKind.LEAVES_FROZEN_GREEN,
        [
            rf"{_LEAVES}\b.*\b(?:{_SPOILT}|mush|mushy|zapped|killed|frost)\b",
            rf"\b(?:{_SPOILT}) (?:green )?{_LEAVES}|\bfroze (?:while )?green",
            rf"\bfrost (?:got|hit|killed|took|burnt|burned|nipped|zapped|caught)\b.*{_LEAVES}",
        ],
    ),
    (
        SightingKind.LEAVES_YELLOW,
        [
            rf"\byellow(?:ed|ing)?\b.*{_LEAVES}|\bturning yellow|autumn colou?r",
            rf"{_LEAVES}\b.*\b(?:yellow|turning|yellowing|yellowed|turned)\b",
        ],
    ),
    (
        SightingKind.LEAVES_DROPPED,
        [
            rf"{_LEAVES}\b.*\b(?:drop|dropped|dropping|fell|fallen|gone|off|down|shed)\b|\bleafless\b",
            rf"\b(?:dropped|dropping|lost|shed|shedding|losing|drops)\b.*{_LEAVES}|\bbare of {_LEAVES}",
        ],
    ),
    (
        SightingKind.FULL_BLOOM,
        [r"\b(?:full|peak)(?:y|ly)? (?:in )?(?:bloom|blossom|flower)\b|\bfull[- ]?bloom"],
    ),
    (
        SightingKind.FIRST_BLOOM,
        [r"\bfirst (?:bloom|blooms|blossom|blossoms|flower|flowers)\b"],
    ),
    (
        SightingKind.PETALS_FALLEN,
        [r"\bpetals?\b.*\b(?:fall|falls|fallen|falling|fell|drop|dropped|dropping|off|down)\b|\bpetal[- ]?fall"],
    ),
    (
        SightingKind.BUDS_SWELLING,
        [
            r"\bbuds?\b.*\b(?:swell|swelling|swollen|swelled|fat|fattening|moving|plump)\b",
            r"\bbuds?\b.*\b(?:breaking|break|showing|waking)\b",
            r"\b(?:swelling|swollen|fat) buds?\b|\bbud ?(?:break|swell)",
        ],
    ),
    (
        SightingKind.LEAFED_OUT,
        [
            rf"\bleaf(?:ed|ing|s)? out\b|\b(?:new|first|young) {_LEAVES}|\bin (?:full )?leaf\b",
            rf"{_LEAVES}\b.*(?:\b(?:out|coming|unfurling|unfurled|opening)\b|=vented)",
        ],
    ),
    (
        SightingKind.FRUIT_PEA_SIZE,
        [r"\bpeas?[ -]?(?:size|sized)\b|\bsize of (?:a )?peas?\b|\blike peas\b|\bbig as peas?\b"],
    ),
]
SIGHTS = [(sight, "|".join(patterns)) for sight, patterns in _SIGHTS]
_PATTERNS = [(sight, re.compile(pattern)) for sight, pattern in SIGHTS]
_LEFT = re.compile(rf"(?:!NOT|\bno) {_LEAVES} (?:left|any ?more)|\bleafless\b")
_NEGATED = re.compile(r"!NOT|!CANNOT|\bno\b")


def sight_in(clause: str) -> SightingKind | None:
    """The sight one clause tells of; None for none, and for one that is denied ("leaves not off yet")."""
    if _LEFT.search(clause):
        return SightingKind.LEAVES_DROPPED
    if _NEGATED.search(clause):
        return None
    return next((sight for sight, pattern in _PATTERNS if pattern.search(clause)), None)
