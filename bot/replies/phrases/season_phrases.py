"""What a grower tells of the season: dieback, fruit, prunings, cuttings. Told, not asked, promised or denied."""

import re
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Final

from bot.replies.nouns import Ambiguous, Choice, Context, Meaning, Question, Reply, Understood, UnreadableError, Verb
from bot.replies.phrases.line import MarkedLine, joined, line_of, tells_of_deeds
from bot.replies.words.amounts import NUMBER, SHARE, UNIT, length_m, number_of, share_of
from bot.replies.words.names import Named
from bot.replies.words.patterns import NEGATIVE
from bot.replies.words.times import mark_times
from rules.garden.records import LONGEST_STEM_M

MOST_FRUIT: Final = 100_000  # of one picking; beyond it somebody leant on a key. Assumed, no source
_PARTS: Final = re.compile(r"[,;\n]|[.!](?!\d)|\band\b|\bthen\b", re.IGNORECASE)
_WORTH_MENDING: Final = ("picked", "harvested", "pruned", "cuttings", "dieback")
_VULGAR: Final = str.maketrans({"⅓": " third ", "⅔": " two thirds ", "¼": " quarter ", "¾": " three quarters "})
_TABLE: Final = tomllib.loads((Path(__file__).parent / "season_phrases.toml").read_text(encoding="utf-8"))
_DAY: Final = re.compile(
    r"\b(?:yesterday|today|last (?:night|\w+day|weekend)|(?:this|yesterday) (?:morning|afternoon|evening)"
    r"|(?:on|at) (?:\w+day|the weekend)|(?:a|one|two|three|four|five|six|\d+) (?:days?|weeks?) ago)\b"
)
_FOR: Final = re.compile(
    r"\b(?:cuttings?|scions?|sticks?)\b.*?\bfor (?P<whom>(?:the |my |our )?[^\W\d_][\w'-]*(?: [A-Z][\w'-]*)?)",
    re.IGNORECASE,
)
LONGEST_TOLD: Final = 200  # characters; a longer message is a letter, for the note. Assumed, no source


def _in_full(pattern: str) -> str:
    for name, parts in _TABLE["part"].items():
        pattern = pattern.replace(name, "".join(parts))
    return pattern.replace("NUMBER", NUMBER).replace("UNIT", UNIT).replace("SHARE", SHARE)


_PATTERNS: Final = {name: [re.compile(_in_full(one)) for one in rows] for name, rows in _TABLE["any"].items()}


def _find(name: str, text: str) -> re.Match[str] | None:
    """The first pattern of this name that is found in the text."""
    return next((found for pattern in _PATTERNS[name] if (found := pattern.search(text))), None)


def told_of_season(text: str, context: Context, read_other: Callable[[str], Reply]) -> Reply | None:
    """What one reply tells of the season; None where it tells nothing of the kind, or asks, promises or denies it.

    Parameters
    ----------
    text, context
        The reply, and what it is read against.
    read_other
        How a part of the reply that tells of something else is read, such as a deed beside a harvest.

    Raises
    ------
    UnreadableError
        More wood lost than there was, or fruit beyond belief.
    """
    if len(text) > LONGEST_TOLD:
        return None
    whole = _one(text, context)
    if whole is None or not tells_of_deeds(text):
        return whole
    parts = [part for part in _PARTS.split(text) if part.strip()]
    return _all_sure([_one(part, context) or read_other(part) for part in parts]) if len(parts) > 1 else None


def _one(text: str, context: Context) -> Reply | None:
    line = _marked(text, context)
    if not line.named or _find("not_told", line.text):
        return None
    if _find("no_damage", line.text) and not _find("other_things", line.text):
        return _about(line, context, Meaning(verb=Verb.DIEBACK, share=0.0))
    if NEGATIVE.search(line.text):
        return None
    return _picked(line, context) or _cuttings(line, context) or _dieback(line, context) or _pruned(line, context)


def _marked(text: str, context: Context) -> MarkedLine:
    plain = re.sub(r"(\d) ?/ ?(\d)", r"\1 out of \2", text.translate(_VULGAR)).replace("%", " percent ")
    plain = re.sub(r'(?<=\d)["″”]', " in ", re.sub(r"(?<=\d)['′’](?=\s|$|\d)", " ft ", plain))
    return replace(line_of(plain, context, _WORTH_MENDING), spoken=text)


def _about(line: MarkedLine, context: Context, meaning: Meaning) -> Reply:
    """The meaning on the trees named, at the time told; with a choice where a name may mean several."""
    return _on(line.trees(), line, context, meaning)


def _on(named: list[Named], line: MarkedLine, context: Context, meaning: Meaning) -> Reply:
    at = _when(line, context)
    unclear = next((one for one in named if len(one.trees) > 1 and (one.is_open or meaning.count is not None)), None)
    if unclear is not None:
        made = [_made(meaning, (tree,), at) for tree in unclear.trees[:3]]
        choices = tuple(Choice(label=one.trees[0], meanings=(one,)) for one in made)
        return Ambiguous(question=Question.WHICH_TREE, choices=choices)
    trees = tuple(dict.fromkeys(tree for one in named for tree in one.trees))
    return Understood(meanings=(_made(meaning, trees, at),))


