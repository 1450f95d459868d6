"""The sentences about a garden file that was sent to us."""

from collections.abc import Iterator, Sequence
from typing import Final

from bot.settings import Garden, Problem, first_in_words
from bot.wording.formats import counted, names

PUT_BACK: Final = "Put the old one back"
SHOWN: Final = 3  # mistakes or doubts told; the rest are counted. No source
PARTS: Final = {
    "site": "the place", "units": "units", "quiet_from": "quiet hours", "quiet_until": "quiet hours",
    "people": "people", "services": "weather services", "services_together": "how services are heard",
    "page_on_saturdays": "when the page comes",
    "contact": "contact", "saved_forecasts": "saved forecasts",
    "past_weather": "past weather", "past_winters": "past winters", "covers": "covers", "jobs": "jobs", "shed": "shed",
}  # fmt: skip


def reading(name: str) -> str:
    """That a file is being fetched."""
    return f"I am reading {name}. Nothing changes before you say so."


def how_by_phone() -> str:
    """How a file is brought in from a phone."""
    return 'Send me the garden file here, as a file; "export" gives you the one I have. I ask before anything changes.'


def how_at_terminal(path: str) -> str:
    """How a file is brought in at the terminal; `path` is what was said and is none."""
    missing = f"There is no file {path}. " if path else ""
    return (
        f'{missing}Say "import" and where the file is, for example "import copy.toml". I ask before anything changes.'
    )


def not_fetched(name: str) -> str:
    """That the messenger did not give a file."""
    return f"I could not get {name}. Please send it once more; nothing was changed."


def no_garden_file() -> str:
    """That a file is none we can use."""
    return "I can use a photo of a tree, or a garden file (.toml, at most 100 kB). Nothing was changed."


def unusable(name: str, problems: Sequence[Problem]) -> str:
    """Why a file can't be used: its first mistakes, as `bedstraw check` tells them."""
    count = f"{len(problems)} mistakes" if len(problems) > 1 else "a mistake"
    if len(problems) == 1 and not problems[0].key and problems[0].line is None:
        return f"I can't use {name}: it {problems[0].sentence}. Nothing was changed."
    return "\n".join([f"I can't use {name}; nothing was changed. It has {count}:", *first_in_words(problems, SHOWN)])


def the_same(name: str) -> str:
    """That there is nothing to do."""
    return f"{name} is the garden file I have, letter for letter. Nothing to change."


def ask_import(name: str, old: Garden, new: Garden, doubts: Sequence[Problem]) -> str:
    """What a file would change, and the question."""
    look = [f"Look again: {doubt}" for doubt in doubts[:SHOWN]]
    return "\n".join([f"{name}: use it as your garden file?", *changes(old, new), *look, "The old one is kept."])


def changes(old: Garden, new: Garden) -> Iterator[str]:
    """What differs between two gardens, one kind of change a line."""
    before, after = {tree.name: tree for tree in old.trees}, {tree.name: tree for tree in new.trees}
    told = [
        ("New", [name for name in after if name not in before]),
        ("Gone", [name for name in before if name not in after]),
        ("Changed", [name for name in after if name in before and after[name] != before[name]]),
        ("Other", list(dict.fromkeys(word for key, word in PARTS.items() if getattr(old, key) != getattr(new, key)))),
    ]
    found = [f"{what}: {names(which)}." for what, which in told if which]
    yield from found or ["Only remarks or the order of lines differ."]


def imported(old: Garden, new: Garden, kept: str) -> str:
    """That the new file is in its place."""
    return "\n".join(
        [
            f"Done: {counted(len(new.trees), 'tree')} {'is' if len(new.trees) == 1 else 'are'} watched from now on.",
            *changes(old, new),
            f"The old file is kept as {kept}.",
        ]
    )


def kept() -> str:
    """That a file was not used."""
    return "All right, I keep the garden file I have."


def left() -> str:
    """That the new file stays."""
    return "All right, it stays as it is."


def no_longer_kept() -> str:
    """That an old file is gone."""
    return "That old file is no longer kept. Nothing was changed."
