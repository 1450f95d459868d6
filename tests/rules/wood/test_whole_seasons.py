"""Whole seasons, kept as files a grower can read, go as a grower expects."""

import tomllib
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest

from rules.garden.records import Sighting, SightingKind
from rules.garden.species import Organ
from rules.garden.tree import Site, Tree
from rules.wood.daily_temperatures import WoodDays
from rules.wood.hardiness import Hardiness, hardiness
from tests.rules.wood.test_hardiness import verdict

NOON: Final = time(12)
SEASONS: Final = sorted((Path(__file__).parent / "seasons").glob("*.toml"))


def read_season(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def season_wood_days(season: dict[str, Any]) -> WoodDays:
    points = season["days"]
    marks = [(point["on"] - points[0]["on"]).days for point in points]
    days = np.arange(marks[-1] + 1)
    night, day = (np.interp(days, marks, [p[name] for p in points]) for name in ("night", "day"))
    for spell in season.get("spell", []):
        inside = slice(*((spell[end] - points[0]["on"]).days + extra for end, extra in (("from", 0), ("until", 1))))
        night[inside], day[inside] = spell["night"], spell["day"]
    return WoodDays(first=points[0]["on"], mean_c=(night + day) / 2, min_c=night, max_c=day)


FACTS: Final = [(path, fact) for path in SEASONS for fact in read_season(path)["fact"]]


@pytest.mark.parametrize(("path", "fact"), FACTS, ids=[f"{p.stem}: {f['says']}" for p, f in FACTS])
def test_a_season_goes_as_a_grower_expects(path: Path, fact: dict[str, Any]) -> None:
    season = read_season(path)
    site = Site(latitude_deg=season["latitude_deg"], longitude_deg=-100, elevation_m=900, time_zone="UTC")
    tree = Tree(name="Porch", species=season["species"], cultivar=season.get("cultivar", ""))
    sightings = [
        Sighting(tree="Porch", sight=SightingKind(each["sight"]), at_utc=datetime.combine(each["on"], NOON, tzinfo=UTC))
        for each in season.get("seen", [])
    ]

    def on(day: date) -> Hardiness:
        return hardiness(tree, site, season_wood_days(season), sightings, day)

    now = on(fact["on"])
    assert fact.get("phase", now.phase) == now.phase
    for organ, name in ((Organ.WOOD, "wood"), (Organ.SHOOTS, "leaves")):
        if name in fact:
            assert verdict(fact["night"], now.organs[organ].lt10_c, now.organs[organ].lt50_c) == fact[name]
    if "softer_than" in fact:
        assert now.lt10_c - on(fact["softer_than"]).lt10_c >= fact["by_at_least"]
    if "harder_than" in fact:
        assert now.lt10_c < on(fact["harder_than"]).lt10_c


def test_every_season_says_what_a_grower_would_expect() -> None:
    assert {path.stem for path in SEASONS} == {"normal_autumn", "early_arctic_outbreak", "january_thaw", "false_spring"}
    assert all(read_season(path)["expected"].endswith((".", ").")) for path in SEASONS)
