"""One name for each cultivar, whatever it is traded under."""

import tomllib
import unicodedata
from functools import cache
from importlib.resources import files


def plain(name: str) -> str:
    """A name without case, accents, quotes, points and double spaces, so that names compare as growers mean them.

    >>> plain("  Sal's  (EL)")
    'sals el'
    """
    bare = unicodedata.normalize("NFKD", name.casefold()).encode("ascii", "ignore").decode()
    kept = "".join(c if c.isalnum() else " " for c in bare.replace("'", "").replace(".", ""))
    return " ".join(kept.split())


def one_name(species: str, cultivar: str) -> str:
    """The plain name all synonyms of a cultivar share; one that is not in the table stands for itself.

    >>> one_name("fig", "Chicago Hardy")
    'hardy chicago'
    """
    return _synonyms(species).get(plain(cultivar), plain(cultivar))


@cache
def _synonyms(species: str) -> dict[str, str]:
    table = tomllib.loads(files("rules.garden").joinpath("cultivars.toml").read_text("utf-8"))
    rows: list[list[str]] = table["same"].get(species, [])
    return {plain(name): plain(row[0]) for row in rows for name in row}
