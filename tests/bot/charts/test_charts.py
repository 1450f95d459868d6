"""The pictures: what they say in words, that something is on them, that nothing runs off them, whatever the data."""

import io
import struct
import subprocess
import sys
from dataclasses import fields, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.image import imread

from bot.charts import (
    Dieback,
    Picture,
    RuleResult,
    SupplyBar,
    Theme,
    draw_freeze_curve,
    draw_rules_compared,
    draw_season,
    draw_section,
    draw_supplies,
    draw_twins,
    draw_week,
    sparkline,
)
from bot.charts.lettering import broken, drawable, fitted, text_width_px
from bot.charts.theme import PAINTS, STROKES
from bot.forecasts import parse_saved
from bot.settings import read_garden
from bot.wording.formats import Style
from rules.garden.cover import Cover, CoverState
from rules.garden.records import Deed, DeedKind, Records, Sighting, SightingKind
from rules.garden.tree import Site
from rules.heat.night_lows import night_lows
from rules.outlook.garden_outlook import Outlook, outlook
from rules.outlook.inputs import OutlookInputs
from rules.outlook.views.season_so_far import season_so_far, spells
from rules.outlook.views.section import cover_section
from rules.outlook.views.week import dark_spans, week_ahead
from rules.plan.garden_plan import Act, Reason
from rules.site.sun import sun_day
from rules.weather.freeze_dates import FreezeLaw
from rules.weather.freeze_seasons import WhichFreeze
from rules.weather.hourly import HourlyWeather

DEMO = Path(__file__).parents[3] / "demo_config"
CELSIUS = Style(zone=ZoneInfo("America/Denver"))
FAHRENHEIT = Style(zone=ZoneInfo("America/Denver"), fahrenheit=True, length="in")
ODD = "🌰 Oma's תאנה $x_1$ & <b>fig</b>"


@cache
def inputs() -> OutlookInputs:
    """The demo garden on 28 November 2025, two days before its hard nights; the Bench fig wrapped since the 8th."""
    garden = read_garden(DEMO / "larkmoor.toml")
    answers = [parse_saved(path.read_text(), NOW) for path in sorted((DEMO / "past").glob("*.json"))[:3]]
    deeds = (deed(DeedKind.WRAPPED, CoverState.VENTED, 8), deed(DeedKind.CLOSED, CoverState.CLOSED, 18))
    seen = Sighting(tree="Bench fig", sight=SightingKind.LEAVES_DROPPED, at_utc=datetime(2025, 11, 12, 20, tzinfo=UTC))
    return OutlookInputs(
        site=garden.site,
        trees=tuple(tree for tree in garden.trees if tree.name in DRAWN),
        covers=dict(garden.covers) | {"wet": Cover(name="wet", preset="straw cage", water_l=20.0)},
        forecast=parse_saved(next((DEMO / "forecasts").glob("2025-11-28T1100Z.json")).read_text(), NOW),
        past=joined([answer.weather for answer in answers]),
        records=Records(deeds=deeds, sightings=(seen,)),
    )


NOW = datetime(2025, 11, 28, 11, tzinfo=UTC)
DRAWN = ("Bench fig", "Kaki", "Pomegranate", "Trial pomegranate")


def deed(kind: DeedKind, state: CoverState, day: int) -> Deed:
    return Deed(tree="Bench fig", kind=kind, state=state, at_utc=datetime(2025, 11, day, 20, tzinfo=UTC))


def joined(parts: list[HourlyWeather]) -> HourlyWeather:
    start, end = min(one.start_utc for one in parts), max(one.end_utc for one in parts)
    whole = {}
    for name in [field.name for field in fields(HourlyWeather)[1:]]:
        whole[name] = np.full(int((end - start) / timedelta(hours=1)) + 1, np.nan)
        for one in parts:
            at = int((one.start_utc - start) / timedelta(hours=1))
            whole[name][at : at + one.hours] = getattr(one, name)
    return HourlyWeather(start_utc=start, **whole)


