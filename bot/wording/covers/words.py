"""How each kind of cover is spoken of: what is done to it, how it stands, and what lies over its top."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bot.wording.formats import names
from rules.garden.condition import CoverCondition, Layer, Top
from rules.garden.cover import Cover, CoverState, Preset
from rules.garden.materials import Cap
from rules.garden.records import DeedKind
from rules.outlook.garden_outlook import Outlook


class Manner(StrEnum):
    """Kinds of cover that people speak of in the same words."""

    CAPPED = "capped"
    TOPPED = "topped"  # film or the wrap itself drawn over the top
    WRAP = "wrap"  # no top of its own: on or off
    TENT = "tent"
    BOX = "box"
    MOUND = "mound"
    POT = "pot"


@dataclass(frozen=True, kw_only=True)
class CoverWords:
    """The words of one kind of cover; `{}` stands for the trees.

    `do` is what is asked for and `done` what was told, by the deed; `stands` how it is, by the state; `button` the
    short word for done. `top` is what lies over it, empty where nothing is opened or shut.
    """

    top: str
    do: Mapping[DeedKind, str]
    done: Mapping[DeedKind, str]
    button: Mapping[DeedKind, str]
    stands: Mapping[CoverState, str]


def _do(wrapped: str, vented: str, closed: str, stripped: str) -> dict[DeedKind, str]:
    return dict(zip(DeedKind, (wrapped, vented, closed, stripped, "put a blanket over {}"), strict=True))


def _done(wrapped: str, vented: str, closed: str, stripped: str) -> dict[DeedKind, str]:
    return dict(zip(DeedKind, (wrapped, vented, closed, stripped, "blanket put over {}"), strict=True))


def _button(wrapped: str, vented: str, closed: str, stripped: str) -> dict[DeedKind, str]:
    return dict(zip(DeedKind, (wrapped, vented, closed, stripped, "Blanket on"), strict=True))


def _by_state(bare: str, vented: str, closed: str) -> dict[CoverState, str]:
    return dict(zip(CoverState, (bare, vented, closed), strict=True))


def _with_top(top: str) -> CoverWords:
    return CoverWords(
        top=top,
        do=_do("wrap {}", "open {}", "close {}", "uncover {}"),
        done=_done("{} wrapped", "{} opened", "{} closed", "{} uncovered"),
        button=_button("Wrapped", "Opened", "Closed", "Uncovered"),
        stands=_by_state("bare", f"{top} open", f"{top} shut"),
    )


WORDS: Final[Mapping[Manner, CoverWords]] = {
    Manner.CAPPED: _with_top("cap"),
    Manner.TOPPED: _with_top("top"),
    Manner.WRAP: CoverWords(
        top="",
        do=_do("wrap {}", "unwrap {}", "wrap {}", "unwrap {}"),
        done=_done("{} wrapped", "{} unwrapped", "{} wrapped", "{} unwrapped"),
        button=_button("Wrapped", "Unwrapped", "Wrapped", "Unwrapped"),
        stands=_by_state("bare", "wrapped", "wrapped"),
    ),
    Manner.TENT: CoverWords(
        top="film",
        do=_do("put the film on {}", "open the film on {}", "close the film on {}", "take the film off {}"),
        done=_done("film put on {}", "film opened on {}", "film closed on {}", "film taken off {}"),
        button=_button("Film on", "Opened", "Closed", "Film off"),
        stands=_by_state("bare", "film open", "film shut"),
    ),
    Manner.BOX: CoverWords(
        top="lid",
        do=_do("put the box on {}", "take the lid off {}", "put the lid on {}", "take the box off {}"),
        done=_done("box put on {}", "lid taken off {}", "lid put on {}", "box taken off {}"),
        button=_button("Box on", "Lid off", "Lid on", "Box off"),
        stands=_by_state("bare", "lid off", "lid on"),
    ),
    Manner.MOUND: CoverWords(
        top="",
        do=_do("mound {}", "open the mound over {}", "close the mound over {}", "take the mound off {}"),
        done=_done("{} mounded", "mound over {} opened", "mound over {} closed", "mound taken off {}"),
        button=_button("Mounded", "Opened", "Closed", "Mound off"),
        stands=_by_state("bare", "mound open", "mounded"),
    ),
    Manner.POT: CoverWords(
        top="",
        do=_do("bring {} in", "take {} out", "bring {} in", "take {} out"),
        done=_done("{} brought in", "{} taken out", "{} brought in", "{} taken out"),
        button=_button("Brought in", "Taken out", "Brought in", "Taken out"),
        stands=_by_state("outside", "outside", "inside"),
    ),
}
LAYERS: Final[Mapping[Layer, str]] = {
    Layer.FILL: "straw", Layer.BLANKET: "blanket", Layer.FILM: "film", Layer.BOARDS: "boards",
}  # fmt: skip

Covers = Mapping[str, Cover | None]


def manner_of(cover: Cover | None) -> Manner:
    """The kind of cover it is; without one, the commonest."""
    if cover is None:
        return Manner.CAPPED
    if cover.preset is Preset.MOUND:
        return Manner.MOUND
    if cover.is_shelter:
        return Manner.POT
    if cover.boards_m > 0 or cover.lid_m > 0:
        return Manner.BOX
    if cover.built_of == {Layer.FILM}:
        return Manner.TENT
    if cover.cap is Cap.NONE:
        return Manner.WRAP
    return Manner.TOPPED if cover.cap in (Cap.FILM, Cap.GATHERED) else Manner.CAPPED


def words_of(cover: Cover | None) -> CoverWords:
    """The words of one cover."""
    return WORDS[manner_of(cover)]


def has_top(cover: Cover | None) -> bool:
    """Whether it has a top that is opened and shut by itself, so that a wrap leaves the question how it stands."""
    return cover is None or cover.opens


def covers_of(outlook: Outlook | None) -> Covers:
    """The cover of each tree that was looked ahead for."""
    return {one.tree.name: one.cover for one in outlook.trees} if outlook else {}


def do_words(verb: DeedKind, trees: Sequence[str], covers: Covers) -> str:
    """What to do at these trees, each in its cover's own words.

    >>> mound = Cover(name="low", preset=Preset.MOUND)
    >>> do_words(DeedKind.WRAPPED, ["Porch", "Wall", "Kaki"], {"Kaki": mound})
    'wrap Porch and Wall and mound Kaki'
    """
    return names([words.format(names(same)) for words, same in _grouped("do", verb, trees, covers)])


def done_words(verb: DeedKind, trees: Sequence[str], covers: Covers) -> str:
    """What was done at these trees, each in its cover's own words."""
    return names([words.format(names(same)) for words, same in _grouped("done", verb, trees, covers)])