def _made(meaning: Meaning, trees: tuple[str, ...], at: object) -> Meaning:
    return Meaning(**{**vars(meaning), "trees": trees, "at_utc": at})


def _when(line: MarkedLine, context: Context) -> object:
    """When it was, if a day is told that is believed; None is now."""
    moments = mark_times(" ".join(_DAY.findall(line.text)), context)[1]
    return next((at for moment in moments for at in moment.past or moment.told), None)


def _dieback(line: MarkedLine, context: Context) -> Reply | None:
    if not _find("of_wood", line.text) or _find("other_things", line.text):
        return None
    if _find("all_dead", line.text):
        return _about(line, context, Meaning(verb=Verb.DIEBACK, share=1.0))
    share = _find("share_lost", line.text)
    if share is not None:
        return _about(line, context, Meaning(verb=Verb.DIEBACK, share=_believed_share(share_of(share))))
    dead = _find("length_lost", line.text)
    if dead is None or not (dead["unit"] or dead["whole"]):
        return None
    return _about(line, context, _stem_lost(dead, context))


def _stem_lost(dead: re.Match[str], context: Context) -> Meaning:
    unit = dead["unit"] or dead["whole_unit"]
    lost = length_m(dead["dead"], unit, inches=context.inches)
    whole = length_m(dead["whole"], dead["whole_unit"] or unit, inches=context.inches) if dead["whole"] else None
    if lost > (whole or LONGEST_STEM_M):
        raise UnreadableError("more wood lost than there was")
    return Meaning(verb=Verb.DIEBACK, length_m=lost, whole_m=whole)


def _believed_share(share: float) -> float:
    if share > 1:
        raise UnreadableError("more wood lost than there was")
    return round(share, 4)


def _picked(line: MarkedLine, context: Context) -> Reply | None:
    if _find("cuttings", line.text):
        return None
    found = list(_PATTERNS["counted"][0].finditer(line.text)) if _find("picked", line.text) else []
    pairs = [(line.tree(one["tree"]), one["count"]) for one in found]
    if not pairs and (ripe := _find("ripe", line.text)):
        pairs = [(line.tree(ripe["tree"]), ripe["count"])]
    if not pairs and not context.asks and (alone := _find("only_counted", line.text)):
        plural = line.tree(alone["tree"]).is_group  # "3 kaki" may be a thermometer's
        pairs = [(line.tree(alone["tree"]), alone["count"])] if plural else []
    singles = [pair for pair in pairs if not pair[0].is_group] or pairs
    named = [one for one in line.named if not one.is_group]
    if len(singles) == len(named) == 1:  # "porch: 3 figs picked"
        singles = [(named[0], singles[0][1])]
    if not singles and _find("picked", line.text):
        return _counted_apart(line, context)
    replies = [_on([named], line, context, _fruit(count)) for named, count in singles]
    return _all_sure(replies)


def _counted_apart(line: MarkedLine, context: Context) -> Reply | None:
    """ "Porch: picked 12", with the tree somewhere else than behind the count."""
    counts = re.findall(rf"(?<![@\w]){NUMBER}", line.text)
    trees = line.trees()
    if len(counts) != 1 or len(trees) != 1:
        return None
    return _on(trees, line, context, _fruit(counts[0]))


def _fruit(count: str) -> Meaning:
    number = number_of(count)
    if not 0 < number <= MOST_FRUIT or number != int(number):
        raise UnreadableError("a count of fruit that is no whole number")
    return Meaning(verb=Verb.PICKED, count=int(number))


def _all_sure(replies: list[Reply]) -> Reply | None:
    """Several replies as one; None where one of several is not sure, for then the whole is read otherwise."""
    if len(replies) == 1:
        return replies[0]
    return joined(replies) if replies and all(isinstance(one, Understood) for one in replies) else None


def _cuttings(line: MarkedLine, context: Context) -> Reply | None:
    found = _find("cuttings", line.text)
    if found is None:
        return None
    count = number_of(found["count"])
    if count != int(count) or not 0 < count <= MOST_FRUIT:
        raise UnreadableError("a count of cuttings that is no whole number")
    whom = _FOR.search(line.spoken)
    return _about(
        line, context, Meaning(verb=Verb.CUTTINGS, count=int(count), text=f"for {whom['whom']}" if whom else "")
    )


def _pruned(line: MarkedLine, context: Context) -> Reply | None:
    found = _find("pruned", line.text)
    if found is None or _find("other_things", line.text):
        return None
    how = " ".join(word for word in found["how"].split() if word[0] != "@" and word not in ("the", "my", ",", "."))
    how = re.sub(r"\band\b", "", _DAY.sub("", how)).strip()
    return _about(line, context, Meaning(verb=Verb.PRUNED, text=how))