def part(weather: HourlyWeather, first: int, last: int) -> HourlyWeather:
    cut = {field.name: getattr(weather, field.name)[first:last] for field in fields(HourlyWeather)[1:]}
    return HourlyWeather(start_utc=weather.start_utc + timedelta(hours=first), **cut)


@cache
def seen() -> Outlook:
    return outlook(inputs(), NOW)


def changed(**changes: object) -> tuple[OutlookInputs, Outlook]:
    other = replace(inputs(), **changes)  # type: ignore[arg-type]  # any of its fields
    return other, outlook(other, NOW)


def pixels(picture: Picture) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.asarray(imread(io.BytesIO(picture.png)), dtype=np.float64)[..., :3]


def assert_readable(picture: Picture, theme: Theme = Theme.LIGHT) -> None:
    """A phone's width, near a square, something on it, nothing running off its edges, and one line of words."""
    width, height = struct.unpack(">II", picture.png[16:24])
    assert picture.png[:8] == b"\x89PNG\r\n\x1a\n"
    assert width == 1080
    assert 400 <= height <= 2000
    image = pixels(picture)
    ground_colour = [int(PAINTS[theme].ground[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    away = np.abs(image - ground_colour).max(axis=-1) > 0.02
    assert away.mean() > 0.005
    assert not away[:, :6].any()
    assert not away[:, -6:].any()
    assert not away[:6].any()
    assert not away[-6:].any()
    assert "\n" not in picture.text
    assert len(picture.text) <= 1024  # the messenger's limit for a caption


def act(kind: DeedKind, state: CoverState, day: int, hour: int) -> Act:
    at = datetime(2025, 11, day, hour, tzinfo=UTC)
    return Act(
        tree="Bench fig", kind=kind, state=state, reason=Reason.COLD, night=date(2025, 11, day),
        from_utc=at - timedelta(hours=5), by_utc=at, minutes=10, chance=0.5, chance_after=0.1, saves_trips=9,
        price_trips=1,
    )  # fmt: skip


def law(threshold_c: float, *, which: WhichFreeze = WhichFreeze.LAST_IN_SPRING) -> FreezeLaw:
    """Moccasin, Montana, 28 °F (NOAA freeze/frost table): half of years by 9 May, one in ten after 21 May."""
    return FreezeLaw(which=which, threshold_c=threshold_c, share=1.0, mean_day=129, sd_day=12 / 1.2816)


@pytest.mark.parametrize("theme", list(Theme))
def test_the_week_says_the_coldest_night_and_what_each_cover_state_would_make_of_it(theme: Theme) -> None:
    picture = draw_week(week_ahead(inputs(), seen(), "Bench fig"), CELSIUS, theme)
    assert_readable(picture, theme)
    coldest = min(seen().tree("Bench fig").nights[:7], key=lambda night: night.air_c)
    assert f"{CELSIUS.degrees(coldest.air_c)} at the tree" in picture.text
    for state, words in ((CoverState.BARE, "bare"), (CoverState.VENTED, "cap open"), (CoverState.CLOSED, "cap shut")):
        assert f"{words} {CELSIUS.degrees(coldest.tissue[state].wood_c)}" in picture.text
    assert f"safe to {CELSIUS.degrees(seen().tree('Bench fig').hardiness.lt10_c)}" in picture.text
    assert "now cap shut" in picture.text


def test_the_week_marks_its_jobs_on_the_growers_clock() -> None:
    acts = (act(DeedKind.CLOSED, CoverState.CLOSED, 28, 22), act(DeedKind.VENTED, CoverState.VENTED, 30, 23))
    week = replace(week_ahead(inputs(), seen(), "Bench fig"), acts=acts)
    assert "Close it today, begin by 3:00 pm." in draw_week(week, FAHRENHEIT).text
    assert "Open it Sunday from 11:00." in draw_week(week, CELSIUS).text
    many = replace(week, acts=acts * 4)
    assert_readable(draw_week(many, FAHRENHEIT, Theme.DARK), Theme.DARK)


def test_without_a_forecast_the_week_says_so_and_what_to_do() -> None:
    blind, outlook_blind = changed(forecast=None)
    picture = draw_week(week_ahead(blind, outlook_blind, "Bench fig"), CELSIUS)
    assert_readable(picture)
    assert "No forecast. Please look yourself; if in doubt, close." in picture.text


def test_a_night_that_the_forecast_cuts_off_is_not_given_a_low() -> None:
    forecast = inputs().forecast
    assert forecast is not None
    at = forecast.weather.index_of(NOW)
    short = replace(forecast, weather=part(forecast.weather, at, at + 14), members_air_c=None)
    one_night, outlook_short = changed(forecast=short)
    picture = draw_week(week_ahead(one_night, outlook_short, "Bench fig"), FAHRENHEIT)
    assert_readable(picture)
    assert "Coldest: tonight" in picture.text
    assert "Friday" not in picture.text


def test_a_tree_left_bare_is_drawn_bare_only() -> None:
    week = week_ahead(inputs(), seen(), "Trial pomegranate")
    assert list(week.inside) == [CoverState.BARE]
    picture = draw_week(week, CELSIUS)
    assert_readable(picture)
    assert "closed" not in picture.text


def test_the_lines_of_the_week_agree_with_the_nights_of_the_outlook() -> None:
    week = week_ahead(inputs(), seen(), "Bench fig")
    zone, nights = inputs().site.zone, week.margins.nights[1:7]
    noons = [datetime.combine(night.evening, time(12), tzinfo=zone) for night in nights]
    firsts = [round((noon - week.start_utc) / timedelta(hours=1)) for noon in noons]
    spans = [slice(first, first + 24) for first in firsts]
    for state, band in week.inside.items():
        lows_c, _ = night_lows(band.mean_c, spans, covered=state is not CoverState.BARE)
        for night, lowest in zip(nights[:-1], lows_c[:-1], strict=True):
            # the lowest of the mean lies above the mean of the lowest, by less than half the spread of the members
            assert -0.1 < lowest - night.tissue[state].wood_c < 1.5
            assert (band.low_c <= band.mean_c).all()
            assert (band.mean_c <= band.high_c).all()


def test_nights_are_dark_from_sunset_to_sunrise() -> None:
    site = inputs().site
    start = datetime(2025, 11, 28, 19, tzinfo=UTC)  # noon in Denver
    ((sunset, sunrise),) = dark_spans(start, 25, site)
    evening, morning = sun_day(date(2025, 11, 28), site), sun_day(date(2025, 11, 29), site)
    assert evening.sunset_utc is not None
    assert morning.sunrise_utc is not None
    assert abs(sunset - evening.sunset_utc) <= timedelta(minutes=6)  # looked for in steps of five
    assert abs(sunrise - morning.sunrise_utc) <= timedelta(minutes=6)
    polar = Site(latitude_deg=78, longitude_deg=15, elevation_m=10, time_zone="UTC")
    assert dark_spans(start, 25, polar) == ((start, start + timedelta(hours=24)),)
    assert dark_spans(start.replace(month=6), 25, polar) == ()


@pytest.mark.parametrize(("style", "theme"), [(CELSIUS, Theme.LIGHT), (FAHRENHEIT, Theme.DARK)])
def test_the_season_says_what_was_felt_borne_and_seen(style: Style, theme: Theme) -> None:
    season = season_so_far(inputs(), "Bench fig", NOW)
    picture = draw_season(season, style, theme)
    assert_readable(picture, theme)
    assert f"Coldest it felt: {style.degrees(np.nanmin(season.low_c))}" in picture.text
    assert f"It is safe to {style.degrees(season.lt10_c[-1])} now" in picture.text
    assert f"{style.short_date(date(2026, 11, 12))} leaves dropped." in picture.text
    assert f"{style.short_date(date(2026, 11, 18))} closed." in picture.text


def test_the_season_ends_where_the_outlook_stands() -> None:
    for tree in inputs().trees:
        season = season_so_far(inputs(), tree.name, NOW)
        assert season.lt10_c[-1] == pytest.approx(seen().tree(tree.name).hardiness.lt10_c, abs=0.05)


def test_a_season_without_past_weather_claims_nothing() -> None:
    blind, _ = changed(forecast=None)
    picture = draw_season(season_so_far(blind, "Kaki", NOW), CELSIUS)
    assert_readable(picture)
    assert "No past weather is known" in picture.text
    assert "°" not in picture.text


def test_a_season_of_one_day_is_drawn() -> None:
    past = inputs().past
    assert past is not None
    at = past.index_of(NOW)
    young, _ = changed(past=part(past, at - 30, at + 1))
    season = season_so_far(young, "Bench fig", NOW)
    assert season.days == 1
    assert_readable(draw_season(season, CELSIUS))


def test_spells_follow_the_deeds_and_begin_with_what_nobody_said() -> None:
    begins = datetime(2025, 11, 1, tzinfo=UTC)
    found = spells(inputs().records.deeds, "Bench fig", begins, NOW)
    assert [spell.state for spell in found] == [None, CoverState.VENTED, CoverState.CLOSED]
    assert found[0].from_utc == begins
    assert found[-1].until_utc == NOW
    assert spells((), "Bench fig", begins, NOW)[0].state is None


@pytest.mark.parametrize("state", [CoverState.VENTED, CoverState.CLOSED])
def test_the_cut_through_a_cover_runs_from_the_ground_to_the_sky(state: CoverState) -> None:
    section = cover_section(inputs(), seen(), "Bench fig", state)
    picture = draw_section(section, CELSIUS, NOW)
    assert_readable(picture)
    assert f"The wood feels {CELSIUS.degrees(section.wood_c)}, give or take" in picture.text
    assert list(section.soil_c) == sorted(section.soil_c)  # in November the ground is warmer the deeper
    # heat passes the blanket one way: its face lies between the air inside and the innermost straw
    assert min(section.inside_c, section.fill_c[0]) <= section.lining_c <= max(section.inside_c, section.fill_c[0])
    band = week_ahead(inputs(), seen(), "Bench fig").inside[state]
    assert section.wood_c == pytest.approx(band.mean_c.min(), abs=0.5)  # one mean night against the mean of members


def test_a_bucket_shows_its_ice() -> None:
    trees = tuple(one.model_copy(update={"cover": "wet"}) if one.name == "Bench fig" else one for one in inputs().trees)
    wet, outlook_wet = changed(trees=trees)
    section = cover_section(wet, outlook_wet, "Bench fig")
    assert section.ice_share is not None
    assert 0 < section.ice_share < 1
    assert section.water_c == pytest.approx(0.0, abs=1e-6)  # ice and water together stand at 0 °C
    assert f"water bucket 0 °C, {section.ice_share:.0%} ice" in draw_section(section, CELSIUS, NOW).text


def test_a_tree_without_a_cover_cannot_be_cut_open() -> None:
    with pytest.raises(ValueError, match="Trial pomegranate has no cover on to cut open"):
        cover_section(inputs(), seen(), "Trial pomegranate")
    with pytest.raises(ValueError, match="Bench fig has no cover on to cut open"):
        cover_section(inputs(), seen(), "Bench fig", CoverState.BARE)


@pytest.mark.parametrize("theme", list(Theme))
def test_the_freeze_curve_names_the_dates_of_the_published_table(theme: Theme) -> None:
    picture = draw_freeze_curve([law(-2.2)], 2026, CELSIUS, theme)
    assert_readable(picture, theme)
    assert "Last freeze in spring" in picture.text
    assert "−2 °C or colder: half of years by 9 May, 1 year in 10 after 21 May." in picture.text
    assert "28 °F or colder" in draw_freeze_curve([law(-2.2)], 2026, FAHRENHEIT).text


def test_freeze_curves_of_no_winters_and_of_sites_that_hardly_freeze_are_drawn() -> None:
    nothing = draw_freeze_curve([], 2026, CELSIUS)
    assert_readable(nothing)
    assert "Too few past winters" in nothing.text
    mild = FreezeLaw(which=WhichFreeze.FIRST_IN_AUTUMN, threshold_c=-8.0, share=0.0, mean_day=0.0, sd_day=1.0)
    picture = draw_freeze_curve([law(-2.2, which=WhichFreeze.FIRST_IN_AUTUMN), mild], 2026, CELSIUS)
    assert_readable(picture)
    assert "−8 °C or colder: fewer than 1 year in 10" in picture.text
    with pytest.raises(ValueError, match="one freeze and at most 4"):
        draw_freeze_curve([law(-2.2), mild], 2026, CELSIUS)


@pytest.mark.parametrize("theme", list(Theme))
def test_the_rules_are_ranked_with_their_trips_and_losses(theme: Theme) -> None:
    results = [
        RuleResult(name="never cover", cost_multiple=6.4, trips=0, wood_lost=0.81),
        RuleResult(name="bedstraw", cost_multiple=1.32, trips=14, wood_lost=0.03, ours=True),
    ]
    picture = draw_rules_compared(results, theme, winters=37)
    assert_readable(picture, theme)
    assert picture.text.index("bedstraw 1.3 times that (14 trips") < picture.text.index("never cover 6.4 times")
    assert "No winter has been replayed yet" in draw_rules_compared([], theme).text


@pytest.mark.parametrize("theme", list(Theme))
def test_supplies_say_what_to_buy(theme: Theme) -> None:
    bars = [
        SupplyBar(label="straw", need=7, have=3, buy=4, unit="bales"),
        SupplyBar(label="film", need=12.5, have=20, buy=0, unit="m"),
        SupplyBar(label="ties", need=0, have=0, buy=0, unit=""),
    ]
    picture = draw_supplies(bars, theme)
    assert_readable(picture, theme)
    assert "To buy: 4 bales of straw." in picture.text
    assert "film: need 12.5, have 20 m, enough" in picture.text
    assert "No cover needs anything" in draw_supplies([], theme).text
    with pytest.raises(ValueError, match="straw has a quantity of -3, it must be 0 or more"):
        draw_supplies([replace(bars[0], have=-3)], theme)


@pytest.mark.parametrize("theme", list(Theme))
def test_twins_are_compared_where_the_cover_was_on(theme: Theme) -> None:
    deeds = tuple(replace(one, tree="Pomegranate") for one in inputs().records.deeds)
    covering = replace(inputs(), records=Records(deeds=deeds))
    covered, bare = (season_so_far(covering, name, NOW) for name in ("Pomegranate", "Trial pomegranate"))
    lost = {"Trial pomegranate": Dieback(share=0.8, length_m=0.9)}
    picture = draw_twins(covered, bare, FAHRENHEIT, theme, dieback=lost)
    assert_readable(picture, theme)
    assert "warmer" in picture.text
    assert "Covered, Pomegranate" in picture.text
    assert "died back: 80% of its wood, 35 in of stem" in picture.text
    assert "dieback not yet seen" in picture.text
    never = replace(covered, spells=())
    assert "has not been on yet" in draw_twins(never, bare, CELSIUS, theme).text


def test_odd_names_survive_in_words_and_are_drawn_without_what_the_font_lacks() -> None:
    trees = tuple(one.model_copy(update={"name": ODD}) if one.name == "Kaki" else one for one in inputs().trees)
    odd, outlook_odd = changed(trees=trees)
    for theme in Theme:
        picture = draw_week(week_ahead(odd, outlook_odd, ODD), CELSIUS, theme)
        assert_readable(picture, theme)
        assert ODD in picture.text
    assert drawable(ODD) == "Oma's תאנה $x_1$ & <b>fig</b>"
    assert drawable("🌰") == "your tree"


@given(st.text(max_size=60))
def test_any_text_fits_its_room(text: str) -> None:
    shown, size = fitted(drawable(text), 300.0, 18.0)
    assert text_width_px(shown, size) <= 300.0 or shown == "…"
    assert all(letter.isprintable() or letter == "\N{NO-BREAK SPACE}" for letter in shown)


@given(st.text(min_size=1, max_size=60))
@settings(deadline=None, max_examples=6)
def test_any_name_can_be_drawn(name: str) -> None:
    assert_readable(draw_supplies([SupplyBar(label=name, need=2, have=1, buy=1, unit="m")]))


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.1, relative luminance)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", list(Theme))
def test_lines_and_letters_stand_out_as_the_web_guidelines_ask(theme: Theme) -> None:
    paint = PAINTS[theme]
    for line in (paint.bare, paint.vented, paint.closed, paint.act):
        assert contrast(line, paint.ground) >= 3  # WCAG 2.1, 1.4.11: graphics
    for letters in (paint.ink, paint.faint):
        assert contrast(letters, paint.ground) >= 4.5  # 1.4.3: text
        assert contrast(letters, paint.night) >= 4.5


def test_no_two_states_share_a_stroke() -> None:
    assert len(set(STROKES.values())) == len(CoverState)


def test_the_drawing_library_loads_only_when_a_picture_is_asked_for() -> None:
    code = "import sys, bot.charts; print(any(name.startswith('matplotlib') for name in sys.modules))"
    assert run(code) == "False"


def test_without_the_drawing_library_one_sentence_says_how_to_get_it() -> None:
    code = (
        "import sys; sys.modules['matplotlib'] = None\n"
        "from bot.charts import ChartsMissing, draw_supplies, supplies_text, sparkline\n"
        "try:\n    draw_supplies([])\nexcept ChartsMissing as missing:\n    print(missing)\n"
        "assert supplies_text([]) and sparkline([1.0, 2.0])\n"
    )
    assert run(code) == "pictures need: pip install 'bedstraw[charts]'"


def run(code: str) -> str:
    root = Path(__file__).parents[3]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=root)
    return done.stdout.strip()


def test_a_picture_is_saved_as_it_is(tmp_path: Path) -> None:
    picture = draw_supplies([])
    assert picture.save(tmp_path / "supplies.png").read_bytes() == picture.png


@given(st.lists(st.floats(-60, 60) | st.just(float("nan")), max_size=200), st.booleans())
def test_a_sparkline_has_six_lines_of_its_width(values: list[float], plain: bool) -> None:
    lines = sparkline(values, width=40, level=-5.0, level_word="safe to", plain=plain).split("\n")
    assert len(lines) == 6
    assert all(len(line) <= 40 + 5 + len(" safe to") for line in lines)
    assert not plain or all(line.isascii() for line in lines)


def test_a_sparkline_keeps_the_one_cold_hour_of_a_long_series() -> None:
    values = [5.0] * 400
    values[123] = -9.0
    lines = sparkline(values, width=40).split("\n")
    assert lines[4].startswith("-9 ")
    column = 3 + 123 * 40 // 400
    assert lines[0][column : column + 1] in ("", " ")
    assert lines[0][3] != " "


def test_a_sparkline_refuses_a_width_nobody_can_read() -> None:
    with pytest.raises(ValueError, match="width is 3 columns, it must be at least 8"):
        sparkline([1.0], width=3)


@pytest.mark.parametrize(
    ("text", "whole"),
    [
        ("it is safe to −7 °C", "−7\u00a0°C"),
        ("gets too cold, 8 in 10", "8\u00a0in\u00a010"),
        ("last 6 Dec", "6\u00a0Dec"),
        ("last Dec 6", "Dec\u00a06"),
    ],
)
def test_no_line_breaks_inside_a_chance_a_date_or_a_temperature(text: str, whole: str) -> None:
    assert whole in list(broken(text, 150.0, 14.5))


def test_ten_supplies_of_long_names_are_all_on_the_sheet_and_whole() -> None:
    bars = [SupplyBar(label="guard caps for stakes", need=15, have=0, buy=15, unit="") for _ in range(10)]
    picture = draw_supplies(bars)
    drawn = [one.get_text() for one in picture.sheet.figure.texts]
    assert drawn.count("guard caps for stakes") == 10
    assert min(one.get_position()[1] for one in picture.sheet.figure.texts) > 0.03