def done_alone(verb: DeedKind, cover: Cover | None) -> str:
    """What was done, without the tree: "wrapped", "lid put on"."""
    words = words_of(cover).done[verb]
    return " ".join(words.replace("{}", "it" if words.endswith("over {}") else "").split())


def done_label(verb: DeedKind, trees: Sequence[str], covers: Covers) -> str:
    """The word on the button that says it was done: the covers' own where they share one."""
    labels = {words_of(covers.get(tree)).button[verb] for tree in trees}
    return labels.pop() if len(labels) == 1 else "Done"


def stands_words(cover: Cover | None, state: CoverState) -> str:
    """How a cover stands, with what is wrong with it: "cap open", "mounded", "film not on, cap shut"."""
    if state is CoverState.BARE or cover is None:
        return words_of(cover).stands[state]
    wrong = condition_words(cover.condition, cover)
    stands = words_of(cover).stands[state]
    if cover.condition.top is Top.GONE:
        stands = f"{words_of(cover).top or 'top'} gone"
    return ", ".join([*wrong, stands])


def condition_words(condition: CoverCondition, cover: Cover) -> list[str]:
    """What of a cover is not as it was built, a few words each; how its top stands left out."""
    fill = "straw" if cover.fill == "none" else str(cover.fill)
    off = [f"{fill if layer is Layer.FILL else LAYERS[layer]} not on" for layer in Layer if layer in condition.off]
    told = {
        "film torn": condition.torn,
        f"{fill} wet": condition.wet,
        f"{fill} sunk": condition.sunk_to_m is not None,
        "snow on it": condition.snow_on_m > 0,
    }
    return [*off, *(words for words, holds in told.items() if holds)]


def _grouped(of: str, verb: DeedKind, trees: Sequence[str], covers: Covers) -> list[tuple[str, list[str]]]:
    """The trees that one phrase speaks of together, in their order."""
    groups: dict[str, list[str]] = {}
    for tree in trees:
        words: Mapping[DeedKind, str] = getattr(words_of(covers.get(tree)), of)
        groups.setdefault(words[verb], []).append(tree)
    return list(groups.items())
