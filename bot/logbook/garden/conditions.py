"""The columns of the records table in which the condition of a cover is kept."""

from datetime import datetime

from rules.garden.condition import ConditionKind, ConditionTold, Layer

OVER, ON = "over", "on"


def condition_columns(told: ConditionTold) -> dict[str, object]:
    """The columns of one condition: what, whether it is put right, which layer, how high or deep, moved where."""
    text = OVER if told.is_over else ON
    layer = told.layer.value if told.layer else None
    return {"what": told.kind.value, "text": text, "cover_state": layer, "length_m": told.size_m, "file": told.place}


def condition_of(
    tree: str, at_utc: datetime, *, what: str, text: str, layer: str | None, size_m: float | None, place: str | None
) -> ConditionTold:
    """The condition kept in these columns."""
    return ConditionTold(
        tree=tree, kind=ConditionKind(what), at_utc=at_utc, layer=Layer(layer) if layer else None, size_m=size_m,
        place=place or "", is_over=text == OVER,
    )  # fmt: skip
