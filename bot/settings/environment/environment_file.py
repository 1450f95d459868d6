"""The environment of the service, read from the file that systemd reads: commands by hand then mean the same places."""

import os
import re
import shlex
import stat
from collections.abc import MutableMapping
from pathlib import Path
from typing import Final

from bot.settings.environment.private_files import SecretsError

OURS: Final = "BEDSTRAW_"
LARGEST_BYTES: Final = 64_000  # some hundred lines; assumed
ASSIGNMENT: Final = re.compile(r"(?:export\s+)?([A-Za-z_][A-Za-z0-9_]*)=(.*)")


def use_environment_file(path: Path, environ: MutableMapping[str, str] | None = None) -> None:
    """Our names in the environment as the file has them, and no others: what a shell has set besides counts no more.

    Lines as systemd reads them (systemd.exec(5), EnvironmentFile=): NAME=value, the value in quotation marks or not;
    blank lines and those that begin with # or ; say nothing. A last backslash, which would join two lines, is refused.

    Raises
    ------
    SecretsError
        The file can't be read, a line is none of these, or others can read a secret in it.
    """
    environ = os.environ if environ is None else environ
    found = dict(_assignment(line, number, path) for number, line in _lines(path))
    _refuse_open(path, found)
    for name in [name for name in environ if name.startswith(OURS)]:
        del environ[name]
    environ.update({name: value for name, value in found.items() if name.startswith(OURS)})


def _lines(path: Path) -> list[tuple[int, str]]:
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode) or status.st_size > LARGEST_BYTES:
            raise SecretsError(f"The environment file {path} is not a short plain file.")
        text = path.read_text(encoding="utf-8")
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "it is not text"
        raise SecretsError(f"The environment file {path} cannot be read: {reason.lower()}.") from None
    numbered = enumerate((line.strip() for line in text.splitlines()), start=1)
    return [(number, line) for number, line in numbered if line and line[0] not in "#;"]


def _assignment(line: str, number: int, path: Path) -> tuple[str, str]:
    """One name and its value; the sentence about a line that is none never shows what it holds."""
    refusal = SecretsError(f"Line {number} of the environment file {path} is not NAME=value.")
    match = ASSIGNMENT.fullmatch(line)
    if match is None or line.endswith("\\"):
        raise refusal
    name, value = match[1], match[2].strip()
    try:
        return name, "".join(shlex.split(value)) if value[:1] in ("'", '"') else value
    except ValueError:  # a quotation mark that is not closed
        raise refusal from None


def _refuse_open(path: Path, found: MutableMapping[str, str]) -> None:
    secret = bool(found.get("BEDSTRAW_TOKEN")) or ":" in _account(found.get("BEDSTRAW_LOGBOOK", ""))
    if os.name == "posix" and secret and stat.S_IMODE(path.stat().st_mode) & stat.S_IROTH:
        raise SecretsError(f"The environment file {path} holds a secret that others can read; run: chmod o= {path}")


def _account(address: str) -> str:
    """The part of an address before its @, where a password stands behind a colon."""
    return address.partition("://")[2].rpartition("@")[0]
