"""What makes doubtful what is told beside it: jokes, corrections, suppositions, and words that may go on with it."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from bot.replies.clause import Clause
from bot.replies.cues.joining import is_about_then, is_time_alone, last_absence
from bot.replies.cues.spotting import Spotter
from bot.replies.cues.told import ASK, MAYBE, PUT_OFF, RECORDED, SEEN, TALK
from bot.replies.grammar import grammar, ours
from bot.replies.meanings.targets import verbs_meant
from bot.replies.nouns import Context
from bot.replies.words.names import small_words
from bot.replies.words.time_phrases import MONTHS


def _takes_back(one: Clause, before: Clause | None, told: set[str], spotter: Spotter) -> bool:
    """A few words that belong to what is told beside them, and make it doubtful: "if it holds", "says my husband"."""
    at = one.start, one.end
    doubts = ("SUPPOSED", "HEARD_OF", "DOUBTED", "UNDONE", "FORGOTTEN")
    acts = any(word in ours().words("FINITE") or word in ("'s", "can", "stays", "'ll") for word in one.words)
    acts |= spotter.has(*at, "LEFT_SO")
    spoken = {tree for word in one.words if word[0] == "@" for tree in one.marked.tree_of(word).trees}
    apart = bool(told) and told.isdisjoint(spoken) and LIKEWISE.isdisjoint(one.words)  # "wall is mine" is of the wall
    of_another = bool(spoken) and not acts and not apart
    of_another |= is_time_alone(one) and (before is None or not is_about_then(one, before))
    shakes = of_another or one.group == "rest" or _denies_by_itself(one, spotter) or spotter.has(*at, *doubts)
    return one.tells == TALK and len(one.words) <= FEW and shakes


def _is_excuse(one: Clause, spotter: Spotter) -> bool:
    """ "Only seeing this now", "juniper must have": why it is told late, or who it was."""
    return one.tells == TALK and spotter.has(one.start, one.end, "EXCUSED")


def _is_of_other_trees(one: Clause, topic: Clause | None, clauses: Sequence[Clause]) -> bool:
    """ "Did wall. I started on bench, so that one has no straw yet": talk of trees of which no deed is told."""
    told = {tree for clause in clauses if clause.tells == "did" for tree in clause.trees_named}
    apart = topic is not None and told.isdisjoint(topic.trees_named) and LIKEWISE.isdisjoint(one.words)
    return one.tells == TALK and apart and (topic is one or len(one.words) > FEW) and one.words[0] != "or"


LIKEWISE: Final = frozenset(("same", "ditto", "likewise"))


def _denies_by_itself(one: Clause, spotter: Spotter) -> bool:
    """ "Not really", "never happened"; not "sorry, never answered", which denies something of its own."""
    at = one.start, one.end
    if one.words[0] in ("she", "he", "they") or one.words[0][0] == "&":
        return False  # "she hadn't. done now"
    own = {word for word in one.words if word not in small_words()} - ours().words("DENIES") - OF_WHAT_WAS_TOLD
    return spotter.has(*at, "DENIED") and not spotter.has(*at, "NOT_DENYING") and not own


OF_WHAT_WAS_TOLD: Final = frozenset(
    ("me", "us", "really", "true", "happened", "happen", "finished", "done", "did", "sure")
)


def _runs_on_from_a_denial(clauses: Sequence[Clause], spotter: Spotter) -> bool:
    """Whether a deed follows on a denial with no sign between: "not closed porch closed wall"."""
    denied = False
    for one in clauses:
        denied = (denied and not one.joined_by) or _denies_deed(one, spotter) or _denies_something(one, spotter)
        if denied and one.tells == "did" and not one.joined_by:
            return True
    return False


def _denies_deed(one: Clause, spotter: Spotter) -> bool:
    return one.tells == "not_done" and bool(spotter.deeds(one.start, one.end))


def _denies_something(one: Clause, spotter: Spotter) -> bool:
    at = one.start, one.end
    of_nothing = one.tells == TALK or (one.tells in PUT_OFF and not one.has_targets)
    return of_nothing and spotter.has(*at, "DENIED") and not spotter.has(*at, "NOT_DENYING")


def _is_number(one: Clause) -> bool:
    """ "Bought 3 rolls. 2. they only had 2": a number by itself puts another right."""
    return one.tells == TALK and len(one.words) == 1 and one.words[0].isdigit()


def _shakes(one: Clause, before: Clause | None, spotter: Spotter, context: Context) -> bool:
    """Whether a clause makes doubtful what was told beside it."""
    at = one.start, one.end
    if one.tells == ASK:
        return not one.has_targets or spotter.has(*at, "SUPPOSED")  # "if juniper closed bench then all is closed"
    if one.tells == "not_done":
        return _denies_deed(one, spotter) and before is not None and not one.joined_by  # "closed figs closed not kaki"
    if one.tells == "did" and one.joined_by == "and" and before is not None and before.tells == TALK:
        return before.words[:1] != [] and before.words[0] in OTHERS  # "they paved paradise and closed the porch"
    if one.tells != TALK or not one.words:
        return False
    if one.words[0] == "or" or (set(MONTHS) & set(one.words) and "in" in one.words):
        return True  # "closed. or that was wednesday", "in december I stripped kaki"
    if spotter.words[one.end : one.end + 1] == [":"] and spotter.has(*at, "HEADING"):
        return True  # "my plan: porch closed at 5"
    if one.words[1:2] == ["time"] and before is not None and before.moment is not None:
        return True  # "closed at 4, sydney time"
    if is_time_alone(one) and before is not None and before.tells == "did":
        return not is_about_then(one, before)  # a second time: "yesterday evening, was quarter to six"
    doubts = [start for start, _, _ in spotter.spans("DOUBTED", *at)]
    of_what_was_told = any(start <= one.start + 1 for start in doubts) or len(one.words) <= SHORT
    if (
        (doubts and of_what_was_told)
        or spotter.has(*at, "UNDONE")
        or (spotter.has(*at, "DEED", "WISHED") and spotter.has(*at, "DENIED"))
    ):
        return True
    if spotter.has(*at, "CLOSABLE") and before is not None and before.tells == "did" and not before.named:
        return True  # closed what: the shop?
    if (
        before is not None
        and before.did == "wrapped"
        and spotter.has(*at, "FILL", "COVERS")
        and _is_ahead(one, spotter)
    ):
        return True  # "cage is up round the pom, straw comes tomorrow"
    behind = before is not None and before.tells in RECORDED and not answers(before, context)
    supposed = spotter.has(*at, "SUPPOSED", "HEARD_OF") and spotter.words[one.end : one.end + 1] == [","]
    return supposed or (behind and _may_go_on(one, spotter))


def _is_ahead(one: Clause, spotter: Spotter) -> bool:
    moment = one.moment
    return spotter.has(one.start, one.end, "AHEAD") or (moment is not None and bool(moment.future) and not moment.past)


def answers(one: Clause, context: Context) -> bool:
    """Whether it tells of the very trees for which its deed is asked, so that no more words can be its object."""
    if one.tells != "did" or one.did is None or not (one.named or one.group):
        return False
    asked = {tree for ask in context.asks if ask.verb in verbs_meant(one.did) for tree in ask.trees}
    return bool(asked) and all(asked & set(n.trees) if n.is_group else asked.issuperset(n.trees) for n in one.named)


def _are_elsewhere(clauses: Sequence[Clause], spotter: Spotter) -> bool:
    """Whether words apart say where the thermometers hung: "… all of them beneath the covers", "… in the freezer"."""
    shown = any(one.tells == "reading" and not one.has("inside") for one in clauses)
    apart = [one for one in clauses if one.tells in (TALK, "bare") and one.words]
    return shown and any(
        spotter.has(one.start, one.end, "IN")
        or one.words[0] in ("in", "at")
        or spotter.has(one.start, one.end, "SUNLIT")
        for one in apart
    )


def _may_go_on(one: Clause, spotter: Spotter) -> bool:
    """Whether a few words behind a report may go on with it: "closed porch, banana", "closed porch. the gate"."""
    words = one.words
    acts = words[0] in ours().words("SUBJECT") or any(w in ours().words("FINITE") or w.endswith(_ACTING) for w in words)
    if len(words) > SHORT or acts:
        return False
    if words[0][0] == "#":
        return False  # "a quarter of an hour late"
    asked = spotter.words[one.end : one.end + 1] == ["?"]
    listed = one.joined_by in (",", "and") and words[0] not in _APART
    return asked or listed or words[0] in grammar().words("DET") | {"in", "why"}


OTHERS: Final = frozenset(("they", "he", "she", "watched", "saw", "somebody", "someone", "my", "a"))
FEW: Final = 4  # words; no source
SHORT: Final = 3  # words; no source
_ACTING: Final = ("ed", "ing", "'s")
_APART: Final = frozenset(("like", "what", "with", "no", "phew", "brr", "sorry", "thanks", "honest", "boss", "mate"))


def _without_what_is_put_right(clauses: list[Clause], spotter: Spotter) -> list[Clause]:
    """Without the denials of trees of which a deed is asked about, and what another tells again with its tree."""
    asked = [one for one in clauses if one.tells == ASK]
    trees = {tree for one in asked for tree in one.trees_named}
    again = [one for one in asked if not one.has_targets and any(o.did == one.did and o.has_targets for o in asked)]
    return [
        one for one in clauses
        if one not in again
        and not (spotter.has(one.start, one.end, "CORRECTED") and any(_tells_otherwise(o, one) for o in asked))
        and not (one.tells == "not_done" and one.named and trees.issuperset(one.trees_named))
    ]  # fmt: skip


def _tells_otherwise(other: Clause, one: Clause) -> bool:
    """ "Closed porch, no wait, opened porch": another deed of the same trees behind it."""
    same = bool(one.named) and one.trees_named == other.trees_named
    return same and one.did != other.did and other.start > one.start and one.tells == ASK


def _yes_and_no(clauses: list[Clause]) -> list[Clause]:
    """ "Yes. no.": an answer to more than was asked, asked about."""
    said_yes = any(one.tells == TALK and list(one.words) in (["yes"], ["yeah"], ["yep"]) for one in clauses)
    return [replace(one, tells=ASK) if said_yes and list(one.words) == ["no"] else one for one in clauses]


def _puts_right(one: Clause, spotter: Spotter) -> bool:
    """Whether it jokes or puts right; "meant to write" does not."""
    return bool(spotter.apart(one.start, one.end, "JOKED", "CORRECTED", by=("MEANT_TO",)))


def agreed(clauses: list[Clause], spotter: Spotter, context: Context) -> list[Clause]:
    """Deeds asked about where words beside them shake what was told; what is said twice only once."""
    put_right = any(one.tells != "did" and _puts_right(one, spotter) for one in clauses)
    pairs = list(zip(clauses, (None, *clauses), strict=False))
    topics = [next((one for one in clauses[n::-1] if one.named), None) for n in range(len(clauses))]
    shaken = ["did"] * any(
        _shakes(one, before, spotter, context)
        for (one, before), topic in zip(pairs, topics, strict=True)
        if not (_is_of_other_trees(one, topic, clauses) or _is_excuse(one, spotter))
    )
    shaken += ["did"] * _runs_on_from_a_denial(clauses, spotter)
    wondered = ("DOUBTED", "BUDS", "PESTS", "MOULD")
    shaken += SEEN * any(one.tells == TALK and spotter.has(one.start, one.end, *wondered) for one in clauses)
    shaken += ["reading"] * _are_elsewhere(clauses, spotter)
    noted = [one for one in clauses if one.tells in RECORDED]
    trees = {tree for one in noted for tree in one.trees_named} if all(one.named for one in noted) else set()
    shaken += RECORDED * (
        put_right
        or any(
            _is_number(one) or (_takes_back(one, before, trees, spotter) and not _is_excuse(one, spotter))
            for one, before in pairs
        )
    )
    clauses = [replace(one, tells=one.tells + MAYBE) if one.tells in shaken else one for one in clauses]
    untold = [one for one in clauses if one.tells in PUT_OFF and not one.has_targets]
    denied = any(one.tells == "not_done" for one in untold)
    if untold:  # "all done, will close soon"; "closed? no, closed porch"
        clauses = [
            replace(one, tells=ASK) if one.tells == "did" and (denied or not one.has_targets) else one
            for one in clauses
        ]
    clauses = _without_what_is_put_right(_yes_and_no(clauses), spotter)
    told = any(one.tells in ("did", ASK) for one in clauses)
    placed = {kept.name for one in clauses if one.tells in ("damage", "damage?") and one.named for kept in one.kept[:1]}
    any_noted = any(one.tells in RECORDED for one in clauses)
    clauses = last_absence(clauses)
    return [
        one for one in clauses
        if not (any_noted and one.tells == "bare") and not (told and one.tells in PUT_OFF and not one.has_targets)
        and not (one.tells in ("damage", "damage?") and not one.named and one.kept[0].name in placed)
    ]  # fmt: skip
