"""Files with secrets in them, which nobody but their owner may read; what is wrong with one never repeats its words."""

import os
import re
import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

LONGEST_TOKEN_FILE: Final = 4096
SecondWays = Mapping[str, Mapping[str, tuple[str, ...]]]  # addresses by garden and person
SHORTEST_WORD: Final = 20  # letters; assumed: beyond guessing at the pace of one try in two seconds


class SecretsError(Exception):
    """An environment that cannot be used; the sentence never holds the secret."""


def private_words(path: Path) -> str:
    """The content of the token file, if nobody but its owner can read it."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode) or status.st_size > LONGEST_TOKEN_FILE:
            raise SecretsError(f"The token file {path} is not a short plain file.")
        if os.name == "posix" and stat.S_IMODE(status.st_mode) & 0o077:
            raise SecretsError(f"The token file {path} can be read by others; run: chmod 600 {path}")
        return path.read_text(encoding="utf-8").strip()
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "it is not text"
        raise SecretsError(f"The token file {path} cannot be read: {reason.lower()}.") from None


def tokens_of_many(file: str) -> dict[str, str]:
    """The word of each garden, of a file with lines such as `Larkmoor = "…"`."""
    if not file:
        return {}
    try:
        told = TypeAdapter(dict[str, str]).validate_python(tomllib.loads(private_words(Path(file))))
    except (tomllib.TOMLDecodeError, ValidationError):  # their words may hold what was read
        told = {"": ""}
    short = [word for word in told.values() if len(word) < SHORTEST_WORD or not re.fullmatch(r"[!-~]+", word)]
    if short or len(set(told.values())) < len(told):
        words = (
            f'needs lines like Larkmoor = "…", each with another word of at least {SHORTEST_WORD} letters and digits'
        )
        raise SecretsError(f"The file of tokens {file} {words}.")
    return told


def second_ways(file: str) -> SecondWays:
    """The addresses of a file; none where no file is named."""
    if not file:
        return {}
    try:
        return TypeAdapter(SecondWays).validate_python(tomllib.loads(private_words(Path(file))))
    except (tomllib.TOMLDecodeError, ValidationError):  # their words may hold what was read
        words = 'must be TOML with lines such as Rowan = ["mailtos://…"] below the name of their garden, [Larkmoor].'
        raise SecretsError(f"The file of second ways {file} {words}") from None
