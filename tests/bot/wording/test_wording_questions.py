"""The sentences that answer questions: they say what the rules found, and nothing that was not."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bot.wording.covers.little_things import bucket_tonight, other_things
from bot.wording.formats import Style
from bot.wording.hardiness import how_hard
from bot.wording.overheating import hot_lines, stewing
from bot.wording.people.absence import gone, stopped
from bot.wording.why import heat_line, night_asked, price_line, second_line, turn_line, why
from bot.wording.year.freezes import FreezeAsked, StripAsked, freeze_line, strip_when
from bot.wording.year.ripening import ripe
from rules.garden.cover import Cover, CoverState
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.records import DeedKind
from rules.garden.species import Organ
from rules.garden.tree import Phase, Site, Tree
from rules.heat.terms import HeatTerms
from rules.heat.what_if import WhatIfKind
from rules.outlook.garden_outlook import Outlook
from rules.outlook.little_things import LittleThing
from rules.plan.acts import Act, Reason
from rules.plan.garden_plan import NOTHING, Plan, SecondBest, WouldChange
from rules.weather.freeze_dates import FreezeDates
from rules.weather.freeze_seasons import WhichFreeze
from rules.wood.buds.critical import bud_row
from rules.wood.buds.stage import BudStage
from rules.wood.dead_wood import WoodLost
from rules.wood.hardiness import Hardiness, HardinessSource, OrganHardiness
from rules.wood.margins import Night, Tissue, TreeMargins
from rules.wood.ripening import Ripening

ZONE = ZoneInfo("America/Denver")
STYLE = Style(zone=ZONE)
SITE = Site(latitude_deg=39, longitude_deg=-109, elevation_m=1200, time_zone="America/Denver")
NOW = datetime(2026, 1, 14, 16, tzinfo=UTC)
TONIGHT = date(2026, 1, 14)


def tissue(wood_c: float, warmest_c: float = 5.0) -> Tissue:
    return Tissue(wood_c=wood_c, top_c=wood_c - 0.2, low_c=wood_c - 2, high_c=wood_c + 2, sd_c=1.0, chance=0.7,
                lost=0.3, warmest_c=warmest_c)  # fmt: skip


def night(shut_warmest_c: float = 5.0, evening: date = TONIGHT) -> Night:
    states: Mapping[CoverState, Tissue] = {
        CoverState.BARE: tissue(-12.0),
        CoverState.VENTED: tissue(-8.0, shut_warmest_c / 2),
        CoverState.CLOSED: tissue(-4.0, shut_warmest_c),
    }
    return Night(evening=evening, field_c=-11.0, air_c=-10.0, air_low_c=-12.0, air_high_c=-8.0, lowest_utc=NOW,
                 sunset_utc=NOW, sunrise_utc=NOW, gust_m_s=3.0, day_high_c=4.0, complete=True,
                 tissue=states)  # fmt: skip


WOOD = Hardiness(day=TONIGHT, phase=Phase.RESTING, lt10_c=-9.0, lt50_c=-12.0, sd_c=1.5, watched=Organ.WOOD,
                  source=HardinessSource.MODEL, label="fig, established", chill_met=True,
                  organs={Organ.WOOD: OrganHardiness(lt10_c=-9.0, lt50_c=-12.0, source="table")},
                  effects=(), doubts=())  # fmt: skip


def margins(
    name: str = "Porch fig", state: CoverState | None = CoverState.CLOSED, warmest_c: float = 5.0, film: bool = False
) -> TreeMargins:
    cover = Cover(name="film", preset="film alone") if film else Cover(name="cage")
    tree = Tree(name=name, species="fig", cover=cover.name)
    return TreeMargins(tree=tree, cover=cover, state=state, hardiness=WOOD, nights=[night(warmest_c)], doubts=())


def outlook(*trees: TreeMargins, planned: Plan | None = None) -> Outlook:
    return Outlook(now=NOW, site=SITE, service="saved", issued_utc=NOW, fetched_utc=NOW, credit="", trees=trees,
                   plan=planned or NOTHING, doubts=())  # fmt: skip


TERMS = HeatTerms(hour=10, wood_c=-4.0, outdoor_c=-10.0, gain_c=6.0, ground_w=7.2, fill_w=6.1, wood_w=2.4, side_w=11.6,
                  cap_w=3.3, leaks_w=0.2, sun_c=0.8, nights=3, settles_c=-7.0)  # fmt: skip


# overheating ----------------------------------------------------------------------------------------------------------


def test_a_cover_that_stands_shut_in_the_sun_is_to_be_opened_with_its_heat() -> None:
    seen = outlook(margins(warmest_c=31.4), margins("Wall fig", warmest_c=28.0), margins("Kaki", warmest_c=10.0))
    assert hot_lines(stewing(seen), STYLE, seen) == [
        "Shut, it would reach 31 °C inside Porch fig and Wall fig today: open them for the sun."
    ]


@pytest.mark.parametrize("state", [CoverState.BARE, CoverState.VENTED, None])
def test_a_cover_that_is_not_shut_does_not_stew(state: CoverState | None) -> None:
    assert stewing(outlook(margins(state=state, warmest_c=35.0))) == []


def test_only_clear_film_with_nothing_behind_it_is_cautioned() -> None:
    film, cage = stewing(outlook(margins(film=True, warmest_c=31.0), margins("Wall fig", warmest_c=31.0)))
    assert film.clear_film
    assert not cage.clear_film


def test_what_the_plan_opens_in_time_is_not_said_twice() -> None:
    opening = Act(tree="Porch fig", kind=DeedKind.VENTED, state=CoverState.VENTED, reason=Reason.HOT, night=TONIGHT,
                  from_utc=NOW, by_utc=NOW, minutes=5, chance=0.0, chance_after=0.0, saves_trips=1.0,
                  price_trips=0.5)  # fmt: skip
    planned = replace(outlook().plan, acts=(opening,))
    assert stewing(outlook(margins(warmest_c=31.0), planned=planned)) == []


# why ------------------------------------------------------------------------------------------------------------------


def test_a_flow_that_runs_the_other_way_is_told_on_the_other_side() -> None:
    cage = Cover(name="cage")
    usual = heat_line(TERMS, cage, CoverState.CLOSED, STYLE)
    assert "Heat in: ground 7 W, cooling straw 6 W, cooling wood 2 W. Out: side 12 W, cap 3 W." in usual
    thawing = heat_line(replace(TERMS, side_w=-5.0, fill_w=-4.0), cage, CoverState.VENTED, STYLE)
    assert "Heat in: ground 7 W, side 5 W, cooling wood 2 W. Out: straw 4 W, cap 3 W." in thawing


def test_why_tells_what_an_open_top_does_to_the_tip_and_nothing_of_a_shut_one() -> None:
    cage = Cover(name="cage")
    opened = replace(TERMS, tip_walls_c=1.2, tip_still_air_c=0.4)
    told = heat_line(opened, cage, CoverState.VENTED, STYLE)
    walls, still = STYLE.step(1.2), STYLE.step(0.4)
    assert f"The tip beside one in the open: walls {walls} warmer, out of the wind {still} colder." in told
    assert "tip" not in heat_line(TERMS, cage, CoverState.CLOSED, STYLE)


def test_why_names_what_would_change_the_advice_and_the_next_best() -> None:
    turn = WouldChange(tree="Porch fig", night=TONIGHT, change_c=-2.5, state=CoverState.CLOSED)
    one = margins(state=CoverState.VENTED)
    assert turn_line(turn, one, outlook(one), STYLE) == "2.5 °C colder tonight, and I would say: close it today."
    bare = margins(state=CoverState.BARE)
    assert "wrap it today" in turn_line(turn, bare, outlook(bare), STYLE)
    assert (
        second_line(SecondBest(acts=(), dearer_trips=12.3), outlook(bare))
        == "Next best: leave all as it is; much worse."
    )


def test_why_gives_the_source_of_the_threshold_and_at_most_two_doubts() -> None:
    doubts = (Doubt(kind=DoubtKind.SITE_GUESSED, amount=1.7), Doubt(kind=DoubtKind.NO_CLOUD, amount=3.0),
              Doubt(kind=DoubtKind.NO_WIND, amount=3.0))  # fmt: skip
    own = replace(WOOD, source=HardinessSource.YOUR_NUMBER)
    text = why(replace(margins(), hardiness=own, doubts=doubts), outlook(), STYLE, TERMS)
    assert "your own number" in text
    assert "No cloud given" in text
    assert "No wind given" not in text
    assert len(text.splitlines()) == 5


@pytest.mark.parametrize(("roots_c", "told"), [(-4.0, True), (-1.0, True), (0.0, False), (None, False)])
def test_why_tells_the_roots_of_a_pot_within_three_degrees_of_what_kills_them(
    roots_c: float | None, told: bool
) -> None:
    hardy = replace(WOOD, organs={**WOOD.organs, Organ.ROOTS: OrganHardiness(lt10_c=-3.5, lt50_c=-5.0, source="guess")})
    felt = {state: replace(one, roots_c=roots_c) for state, one in night().tissue.items()}
    one = replace(margins(), hardiness=hardy, nights=[replace(night(), tissue=felt)])
    assert ("Its roots, in a pot of 40 litres" in why(one, outlook(one), STYLE)) == told


# dates and shares -----------------------------------------------------------------------------------------------------


def dates(which: WhichFreeze, safe: date | None, half: date | None, share: float | None) -> FreezeAsked:
    found = FreezeDates(which=which, threshold_c=-2.0, safe=safe, half=half, bold=None, share=share, winters=37,
                        doubts=())  # fmt: skip
    return FreezeAsked(dates=found, where="at the Porch fig")


def test_freeze_dates_read_as_a_grower_says_them() -> None:
    spring = dates(WhichFreeze.LAST_IN_SPRING, date(2027, 5, 11), date(2027, 4, 26), 1.0)
    assert freeze_line(spring, STYLE) == (
        "Last −2 °C at the Porch fig: half of years by 26 April, one in ten after 11 May."
    )
    autumn = dates(WhichFreeze.FIRST_IN_AUTUMN, date(2027, 9, 28), date(2027, 10, 12), 1.0)
    assert freeze_line(autumn, STYLE) == (
        "First −2 °C at the Porch fig: one in ten before 28 September, half of years by 12 October."
    )


def test_a_freeze_that_seldom_or_never_comes_is_not_dated() -> None:
    assert "fewer than one year in ten" in freeze_line(dates(WhichFreeze.LAST_IN_SPRING, None, None, 0.05), STYLE)
    seldom = dates(WhichFreeze.LAST_IN_SPRING, date(2027, 4, 2), None, 0.3)
    assert "half of years have none, one in ten after 2 April" in freeze_line(seldom, STYLE)
    assert "not known" in freeze_line(dates(WhichFreeze.LAST_IN_SPRING, None, None, None), STYLE)


@given(st.floats(0, 1), st.floats(0, 1))
@example(0.95, 0.05)
def test_ripening_never_promises_more_than_nearly_always(with_wood: float, from_ground: float) -> None:
    found = Ripening(with_wood=with_wood, from_ground=from_ground, ripe_with_wood=None, ripe_from_ground=None,
                     killing_freeze=None, weeks_gained=5.0, years=37, doubts=())  # fmt: skip
    text = ripe(["Porch fig"], found, 60.0, STYLE)
    assert "10 years of 10" not in text
    assert "0 years of 10" not in text.replace("10 years of 10", "")
    assert "gains 5 weeks" in text
    assert "60 trips" in text


def test_ripening_that_cannot_be_known_says_why() -> None:
    unknown = Ripening(with_wood=None, from_ground=None, ripe_with_wood=None, ripe_from_ground=None,
                       killing_freeze=None, weeks_gained=None, years=0,
                       doubts=(Doubt(kind=DoubtKind.NO_PAST_WINTERS),))  # fmt: skip
    assert "I know no past winters here" in ripe(["Porch fig"], unknown, 60.0, STYLE)


# what wood can take, and people ---------------------------------------------------------------------------------------


def test_organs_that_bear_the_same_are_told_together_the_watched_one_first() -> None:
    same = OrganHardiness(lt10_c=-9.0, lt50_c=-12.0, source="table")
    organs = {
        Organ.ROOTS: OrganHardiness(lt10_c=-4.0, lt50_c=-5.0, source="table"),
        Organ.WOOD: same,
        Organ.BUDS: same,
    }
    text = how_hard(replace(margins(), hardiness=replace(WOOD, organs=organs)), STYLE)
    assert text.splitlines()[0] == "Porch fig is resting. Its chill is met: warm days wake it now."
    assert text.splitlines()[1] == "Wood and buds: a tenth is lost at −9 °C, half at −12 °C."
    assert "Roots (by the soil's temperature): a tenth is lost at −4 °C" in text


def test_buds_in_bloom_are_told_with_what_the_table_says_they_stand() -> None:
    bloom = BudStage(row=bud_row("apple", "full bloom"), seen=False)  # EB0913: 28 °F one in ten, 25 °F nine in ten
    text = how_hard(replace(margins(), hardiness=replace(WOOD, stage=bloom)), STYLE)
    said = "Buds: full bloom (by the model, give or take a stage)."
    assert f"{said} For half an hour, −2 °C takes one in ten of them, −4 °C nine in ten." in text
    told = how_hard(replace(margins(), hardiness=replace(WOOD, stage=replace(bloom, seen=True))), STYLE)
    assert "Buds: full bloom (as you told me)." in told


def test_what_a_tree_is_safe_to_says_of_which_thermometer() -> None:
    assert "± 1.5 °C, air beside the stem." in how_hard(margins(), STYLE).replace("± 2 °C", "± 1.5 °C")


def test_who_is_silent_or_away_hears_who_watches_instead() -> None:
    assert "Juniper still gets them" in stopped(["Juniper"])
    assert "Juniper and Sage still get them" in stopped(["Juniper", "Sage"])
    assert "yours to watch" in stopped([])
    assert "I still write to you" in gone(None, [], STYLE, NOW)


# which night, what is gone already, and a bucket ---------------------------------------------------------------------


def calm(evening: date) -> Night:
    quiet = {state: replace(tissue(-1.0), chance=0.0) for state in (CoverState.BARE, CoverState.CLOSED)}
    return replace(night(evening=evening), tissue=quiet | {CoverState.VENTED: replace(tissue(-1.0), chance=0.01)})


def test_why_tells_the_night_that_threatens_a_tree_as_it_stands_and_what_shutting_it_before_does() -> None:
    friday = TONIGHT + timedelta(days=2)
    states = dict(night().tissue) | {CoverState.CLOSED: replace(tissue(-4.0), chance=0.05)}
    nights = [calm(TONIGHT), replace(night(evening=friday), tissue=states)]
    open_one = replace(margins(state=CoverState.VENTED), nights=nights)
    asked = night_asked(open_one, outlook(open_one))
    assert asked is not None
    assert asked.evening == friday
    text = why(open_one, outlook(open_one), STYLE)
    assert "7 in 10 that it gets too cold as it is, 1 in 20 then" in text
    assert "Nothing to do" not in text


def test_what_the_nights_so_far_took_is_told_apart_from_what_is_ahead() -> None:
    act = Act(
        tree="Porch fig", kind=DeedKind.CLOSED, state=CoverState.CLOSED, reason=Reason.COLD, night=TONIGHT,
        from_utc=NOW, by_utc=NOW, minutes=10, chance=0.5, chance_after=0.02, saves_trips=9.0, price_trips=1.0,
        lost=0.6, lost_after=0.2,
    )  # fmt: skip
    hurt = replace(margins(), hardiness=replace(WOOD, lost=WoodLost(organ=Organ.WOOD, share=0.2)))
    text = price_line(act, outlook(hurt))
    assert "About 2 tenths of its wood is probably gone already" in text
    assert "lose about 4 tenths more" in text
    assert text.endswith("done, hardly any.")


def test_a_bucket_has_the_figure_of_the_list_of_what_helps_and_what_changes_nothing_is_not_listed() -> None:
    bucket = LittleThing(kind=WhatIfKind.BUCKET, gain_c=1.1, chance=0.6)
    idle = LittleThing(kind=WhatIfKind.BLANKET, gain_c=0.3, chance=0.69)
    shut = LittleThing(kind=WhatIfKind.CLOSED, gain_c=3.0, chance=0.3)
    one = margins(state=CoverState.VENTED)
    listed = other_things(one, [shut, bucket, idle], "tonight", STYLE)
    asked = bucket_tonight(one, [shut, bucket, idle], TONIGHT, STYLE, NOW)
    for text in (listed, asked):
        assert "1.1 °C warmer, 6 in 10 then" in text
        assert "shutting its cover before dusk: about 3.0 °C warmer, 3 in 10 then" in text
        assert "blanket" not in text


def test_a_bucket_finds_no_room_in_a_mound() -> None:
    mound = replace(margins(), cover=Cover(name="mound", preset="bent down and mounded"))
    assert "no room" in bucket_tonight(mound, [], TONIGHT, STYLE, NOW)


def test_who_takes_covers_off_in_june_is_not_promised_an_ask_in_april() -> None:
    spring = dates(WhichFreeze.LAST_IN_SPRING, date(2027, 5, 11), date(2027, 4, 26), 1.0).dates
    ours, taught = (StripAsked(trees=["Wall"], dates=spring, act=None, as_taught=one) for one in (False, True))
    told = strip_when([ours], None, STYLE, "your own file")
    assert "Wall: strip about 26 April, cover at hand until 11 May" in told
    assert told.endswith("I ask you when the time comes.")
    june = strip_when([taught], None, STYLE, "your own file")
    assert "I ask for Wall in June" in june
    assert "when the time comes" not in june
    assert "strip about" not in june
    for text in (told, june):
        assert "open on mild days" not in text  # it can stay shut, and how it is tended is the grower's
