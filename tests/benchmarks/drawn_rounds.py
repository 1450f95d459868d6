"""What drawn gardens are told, to be compared between two states of the code: acts, states, numbers of each night.

    python -m tests.benchmarks.drawn_rounds 500 FILE      the first time writes them
    python -m tests.benchmarks.drawn_rounds 500 FILE      then tells how far they have moved

Each round is a garden of one to four trees of any cover and state, with deeds in the weeks before, under one weather
that is drawn too, at any season; the second look of a garden, two hours on, carries on from the first.
"""

import json
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from rules.garden.cover import Cover, CoverState
from rules.garden.materials import Fill, Film
from rules.garden.records import Deed, DeedKind, Records
from rules.garden.tree import Site, Standing, Tree
from rules.outlook.garden_outlook import Outlook, outlook_carried
from rules.outlook.inputs import OutlookInputs
from rules.weather.hourly import Forecast, HourlyWeather

SITE = Site(latitude_deg=39, longitude_deg=-109, elevation_m=1620, time_zone="America/Denver")
PAST_DAYS, AHEAD_DAYS = 25, 8
KINDS = {
    CoverState.BARE: DeedKind.STRIPPED, CoverState.VENTED: DeedKind.VENTED, CoverState.CLOSED: DeedKind.CLOSED
}  # fmt: skip


def drawn(seed: int) -> tuple[OutlookInputs, datetime]:
    """A garden, its weather and its deeds."""
    chance = np.random.default_rng(seed)
    now = datetime(2026, 1, 5, 17, tzinfo=UTC) + timedelta(days=int(chance.integers(365)))
    weather = drawn_weather(chance, now)
    covers = {"cage": Cover(name="cage"), "film": film_alone(chance)}
    trees = [
        Tree(
            name=f"tree {i}", species=str(chance.choice(["fig", "pomegranate", "kaki"])),
            standing=chance.choice([Standing.OPEN, Standing.WALL]), cover=str(chance.choice(["cage", "film"])),
            worth_trips=float(chance.uniform(2, 60)), left_bare=bool(chance.random() < 0.1),
        )
        for i in range(int(chance.integers(1, 5)))
    ]  # fmt: skip
    deeds = [one for tree in trees for one in drawn_deeds(chance, tree.name, now)]
    forecast = Forecast(service="saved", issued_utc=now, fetched_utc=now, weather=weather)
    return OutlookInputs(
        site=SITE, trees=trees, covers=covers, forecast=forecast, past=weather, records=Records(deeds=deeds)
    ), now  # fmt: skip


def film_alone(chance: np.random.Generator) -> Cover:
    wide_m = float(chance.uniform(0.8, 1.4))
    return Cover(
        name="film", fill=Fill.NONE, film=Film.CLEAR, inner_diameter_m=wide_m, outer_diameter_m=wide_m,
        water_l=float(chance.choice([0.0, 20.0])),
    )  # fmt: skip


def drawn_weather(chance: np.random.Generator, now: datetime) -> HourlyWeather:
    start = (now - timedelta(days=PAST_DAYS)).replace(hour=0)
    hours = np.arange(24 * (PAST_DAYS + AHEAD_DAYS))
    season_c = 11.0 - 13.0 * np.cos((now.timetuple().tm_yday - 15) * 2 * np.pi / 365)
    days_c = np.interp(hours / 24, range(PAST_DAYS + AHEAD_DAYS), chance.normal(0, 4, PAST_DAYS + AHEAD_DAYS))
    air_c = season_c + days_c + chance.uniform(3, 8) * np.cos((hours - 22) * np.pi / 12)
    told = {"dew_point_c": air_c - 5, "wind_m_s": 0 * hours + chance.uniform(0.5, 5), "gust_m_s": 0 * hours + 6.0}
    light = np.maximum(0.0, np.cos((hours - 19) * np.pi / 12)) * 500
    clouds = np.full(len(hours), chance.uniform(0, 1))
    return HourlyWeather(start_utc=start, air_c=air_c, cloud_fraction=clouds, sun_w_m2=light, **told)


def drawn_deeds(chance: np.random.Generator, tree: str, now: datetime) -> Iterator[Deed]:
    for day in sorted(chance.choice(np.arange(1, 24), int(chance.integers(0, 4)), replace=False), reverse=True):
        state = list(CoverState)[chance.integers(3)]
        yield Deed(tree=tree, kind=KINDS[state], state=state, at_utc=now - timedelta(days=int(day)))


def told_of(seen: Outlook) -> dict[str, Any]:
    """The acts, and by tree and night what each state would make of it."""
    acts = [[act.tree, act.kind.value, act.state.value, act.by_utc.isoformat()] for act in seen.acts]
    numbers = [
        value
        for one in seen.trees
        for night in one.nights
        for state in (CoverState.BARE, one.state_assumed)
        for value in (night.tissue[state].wood_c, night.tissue[state].low_c, 10 * night.tissue[state].chance)
    ]
    safe = [one.hardiness.lt10_c for one in seen.trees]
    return {"acts": acts, "numbers": [*safe, *numbers]}


def rounds(count: int) -> Iterator[dict[str, Any]]:
    for seed in range(count):
        inputs, now = drawn(seed)
        seen, carried = outlook_carried(inputs, now, None)
        yield told_of(seen)
        yield told_of(outlook_carried(inputs, now + timedelta(hours=2), carried)[0])


def main() -> None:
    count, file = int(sys.argv[1]), Path(sys.argv[2])
    found = list(rounds(count // 2))
    if not file.exists():
        file.write_text(json.dumps(found))
        return
    before = json.loads(file.read_text())
    acts = [i for i, (one, other) in enumerate(zip(before, found, strict=True)) if one["acts"] != other["acts"]]
    most = max(np.abs(np.subtract(a["numbers"], b["numbers"])).max() for a, b in zip(before, found, strict=True))
    asked = sum(bool(one["acts"]) for one in found)
    print(
        f"{len(found)} rounds, {asked} of which ask for something: other acts in {acts}; numbers at most {most:.2g} off"
    )


if __name__ == "__main__":
    main()
