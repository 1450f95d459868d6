"""The garden file: what is understood, and the sentence for everything that is not."""

from datetime import date, time
from pathlib import Path

import pytest

from bot.forecasts.calls import calls_of
from bot.settings import (
    Garden,
    GardenError,
    Role,
    Service,
    doubtful,
    in_plain_words,
    problems_in_words,
    read_garden,
)
from bot.weather_services import SERVICES
from rules.garden.tree import Phase, Purpose, Standing

TODAY = date(2026, 11, 25)
TOP = """
name = "Larch Corner"
services = ["open-meteo"]
"""
SITE = """
[site]
latitude_deg = 39
longitude_deg = -109
elevation_m = 1500
time_zone = "America/Denver"
"""
PEOPLE = """
[[people]]
name = "Alder"
role = "owner"
"""
TREES = """
[[trees]]
name = "Gate fig"
short_names = ["gate"]
species = "fig"
planted_year = 2020
standing = "wall"
cover = "cage"

[[trees]]
name = "Kaki"
species = "kaki"
"""
COVERS = """
[covers.cage]
preset = "straw cage"
height_cm = 180
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "garden.toml"
    path.write_text(text, encoding="utf-8")
    return path


def whole(top: str = "", site: str = SITE, people: str = PEOPLE, trees: str = TREES, covers: str = COVERS) -> str:
    return TOP + top + site + people + trees + covers


def read(folder: Path, text: str) -> Garden:
    return read_garden(written(folder, text), today=TODAY)


def sentences(folder: Path, text: str) -> str:
    with pytest.raises(GardenError) as caught:
        read(folder, text)
    return problems_in_words(caught.value)


def test_a_whole_garden_is_understood(tmp_path: Path) -> None:
    garden = read(tmp_path, whole())
    assert garden.site.zone.key == "America/Denver"
    assert (garden.quiet_from, garden.quiet_until) == (time(21), time(7))
    assert garden.people[0].role is Role.OWNER
    assert garden.trees[0].standing is Standing.WALL
    assert garden.trees[1].purpose is Purpose.KEEP
    assert garden.covers["cage"].height_m == pytest.approx(1.8)
    assert garden.cover_of(garden.trees[0]) is garden.covers["cage"]
    assert garden.cover_of(garden.trees[1]) is None


def test_a_tree_is_found_by_any_of_its_names_in_any_case(tmp_path: Path) -> None:
    garden = read(tmp_path, whole())
    assert garden.tree_called(" GATE ") is garden.trees[0]
    assert garden.tree_called("kaki") is garden.trees[1]
    assert garden.tree_called("quince") is None


def test_a_garden_survives_writing_and_reading_its_values(tmp_path: Path) -> None:
    garden = read(tmp_path, whole())
    assert Garden.model_validate_json(garden.model_dump_json()) == garden


def test_feet_inches_and_fahrenheit_mean_the_same_as_metres_and_celsius(tmp_path: Path) -> None:
    own = "\nsafe_to_{} = {{ resting = {}, growing = {} }}\n"
    metric = read(tmp_path, whole(trees=TREES + own.format("c", -10, -1)))
    grower = whole(
        trees=TREES + own.format("f", 14, 30.2), covers=COVERS.replace("height_cm = 180", "height_ft = 5.905511811")
    )
    grower = grower.replace("elevation_m = 1500", "elevation_ft = 4921.2598425")  # 1500 m / 0.3048
    other = read(tmp_path, grower)
    assert other.site.elevation_m == pytest.approx(metric.site.elevation_m, abs=1e-6)
    assert other.covers["cage"].height_m == pytest.approx(1.8, abs=1e-6)
    assert other.trees[1].safe_to_c[Phase.RESTING] == pytest.approx(-10.0)
    assert other.trees[1].safe_to_c == pytest.approx(metric.trees[1].safe_to_c)


def test_every_service_of_the_garden_file_stands_in_the_table_and_can_be_asked() -> None:
    assert list(SERVICES) == list(Service)
    assert all(callable(calls_of(service).fetch) for service in Service)


@pytest.mark.parametrize(
    ("name", "place", "forecasts_there"),
    [
        ("us-nws", (47.0, -114.0), True),  # Montana
        ("us-nws", (21.3, -157.9), True),  # Oahu
        ("us-nws", (51.5, 0.0), False),  # Greenwich
        ("met-norway", (-33.0, 151.0), True),
    ],
)
def test_a_service_of_one_country_knows_where_it_ends(
    name: Service, place: tuple[float, float], forecasts_there: bool
) -> None:
    assert SERVICES[name].covers(*place) is forecasts_there


def test_all_mistakes_are_told_at_once_with_line_key_and_value(tmp_path: Path) -> None:
    said = sentences(
        tmp_path,
        whole()
        .replace('standing = "wall"', 'standing = "roof"')
        .replace("elevation_m = 1500", 'elevation_m = "high"')
        .replace('species = "kaki"', 'speces = "kaki"')
        .replace('cover = "cage"', 'cover = "cafe"'),
    )
    assert said.splitlines() == [
        "4 mistakes in the garden file; nothing was changed.",
        '  line 8, site.elevation_m = "high": must be a number, without quotation marks',
        '  line 20, trees[1] "Gate fig", standing = "roof": must be one of open, wall, eave, hollow, slope, court, pot',
        '  line 21, trees[1] "Gate fig", cover = "cafe": must be one of cage (did you mean "cage"?)',
        '  line 25, trees[2] "Kaki", speces = "kaki": is not a key that is known here (did you mean "species"?)',
    ]


CHANGES = [
    # what is changed, into what, what is said
    ("latitude_deg = 39", "latitude_deg = 91", "site.latitude_deg = 91: must be at most 90"),
    ("latitude_deg = 39", "latitude_deg = nan", "site.latitude_deg = NaN: must be at"),
    ("latitude_deg = 39", "latitude_deg = true", "must be a number, without quotation marks"),
    ("latitude_deg = 39", "latitude_deg = 99999999999999999999", "larger than any number that belongs here"),
    ("latitude_deg = 39", "", "site.latitude_deg: is missing"),
    ("elevation_m = 1500", "elevation_ft = 30000", "elevation_ft = 30000: must be at most 19685.04 ft"),
    ("elevation_m = 1500", "elevation_m = 1\nelevation_ft = 3", "is given twice, as elevation_m and as elevation_ft"),
    ("elevation_m = 1500", "elevation_kg = 3", 'elevation_kg = 3: is not a key that is known here (did you mean "el'),
    ('time_zone = "America/Denver"', 'time_zone = "Denver"', '(did you mean "America/Denver"?)'),
    ('time_zone = "America/Denver"', 'time_zone = "America/Denvr"', '(did you mean "America/Denver"?)'),
    ('time_zone = "America/Denver"', "time_zone = 7", 'must be text in "quotation marks"'),
    ('time_zone = "America/Denver"', 'time_zone = "../../etc/passwd"', "must be the name of a time zone like"),
    ('name = "Larch Corner"', 'name = ""', "must not be empty"),
    ('name = "Larch Corner"', f'name = "{"x" * 61}"', "must be at most 60 letters long"),
    ('services = ["open-meteo"]', 'services = ["openmeteo"]', '(did you mean "open-meteo"?)'),
    ('services = ["open-meteo"]', "services = []", "services = []: needs at least 1 of them, has 0"),
    ('services = ["open-meteo"]', 'services = "open-meteo"', "must be a list"),
    ('services = ["open-meteo"]', 'services = ["open-meteo", "open-meteo"]', 'has "open-meteo" twice'),
    ('services = ["open-meteo"]', 'services = ["us-nws"]', "contact: is missing; us-nws must be told"),
    ('services = ["open-meteo"]', 'services = ["saved"]', 'the service "saved" needs the folder'),
    ('services = ["open-meteo"]', 'servces = ["open-meteo"]', '(did you mean "services"?)'),
    ('role = "owner"', 'role = "helper"', 'line 11, people: must hold at least one with role = "owner"'),
    ('role = "owner"', 'role = "boss"', "must be one of owner, helper"),
    ("planted_year = 2020", "planted_year = 2028", "planted_year = 2028: must be at most 2027, next year"),
    ("planted_year = 2020", "planted_year = 1066", "must be at least 1900"),
    ("planted_year = 2020", "planted_year = 2020.5", "must be a whole number"),
    ("planted_year = 2020", "planted_year = 2020-05-01", "must be a whole number"),
    ("planted_year = 2020", "worth_trips = -1", "worth_trips = -1: must be at least 0"),
    ("planted_year = 2020", "worth_trips = 2000", "must be at most 1000"),
    ("planted_year = 2020", 'purpose = "sell"', "must be one of keep, trial, give away"),
    ("planted_year = 2020", "left_bare = 1", "must be true or false"),
    ("planted_year = 2020", 'twin = "Kakis"', '(did you mean "Kaki"?)'),
    ("planted_year = 2020", 'twin = "Gate fig"', "must name another tree, not this one"),
    ("planted_year = 2020", 'quiet_from = "21:00"', "it stands at the top of the file, before the first [table]"),
    (
        "planted_year = 2020",
        "safe_to_c = { resting = -1, growing = -3 }",
        "resting = -1: must not be warmer than growing",
    ),
    ("planted_year = 2020", "safe_to_c = { waking = -9, resting = -3 }", "must not be warmer than waking"),
    ("planted_year = 2020", "safe_to_f = { resting = -90 }", "resting = -90: must be at least -49 °F"),
    ("planted_year = 2020", "safe_to_c = { restng = -9 }", '(did you mean "resting"?)'),
    ("planted_year = 2020", "safe_to_c = -9", "must be a [table] of keys"),
    ('species = "fig"', 'species = "figg"', 'is not in the table of what wood can take (did you mean "fig'),
    ('species = "fig"', 'species = "oak tree"', "is not in the table of what wood can take"),
    ('name = "Kaki"', 'name = "GATE FIG"', 'trees[2] "GATE FIG", name = "GATE FIG": is already the name of trees[1]'),
    ('name = "Kaki"', 'name = "Gate"', "is already a name of trees[2]"),
    ('name = "Kaki"', 'name = " Kaki"', "must not be empty or have blanks at its ends"),
    ('name = "Kaki"', 'name = "Tonight"', "is a word of the conversation"),
    ('name = "Kaki"', 'name = "-6.5"', "must not be a number"),
    ('name = "Kaki"', 'name = "Ka\\nki"', "must be on one line"),
    ('short_names = ["gate"]', "short_names = [3]", 'must be text in "quotation marks"'),
    ('short_names = ["gate"]', 'short_names = "gate"', "must be a list"),
    ('short_names = ["gate"]', 'short_names = ["kaki"]', 'short_names[1] = "kaki": is already a name of trees[2]'),
    ('preset = "straw cage"', 'preset = "straw caje"', '(did you mean "straw cage"?)'),
    ('preset = "straw cage"', 'name = "coat"', 'must be left out: the table says "cage" already'),
    ("height_cm = 180", "height_in = 900", "covers.cage.height_in = 900: must be 3.94 in to 236.22 in"),
    ("height_cm = 180", "height_cm = -1\nwater_gal = 9000", "water_gal = 9000: must be 0 US gal to 264.17 US gal"),
    (
        "height_cm = 180",
        "fill_height_cm = 250",
        "covers.cage: fill_height_m of cover 'cage' is 2.5 m, it must be at most",
    ),
    ("height_cm = 180", "film_height_cm = 100", "film_height_m of cover 'cage' is given, but it has no film"),
    ("height_cm = 180", 'blanket_place = "outside"', "blanket_place of cover 'cage' is given, but it has no blanket"),
    (
        "height_cm = 180",
        'cap = "gathered"',
        "cap of cover 'cage' is gathered, but it has no blanket and no film to gather",
    ),
    ("height_cm = 180", "lid_cm = 30", "covers.cage.lid_cm = 30: must be 0 cm to 10 cm"),
    (
        "height_cm = 180",
        "condition = { torn = true }",
        "covers.cage.condition: is what you tell in the chat as it happens",
    ),
    ("height_cm = 180", "outer_diameter_cm = 30", "covers.cage: outer_diameter_m of cover 'cage' is 0.3 m"),
    ("height_cm = 180", "outer_diameter_cm = 61", "straw of cover 'cage' is 0.005 m thick"),
    ("height_cm = 180", 'cap = "lid"', "must be one of none, gathered, vented, film, insulated"),
    ("height_cm = 180", "height = 180", '(did you mean "height_'),
    ('[covers.cage]\npreset = "straw cage"', "[[covers]]", "line 27, covers: must be a [table] of keys"),
    ("[site]", "[[site]]", "line 5, site: must be a [table] of keys"),
    ("[[people]]", "[people]", "must be a list"),
]


@pytest.mark.parametrize(("right", "wrong", "said"), CHANGES, ids=[wrong[:40] for _, wrong, _ in CHANGES])
def test_a_mistake_gets_its_sentence(tmp_path: Path, right: str, wrong: str, said: str) -> None:
    assert right in whole()
    assert said in sentences(tmp_path, whole().replace(right, wrong, 1))


@pytest.mark.parametrize(
    ("top", "said"),
    [
        ('quiet_from = "9 pm"\n', 'line 4, quiet_from = "9 pm": must be a time like "21:00"'),
        ("quiet_from = 21\n", 'must be a time like "21:00"'),
        ('quiet_from = "07:00"\nquiet_until = "07:00"\n', "must differ from quiet_from"),
        ('quiet_from = "21:00Z"\n', "without a zone"),
        ("services_together = true\n", "services_together = true: needs two or more services"),
        ('services_together = "yes"\n', "services_together"),
        ('saved_forecasts = "nowhere"\n', 'saved_forecasts = "nowhere": there is no such file or folder'),
        ('past_winters = "."\n', "there is no such file beside"),
        (f'past_winters = "{"x" * 4000}"\n', "there is no such file beside"),
        ('past_winters = "a\\u0000b"\n', "there is no such file beside"),
        ("past_winters = 3\n", 'must be text in "quotation marks"'),
        ('units = { wind = "knots" }\n', "must be one of mph, km/h, m/s"),
        ('units = { fahrenheit = "yes" }\n', "must be true or false"),
        ('trees = "many"\n', "the same key or table stands in the file twice"),
        ("name = 3\n", "the same key or table stands in the file twice"),
        ("quiet_from = 21:00\n", "a time needs quotation marks"),
        ("contact = me@example.org\n", 'line 4: column 11: the value cannot be read; text needs straight "quotation'),
        ("contact = “me”\n", 'straight "quotation marks"'),
        ('contact = "me\n', "a text is not closed"),
        ("contact\n", "a key needs = and a value after it"),
        ("contact = " + "[" * 5000 + "\n", "is nested more than 12 deep"),
        ("x = " + "[" * 20 + "]" * 20 + "\n", "is nested more than 12 deep"),
        ("x = " + "9" * 5000 + "\n", "a number or date in it cannot be read"),
        ("x = 0x" + "f" * 5000 + "\n", "is larger than any number that belongs here"),
        ("x = 2026-02-31\n", "there is no such date or time"),
    ],
)
def test_a_mistake_at_the_top_gets_its_sentence(tmp_path: Path, top: str, said: str) -> None:
    assert said in sentences(tmp_path, whole(top))


def test_local_times_of_toml_are_times(tmp_path: Path) -> None:
    assert read(tmp_path, whole("quiet_from = 22:30:00\n")).quiet_from == time(22, 30)


TOKEN = "4839574812:AAFD39kkdpWt3ywyRZergyOLMaJhac60qcK"  # noqa: S105 - the example of the messenger's own manual


@pytest.mark.parametrize("line", [f'token = "{TOKEN}"', f'contact = "{TOKEN}"', f"# {TOKEN}", f'"{TOKEN}" = 1'])
def test_a_token_in_the_garden_file_is_refused_and_never_repeated(tmp_path: Path, line: str) -> None:
    said = sentences(tmp_path, whole(line + "\n"))
    assert "line 4: a bot token does not belong in the garden file" in said
    assert TOKEN[12:] not in said


def test_a_file_that_is_no_garden_file_gets_a_sentence(tmp_path: Path) -> None:
    cases = {
        "is a folder": tmp_path,
        "there is no file": tmp_path / "absent.toml",
        "is empty": written(tmp_path, " \n\n"),
    }
    for said, path in cases.items():
        with pytest.raises(GardenError, match=said):
            read_garden(path)
    with pytest.raises(GardenError, match="is not a plain file"):
        read_garden("/dev/zero")
    with pytest.raises(GardenError, match=r"cannot be read: .*too long"):
        read_garden("x" * 5000)
    with pytest.raises(GardenError, match="cannot be read"):
        read_garden("a\0b")


def test_a_file_of_ten_megabytes_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"
    with path.open("wb") as file:
        file.truncate(10_000_000)
    with pytest.raises(GardenError, match=r"has 10,000,000 bytes, a garden file at most 100,000"):
        read_garden(path)


def test_another_encoding_is_named_by_its_line(tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"
    path.write_bytes(b'name = "x"\ncontact = "caf\xe9"\n')
    with pytest.raises(GardenError, match="line 2: is not written in UTF-8"):
        read_garden(path)


def test_a_mark_at_the_start_and_other_line_ends_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"
    path.write_bytes(b"\xef\xbb\xbf" + whole().replace("\n", "\r\n").encode())
    assert read_garden(path, today=TODAY).name == "Larch Corner"
    path.write_bytes(whole().replace('"wall"', '"roof"').replace("\n", "\r\n").encode())
    with pytest.raises(GardenError, match="line 20, "):
        read_garden(path, today=TODAY)


def test_names_in_any_script_survive(tmp_path: Path) -> None:
    for name in ("Feige & <Söhne>", "תאנה", "🌳 one", "いちじく"):
        assert read(tmp_path, whole().replace("Gate fig", name)).trees[0].name == name


def test_what_was_understood_is_told_in_the_growers_units(tmp_path: Path) -> None:
    own = "\nsafe_to_f = { resting = 14 }\n"
    units = '\n[units]\nfahrenheit = true\nwind = "mph"\nlength = "in"\n'
    said = in_plain_words(read(tmp_path, whole(trees=TREES + own) + units))
    assert "Larch Corner: 39° N, 109° W, 4921 ft up. Times in America/Denver." in said
    assert (
        "1 Gate fig (also gate): fig, planted 2020, against the wall of a heated house, to keep, worth 40 trips" in said
    )
    assert "By your own word it is safe to 14 °F resting." in said
    assert "71 in high" in said
    assert "look again" not in said


DOUBTS = [
    ("longitude_deg = -109", "longitude_deg = 109", "west of Greenwich is negative"),
    ("latitude_deg = 39", "latitude_deg = -39", "south of the equator is negative"),
    ("planted_year = 2020", "worth_trips = 0", "nothing will ever be asked for it"),
    ("planted_year = 2020", "left_bare = true", "its cover will never be asked for"),
    ("planted_year = 2020", 'twin = "Kaki"', "they cannot be compared"),
    ("planted_year = 2020", "safe_to_c = { resting = -25 }", "is far from the table's -9 °C for fig, established"),
    ('species = "fig"', 'species = "unknown"', "is as tender as a young fig to me until safe_to_c has resting"),
    ('cover = "cage"', "", "covers.cage: is on no tree"),
    ('services = ["open-meteo"]', 'services = ["open-meteo"]\nquiet_from = "12:00"', "19 quiet hours a day"),
]


@pytest.mark.parametrize(("right", "slip", "said"), DOUBTS, ids=[slip[:40] for _, slip, _ in DOUBTS])
def test_a_likely_slip_is_understood_but_shown(tmp_path: Path, right: str, slip: str, said: str) -> None:
    plain, slipped = read(tmp_path, whole()), read(tmp_path, whole().replace(right, slip))
    assert not doubtful(plain)
    assert said in " ".join(str(doubt) for doubt in doubtful(slipped))
    assert "Understood, but look again:" in in_plain_words(slipped)


def test_a_kind_in_no_table_is_taken_with_the_growers_own_limit_and_not_doubted(tmp_path: Path) -> None:
    strange = whole().replace('species = "fig"', 'species = "unknown"\nsafe_to_c = { resting = -15 }')
    garden = read(tmp_path, strange)
    assert garden.trees[0].species == "unknown"
    assert not doubtful(garden)


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "time_zone", "outside"),
    [
        (39.0, -109.0, "America/Denver", False),
        (61.0, -150.0, "America/Anchorage", False),
        (20.0, -156.0, "Pacific/Honolulu", False),
        (48.0, 12.0, "Europe/Berlin", True),
        (-41.0, 175.0, "Pacific/Auckland", True),
    ],
)
def test_the_us_service_is_doubted_outside_the_united_states_only(
    tmp_path: Path, latitude_deg: float, longitude_deg: float, time_zone: str, outside: bool
) -> None:
    site = f"\n[site]\nlatitude_deg = {latitude_deg}\nlongitude_deg = {longitude_deg}\nelevation_m = 10\n"
    text = whole('contact = "alder@example.org"\n', site=f'{site}time_zone = "{time_zone}"\n')
    garden = read(tmp_path, text.replace("open-meteo", "us-nws"))
    assert [doubt.key for doubt in doubtful(garden)] == (["services"] if outside else [])


def test_what_was_built_is_told_back_layer_by_layer(tmp_path: Path) -> None:
    built = '''preset = "straw cage with blanket and film"
fill_height_cm = 120
blanket_place = "outside"
tree_height_cm = 240
cap = "gathered"'''
    told = in_plain_words(read_garden(written(tmp_path, whole().replace('preset = "straw cage"', built)), today=TODAY))
    assert "20 cm of straw up to 120 cm, insulating blanket outside, white film, cap gathered, the tree taller" in told
