"""`bedstraw check`: what was understood of a garden file, or every mistake in it."""

from pathlib import Path

from bot.settings import in_plain_words, read_garden


def check(path: Path) -> str:
    """The garden in plain words; GardenError with all mistakes where it cannot be read."""
    return in_plain_words(read_garden(path))
