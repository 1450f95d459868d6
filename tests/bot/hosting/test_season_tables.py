"""What past winters were worth to a tree outlives the program that reckoned it, and is let go with its garden."""

from datetime import UTC, datetime

import numpy as np

from bot.hosting.one_garden import Watch
from bot.hosting.season_tables import MOST, keep_tables, read_tables
from bot.logbook import Logbook, forget_garden, kept_answer_times
from bot.rounds import Setting
from rules.outlook.garden_outlook import outlook_carried
from rules.plan.season.table import SeasonTable
from tests.bot.phone import Phone, inputs, larkmoor, winters_file

NOW = datetime(2025, 11, 28, 16, 20, tzinfo=UTC)
TABLE = SeasonTable(
    starts=np.array([0, 6]), cost=np.full((2, 3, 3, 11), 1.0 / 3.0), never=np.full((2, 3, 11), 0.5),
    bare_lt50_c=np.array([-4.0, -5.0]),
)  # fmt: skip


def kept(logbook: Logbook, garden: str = "Larkmoor") -> dict[str, SeasonTable]:
    with logbook.begin() as c:
        return read_tables(c, garden)


def test_a_new_program_finds_the_tables_the_last_one_made_and_advises_by_them() -> None:
    phone = Phone(larkmoor("Porch fig", winters=winters_file()), NOW)
    phone.tick()
    found = kept(phone.logbook, phone.garden.name)
    assert len(found) == 1
    held = dict(found)
    rested = inputs(phone)
    rested = type(rested)(**{**vars(rested), "tables": held})
    seen, _ = outlook_carried(rested, phone.now, None)
    assert held.keys() == found.keys()  # nothing was reckoned anew
    made, _ = outlook_carried(inputs(phone), phone.now, None)
    assert seen.acts == made.acts
    again = Watch(Setting(garden=phone.garden, logbook=phone.logbook, transport=phone.watch.setting.transport))
    again.tick(phone.now)
    assert kept(phone.logbook, phone.garden.name).keys() == found.keys()
    phone.close()


def test_a_table_comes_back_as_it_was_to_the_last_digit(logbook: Logbook) -> None:
    with logbook.begin() as c:
        keep_tables(c, "Larkmoor", {"one": TABLE}, NOW)
    found = kept(logbook)["one"]
    assert (found.cost == TABLE.cost).all()
    assert (found.never == TABLE.never).all()
    assert (found.starts == TABLE.starts).all()
    assert (found.bare_lt50_c == TABLE.bare_lt50_c).all()


def test_the_oldest_tables_are_let_go_and_all_of_them_with_the_garden(logbook: Logbook) -> None:
    with logbook.begin() as c:
        for number in range(MOST + 3):
            keep_tables(c, "Larkmoor", {str(number): TABLE}, NOW.replace(minute=number % 60))
        assert set(read_tables(c, "Larkmoor")) == {str(number) for number in range(3, MOST + 3)}
        forget_garden(c, "Larkmoor", "somewhere")
        assert not kept_answer_times(c, "Larkmoor seasons")
