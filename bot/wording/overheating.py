"""The sentences about covers that would stew in the sun, and the one caution about clear film."""

from dataclasses import dataclass
from datetime import date

from bot.wording.formats import Style, names
from rules.garden.cover import CoverState
from rules.heat.what_if import OPEN_IT_C, clear_film_alone
from rules.outlook.garden_outlook import Outlook
from rules.wood.margins import Night, TreeMargins

DAYS_TOLD = 3  # a forecast of sun further ahead is not worth a word yet; no source
CLEAR_FILM = (
    "Once this season: clear film with nothing behind it heats up fast, and a small hole does not cool it. "
    "Open it at the top and at the bottom."
)


@dataclass(frozen=True, kw_only=True)
class Stewing:
    """One cover that stands shut on a day on which it gets hot inside [°C]."""

    tree: str
    day: date
    inside_c: float
    clear_film: bool


def stewing(outlook: Outlook) -> list[Stewing]:
    """The first hot day of each cover that stands shut and that the plan does not open before."""
    found = []
    for one in outlook.trees:
        hot = next((night for night in one.nights[:DAYS_TOLD] if _is_hot(one, night)), None)
        if hot is None or one.cover is None or not one.cover.opens or _opens_by(one.tree.name, hot.evening, outlook):
            continue
        inside_c = hot.tissue[CoverState.CLOSED].warmest_c
        clear = clear_film_alone(one.cover)
        found.append(Stewing(tree=one.tree.name, day=hot.evening, inside_c=inside_c, clear_film=clear))
    return found


def _is_hot(one: TreeMargins, night: Night) -> bool:
    shut = night.tissue.get(CoverState.CLOSED)
    return one.state == CoverState.CLOSED and shut is not None and shut.warmest_c > OPEN_IT_C


def _opens_by(tree: str, day: date, outlook: Outlook) -> bool:
    opens = (act for act in outlook.acts if act.tree == tree and act.state != CoverState.CLOSED)
    return any(act.night <= day for act in opens)


def hot_lines(hot: list[Stewing], style: Style, outlook: Outlook) -> list[str]:
    """One line a day for all covers that would stew on it."""
    lines = []
    for day in sorted({one.day for one in hot}):
        these = [one for one in hot if one.day == day]
        inside = style.degrees(max(one.inside_c for one in these))
        it = "it" if len(these) == 1 else "them"
        trees = names([one.tree for one in these])
        lines.append(
            f"Shut, it would reach {inside} inside {trees} {_on(style.day(day, outlook.now))}: open {it} for the sun."
        )
    return lines


def _on(day: str) -> str:
    return day if day in ("today", "tomorrow") else f"on {day}"
