"""What the nouns refuse → where it stands in the grower's file and a sentence."""

import re
from collections.abc import Callable, Mapping
from typing import Any, Final, get_args, get_origin

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from bot.settings.garden import Garden
from bot.settings.grower_units import Unit, field_meant, spellings, stem_and_unit
from bot.settings.problems import did_you_mean, listed, nearest
from bot.settings.toml_text.toml_lines import Path

# Kinds of refusal whose sentence needs nothing else.
PLAIN: Final[Mapping[str, str]] = {
    "missing": "is missing",
    "string_too_short": "must not be empty",
    "string_type": 'must be text in "quotation marks"',
    "float_type": "must be a number, without quotation marks",
    "int_type": "must be a whole number, without quotation marks",
    "bool_type": "must be true or false, without quotation marks",
    "model_type": "must be a [table] of keys",
    "dict_type": "must be a [table] of keys",
    "mapping_type": "must be a [table] of keys",
    "tuple_type": "must be a list: [[double brackets]] before each entry, or [a, b]",
    "time_type": 'must be a time like "21:00"',
    "time_parsing": 'must be a time like "21:00"',
    "finite_number": "must be an ordinary number",
}
BOUNDS: Final[Mapping[str, tuple[str, str]]] = {
    "greater_than_equal": ("ge", "must be at least"),
    "less_than_equal": ("le", "must be at most"),
    "greater_than": ("gt", "must be more than"),
    "less_than": ("lt", "must be less than"),
}


def sentence_of(error: ErrorDetails, written: Path) -> str:
    """What would be right, for one refusal of a noun; bounds in the unit the grower used.

    Parameters
    ----------
    error
        The refusal as pydantic gives it.
    written
        The path as it stands in the file, which tells the grower's unit.
    """
    kind, context = error["type"], error.get("ctx", {})
    if kind in BOUNDS:
        name, words = BOUNDS[kind]
        return f"{words} {bound_in_words(float(context[name]), error['loc'], written)}"
    if kind in ("enum", "literal_error"):
        choices = re.findall(r"'([^']*)'", str(context["expected"]))
        return f"must be one of {listed(choices)}{did_you_mean(error['input'], choices)}"
    if kind in _COUNTED:
        return _COUNTED[kind](context)
    if kind == "extra_forbidden":
        return unknown_key(str(error["loc"][-1]), error["loc"][:-1])
    if kind == "value_error":
        return str(context["error"])
    return PLAIN.get(kind, error["msg"][:1].lower() + error["msg"][1:])


_COUNTED: Final[Mapping[str, Callable[[dict[str, Any]], str]]] = {
    "string_too_long": lambda context: f"must be at most {context['max_length']} letters long",
    "too_short": lambda context: f"needs at least {context['min_length']} of them, has {context['actual_length']}",
    "too_long": lambda context: f"may have at most {context['max_length']}, has more",
}


def bound_in_words(bound: float, field: Path, written: Path) -> str:
    """A bound of a field in the unit it was written in.

    >>> bound_in_words(6000.0, ("site", "elevation_m"), ("site", "elevation_ft"))
    '19685.04 ft'
    """
    base, used = _unit_on(field), _unit_on(written)
    if base is None or used is None:
        return f"{bound:g}"
    return f"{round(used.from_base(base.to_base(bound)), 2):.10g} {used.written}"


def meant_field(path: Path) -> Path:
    """The path of the field that an unknown key most likely stands for; the path itself when none is near."""
    fields = fields_at(path[:-1])
    found = nearest(str(path[-1]), spellings(fields)) if path else None
    field = field_meant(found, fields) if found else None
    return (*path[:-1], field) if field else path


def unknown_key(key: str, around: Path) -> str:
    """The sentence for a key no noun knows: the nearest right one, or the table it belongs to."""
    known = list(spellings(fields_at(around)))
    if around and key in Garden.model_fields:
        return "does not belong into this table; it stands at the top of the file, before the first [table]"
    return f"is not a key that is known here{did_you_mean(key, known)}"


def fields_at(path: Path) -> Mapping[str, Any]:
    """The fields of the noun that stands at a path of the garden file."""
    annotation: Any = Garden
    for step in path:
        noun = noun_of(annotation)
        annotation = noun.model_fields[str(step)].annotation if noun else inside(annotation)
    noun = noun_of(annotation)
    return noun.model_fields if noun else {}


def noun_of(annotation: Any) -> type[BaseModel] | None:
    """The noun an annotation stands for, if it is one."""
    return annotation if isinstance(annotation, type) and issubclass(annotation, BaseModel) else None


def inside(annotation: Any) -> Any:
    """What a list holds, or a table of freely named entries."""
    parts = get_args(annotation)
    if not parts:
        return None
    return parts[1] if get_origin(annotation) not in (tuple, list) else parts[0]


def _unit_on(path: Path) -> Unit | None:
    """The unit of the last name on a path that has one."""
    units = [found[1] for step in path if isinstance(step, str) and (found := stem_and_unit(step))]
    return units[-1] if units else None
