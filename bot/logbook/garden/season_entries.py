"""The columns of the records table in which the entries of a season are kept."""

from rules.garden.records import Dieback
from rules.garden.season_records import Cuttings, Gift, Harvest, Photo, Pruning, SeasonEntry


def columns_of(entry: SeasonEntry) -> dict[str, object]:
    """The columns of the records table that hold what this entry has of its own."""
    match entry:
        case Dieback():
            return {"share": entry.share, "length_m": entry.length_m, "whole_m": entry.whole_m}
        case Harvest():
            return {"number": entry.count}
        case Pruning():
            return {"text": entry.text}
        case Cuttings():
            return {"number": entry.count, "text": entry.text}
        case Gift():
            return {"text": entry.to}
        case Photo():
            return {"what": entry.file_id, "file": entry.file, "text": entry.text}
