"""The outlook as a plain table for a terminal: each tree, each night, each state of its cover."""

from collections.abc import Sequence
from typing import Final

from bot.nudges import asks
from bot.wording.covers.words import covers_of, do_words, stands_words
from bot.wording.formats import Style, chance, five_minutes
from rules.outlook.garden_outlook import Outlook
from rules.wood.margins import Night, Tissue, TreeMargins

TREES_IN_FULL: Final = 2
NIGHTS_SHOWN: Final = 7
ACTS_SHOWN: Final = 6
DOUBTS_SHOWN: Final = 3
NAME_WIDE: Final = 16
STANDS_WIDE: Final = 18


def outlook_table(outlook: Outlook, style: Style, doubts: Sequence[str]) -> str:
    """The outlook of a garden on one screen of 100 columns; of a few trees every number a person may want to see."""
    if len(outlook.trees) > TREES_IN_FULL:
        return "\n".join([*_screen(outlook, style), "", *_acts(outlook, style)[:ACTS_SHOWN], *doubts[:DOUBTS_SHOWN]])
    lines = [
        f"{_head(outlook, style)} Temperatures in {'°F' if style.fahrenheit else '°C'}.",
        "Field and tree: lowest air of the night. Then for each state of the cover what the wood would feel,",
        "its tip in brackets, ± one standard deviation of what is unknown besides the forecast, chance too cold.",
    ]
    for one in outlook.trees:
        lines += ["", *_tree(one, style)]
    return "\n".join([*lines, "", *_acts(outlook, style), *doubts])


def _screen(outlook: Outlook, style: Style) -> list[str]:
    """One line a tree: how it stands, what it is safe to, the lowest its wood would feel so each night."""
    nights = max((one.nights for one in outlook.trees), key=len)[:NIGHTS_SHOWN]
    columns = "".join(f"{f'{night.evening:%a} {night.evening.day}':>8}" for night in nights)
    open_field = "".join(f"{_degrees(night.field_c, style):>7} " for night in nights)
    return [
        f"{_head(outlook, style)} Temperatures in {'°F' if style.fahrenheit else '°C'}.",
        "What the wood would feel each night as it stands. Too cold: ! 1 chance in 10 or more, !! over half.",
        f"{'':<{NAME_WIDE + STANDS_WIDE}}{'safe to':>9}{columns}",
        f"{'In the open':<{NAME_WIDE + STANDS_WIDE}}{'':>9}{open_field}".rstrip(),
        *(_row(one, len(nights), style) for one in outlook.trees),
    ]


def _row(one: TreeMargins, count: int, style: Style) -> str:
    name, stands = _cut(one.tree.name, NAME_WIDE - 1), _cut(_stands(one), STANDS_WIDE - 1)
    felt = "".join(_felt(night.tissue[one.state_assumed], style) for night in one.nights[:count])
    safe_to = _degrees(one.hardiness.lt10_c, style)
    return f"{name:<{NAME_WIDE}}{stands:<{STANDS_WIDE}}{safe_to:>9}{felt}".rstrip()


def _stands(one: TreeMargins) -> str:
    if one.tree.left_bare or one.cover is None:
        return "bare on purpose" if one.tree.left_bare else "no cover"
    return stands_words(one.cover, one.state) if one.state else "unknown, as bare"


def _felt(tissue: Tissue, style: Style) -> str:
    mark = "!!" if tissue.chance > 0.5 else "!" if tissue.chance >= 0.1 else ""
    return f"{_degrees(tissue.wood_c, style):>6}{mark:<2}"


def _degrees(celsius: float, style: Style) -> str:
    return style.degrees(celsius, unit=False)


def _cut(text: str, wide: int) -> str:
    return text if len(text) <= wide else f"{text[: wide - 1]}…"


def _head(outlook: Outlook, style: Style) -> str:
    since = outlook.issued_utc or outlook.fetched_utc
    local = outlook.now.astimezone(style.zone)
    moment = f"{local:%a} {local.day} {local:%b %Y}, {style.clock(outlook.now)}"
    if since is None:
        return f"{moment}, no forecast."
    return f"{moment}, forecast of {style.day(since, outlook.now)} {style.clock(since)} ({outlook.service})."


def _tree(one: TreeMargins, style: Style) -> list[str]:
    wood = one.hardiness
    numbers = f"safe to {style.degrees(wood.lt10_c, tenths=True)} ± {style.step(wood.sd_c)} ({wood.source})"
    state = one.state.value if one.state else "cover not told, taken as off"
    head = f"{one.tree.name}: {one.tree.species}, {one.tree.standing}, {state}, {wood.phase}, {numbers}"
    return [head, *(_night(night, style) for night in one.nights)] if one.nights else [head, "  no nights known"]


def _night(night: Night, style: Style) -> str:
    def shown(celsius: float) -> str:
        return f"{style.degrees(celsius, tenths=True, unit=False):>6}"

    name = f"{night.evening:%a} {night.evening.day:>2}" + ("" if night.complete else "*")
    states = "  ".join(f"{state.value} {_tissue_c(one, style)}" for state, one in night.tissue.items())
    return f"  {name:<7} field {shown(night.field_c)}  tree {shown(night.air_c)}  {states}"


def _tissue_c(tissue: Tissue, style: Style) -> str:
    wood = style.degrees(tissue.wood_c, tenths=True, unit=False)
    tip = style.degrees(tissue.top_c, tenths=True, unit=False)
    return f"{wood:>6} ({tip}) ± {style.step(tissue.sd_c).split()[0]}, {chance(tissue.chance)}"


def _acts(outlook: Outlook, style: Style) -> list[str]:
    if not outlook.acts:
        return ["Nothing is due."]
    covers = covers_of(outlook)
    wanted = asks(outlook.acts, style.zone)  # the times the nudges say: one visit, one deadline
    begin = {(act.tree, act.by_utc): five_minutes(ask.by_utc) for ask in wanted for act in ask.acts}
    return [
        f"{style.day(act.by_utc, outlook.now)}, begin by {style.clock(begin[act.tree, act.by_utc])}: "
        f"{do_words(act.kind, [act.tree], covers)} ({chance(act.chance)} too cold as it is, "
        f"{chance(act.chance_after)} then)"
        for act in outlook.acts
    ]
