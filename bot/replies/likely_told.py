"""What words of a person's own likely tell, by what like sentences told: offered in one tap, never noted unasked."""

from collections.abc import Callable
from typing import Final

from bot.replies.clause import Clause, clause_of
from bot.replies.grammar import ours
from bot.replies.grammar.recogniser import Kept
from bot.replies.labels import label
from bot.replies.learned.features import features
from bot.replies.learned.likely import TOLD, learned
from bot.replies.meanings.deeds import read_done
from bot.replies.meanings.left_over import speaks_of_ours
from bot.replies.meanings.read import Read, or_no
from bot.replies.meanings.sights import read_condition, read_sight
from bot.replies.nouns import Ambiguous, Choice, Context, Meaning, NotUnderstood, Question, Reply, Understood, Verb
from bot.replies.words.marking import Marked
from rules.garden.condition import ConditionKind

Reader = Callable[[Clause, Context, tuple[str, ...]], Read]
OFFERED: Final = 0.45  # of what is as likely four in five are it, on 160 sentences of people who saw none learned from
BELIEVED: Final = 0.6  # of what notes nothing: not done yet, or none of our business; no source
# What is learned, as the grammar tells it and keeps it.
AS_TOLD: Final[dict[str, tuple[str, str, Reader]]] = {
    **{kind: ("damage", kept, read_condition) for kind, kept in {
        "mice": "pests", "mould": "mould", "wet": "wet", "sunk": "sunk", "torn": "torn", "snow_on": "snowed",
        "branch_broken": "branch", "cap_off": "cap_off", "mended": "mended",
    }.items()},
    "buds": ("swelling", "", read_sight), "leaves_off": ("dropped", "", read_sight),
    **{kind: ("did", kept, read_done) for kind, kept in {
        "closed": "closed", "opened": "vented", "wrapped": "wrapped", "stripped": "stripped",
    }.items()},
}  # fmt: skip
MOVES: Final = {"moved_in": "inside", "moved_out": "outside"}
UNDONE: Final = ("not_done", "cannot", "later")


def likely_told(line: Marked, context: Context) -> Reply | None:
    """What a reply that nobody could read likely tells; None where no one kind stands out, or it asks."""
    spoken = features(line)
    if not line.words or learned().asks(spoken) >= 1 / 2:
        return None
    told = learned().likely(TOLD, spoken)
    best, chances = told[0], dict(told)
    named = bool(line.trees)
    asked = context.asks[-1] if context.asks else None
    if asked and not named and sum(chances[kind] for kind in UNDONE) >= BELIEVED:
        return Understood(meanings=(Meaning(verb=Verb.NOT_DONE, trees=asked.trees, ask_key=asked.key),))
    if best.matter == "talk" and best.chance >= BELIEVED and not speaks_of_ours(line) and not _counts(line):
        return NotUnderstood(is_ours=False)
    return _offered(best.matter, line, context) if best.chance >= OFFERED else None


def _counts(line: Marked) -> bool:
    """Whether it holds a time, a number, or words that take something back."""
    taken_back = not ours().words("CORRECTS").isdisjoint(line.words)
    return taken_back or any(word[0] in "#%~" or word.isdigit() for word in line.words)


def _offered(kind: str, line: Marked, context: Context) -> Ambiguous | None:
    """The readings of one kind as choices, and that it is none of them."""
    read = _moved(kind, line, context) if kind in MOVES else _as_told(kind, line, context)
    if not read.options:
        return None
    no = Meaning(verb=Verb.NO)
    is_deed = read.options[0][0].is_deed
    ways = [*read.options[:2], (no,)] if len(read.options) > 1 else list(or_no(read).options)
    choices = tuple(Choice(label=label(way, context), meanings=way) for way in ways)
    return Ambiguous(question=Question.DONE_OR_NOT if is_deed else Question.SO_OR_NOT, choices=choices)


def _as_told(kind: str, line: Marked, context: Context) -> Read:
    tells, kept, reader = AS_TOLD.get(kind, ("", "", None))
    denied = not ours().words("DENIES").isdisjoint(line.words)
    of_ours = bool(line.trees) or (tells != "did" and speaks_of_ours(line))
    if reader is None or denied or not of_ours:
        return Read()
    trees = [Kept("tree", n, n + 1) for n, word in enumerate(line.words) if word[0] == "@"]
    clause = clause_of(tells, (*([Kept(kept, 0, 1)] if kept else []), *trees), line, 0, len(line.words), "")
    return reader(clause, context, ())


def _moved(kind: str, line: Marked, context: Context) -> Read:
    """The pot that is named, or the only one there is, brought in or out."""
    pots = [tree.name for tree in context.trees if tree.standing == "pot"]
    named = [tree for tree in pots if tree in line.trees_named] or (pots if len(pots) == 1 and not line.trees else [])
    told = [
        Meaning(verb=Verb.CONDITION, condition=ConditionKind.MOVED, trees=(pot,), text=MOVES[kind]) for pot in named
    ]
    return Read(options=tuple((one,) for one in told))
