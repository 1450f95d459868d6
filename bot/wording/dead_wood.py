"""The sentences about wood that the cold has probably killed: what happened, what remains, when a scratch tells."""

from collections.abc import Sequence
from datetime import datetime

from bot.wording.formats import Style, names, sentence
from rules.garden.species import Organ
from rules.outlook.garden_outlook import Outlook
from rules.wood.dead_wood import BROWNS_AFTER, WoodLost
from rules.wood.margins import TreeMargins

FOOT_M = 0.3  # of straw or mulch at the base: the low end of an extension service's 30-60 cm (North Carolina)
MOSTLY_DEAD = 5  # parts in 10
FOUND = (("All green", 0.0), ("A third dead", 1 / 3), ("Half dead", 0.5), ("All dead", 1.0))  # labels, share lost


def lost_news(trees: Sequence[str], outlook: Outlook, style: Style) -> str:
    """That some trees are probably dead above ground, what remains of them, and when a look tells."""
    dead = [outlook.tree(name) for name in trees]
    lines = [_what(one, style, outlook.now) for one in dead]
    if any(one.hardiness.lost.organ is Organ.WOOD for one in dead):
        lines.append(
            f"Roots and foot mostly live: keep {style.size(FOOT_M)} of straw or mulch on the foot, cut nothing."
        )
    days = [shows for one in dead if (shows := one.hardiness.lost.shows_from)]
    if days:
        lines.append(
            "I ask for no cover now; what is on can stay till spring. "
            f"From {style.short_date(max(days))} a scratch of the bark tells; I ask you then."
        )
    return "\n".join(lines)


def _what(one: TreeMargins, style: Style, now: datetime) -> str:
    lost = one.hardiness.lost
    organ = "above ground" if lost.organ is Organ.WOOD else "in its flower buds"
    head = f"{one.tree.name} is probably dead {organ}, about {round(10 * lost.share)} parts in 10."
    return f"{head} {_night(lost, style, now)}".strip()


def _night(lost: WoodLost, style: Style, now: datetime) -> str:
    if lost.evening is None or lost.air_c is None or lost.lt10_c is None:
        return ""
    when = sentence(style.night(lost.evening, now)).rstrip(".")
    felt, safe = style.degrees(lost.air_c), style.degrees(lost.lt10_c)
    return f"{when} it felt about {felt} and was safe to {safe}."


def dead_in_words(lost: WoodLost) -> str:
    """The same in a few words, for a list; empty where it is not held dead."""
    if not lost.held_dead:
        return ""
    known = "" if lost.told else "probably "
    return f"{known}dead {'above ground' if lost.organ is Organ.WOOD else 'in bud'}"


def why_no_cover(one: TreeMargins, style: Style, now: datetime) -> str:
    """Why nothing is asked for a tree that is held dead, or what must be known before it is; empty for any other."""
    lost = one.hardiness.lost
    if lost.in_question and lost.evening is not None:
        day = style.short_date(lost.evening)
        dead = f"If it was off, {one.tree.name} is probably dead above ground. {_night(lost, style, now)}"
        return f"Was its cover on by {day}? {dead}"
    if not lost.held_dead:
        return ""
    if lost.told:
        return f"You found it {dead_in_words(lost)}: I ask for no cover. Its foot and roots may shoot again."
    tells = f" From {style.short_date(lost.shows_from)} a scratch of the bark tells." if lost.shows_from else ""
    return f"It is {dead_in_words(lost)}, so I ask for no cover. {_night(lost, style, now)}{tells}"


def dead_trees(trees: Sequence[TreeMargins]) -> str:
    """Who is held dead, in one sentence; empty where nobody is."""
    dead = [one.tree.name for one in trees if one.hardiness.lost.held_dead]
    return f"Held dead above ground: {names(dead)}." if dead else ""


def alive_lines(trees: Sequence[TreeMargins], style: Style, now: datetime) -> str:
    """Whether trees live above ground, those alike together, and how to see it for oneself."""
    said: dict[str, list[str]] = {}
    for one in trees:
        said.setdefault(_lives(one, style, now), []).append(one.tree.name)
    lines = [f"{names(named)}: {words}" for words, named in said.items()]
    browns = f"{BROWNS_AFTER.days} days after a frost"
    return "\n".join([*lines, f"To see: scratch a twig {browns}, in mild weather. Green lives, brown is dead."])


def _lives(one: TreeMargins, style: Style, now: datetime) -> str:
    lost = one.hardiness.lost
    if lost.held_dead or lost.in_question:
        return why_no_cover(one, style, now)
    share = round(10 * lost.share)
    if lost.told:
        return f"alive; you found about {share} parts in 10 dead." if share else "alive, as you found."
    if not share:
        return "probably alive: no night so far was too cold for it."
    head = "" if share >= MOSTLY_DEAD else "mostly alive; "
    return f"{head}about {share} parts in 10 of it probably dead. {_night(lost, style, now)}".strip()


def ask_found(trees: Sequence[str]) -> str:
    """What was found is asked for, in words that are understood."""
    return f'What did you find? Say for example "{trees[0]} lost a third", or "{trees[0]} green to the tips".'
