"""What a garden was last looked ahead to, what that stood on, and when it must be made anew."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from threading import Lock
from typing import Final

from bot.hosting.season_tables import keep_tables, read_tables
from bot.logbook import Connection, KeptRecords, note_round
from bot.rounds import RoundInputs, Setting, gather, inputs_of
from bot.rounds.gathering import RECORDS_READ
from bot.rounds.job_facts import job_facts
from bot.rounds.learning.garden import Learner
from bot.rounds.weather.kept_forecast import tells_the_same
from bot.settings import Garden
from bot.wording.document import outlook_document
from rules.garden.records import Records
from rules.jobs import GardenFacts
from rules.outlook.garden_outlook import Outlook, outlook_carried
from rules.outlook.inputs import Carried, OutlookInputs
from rules.outlook.little_things import LittleThing, little_things
from rules.plan.season.table import SeasonTable
from rules.wood.margins import TreeMargins

LOOK_EVERY: Final = timedelta(hours=12)  # the clock alone changes little between two forecasts; no source


class LookAhead:
    """The last outlook of one garden, kept only to spare its work: a new process comes to the same one."""

    def __init__(self, setting: Setting) -> None:
        self.setting = setting
        self.seen: Outlook | None = None
        self.round_inputs: RoundInputs | None = None
        self.round_id: int | None = None
        self.kept_records = KeptRecords()
        self._carried: Carried | None = None
        self._learner = Learner()
        self._tables: dict[str, SeasonTable] | None = None
        self._things: tuple[Carried | None, list[tuple[object, dict[str, list[LittleThing]]]]] = None, []
        self._changing = Lock()  # the setting, and what was seen of it
        self._looking = Lock()  # tick and answers have threads of their own; one look is enough for both

    def begin_anew(self, setting: Setting) -> None:
        """Forget what was seen: it was seen for the garden as it was."""
        with self._changing:
            self.setting = setting
            self.round_inputs = self.seen = self._carried = None

    def records(self, c: Connection, now: datetime) -> Records:
        """What was told of this winter and the one before it."""
        return self.kept_records.read(c, self.setting.garden.name, now - RECORDS_READ)

    def job_facts(self, c: Connection, seen: Outlook, records: Records, now: datetime) -> GardenFacts:
        """What the year's jobs are reckoned from, on the inputs of the last look."""
        garden = self.setting.garden
        inputs = inputs_of(garden, self.round_inputs or self._gathered(c, now))
        return job_facts(c, garden, seen, inputs, records, now)

    def inputs(self, c: Connection, now: datetime) -> OutlookInputs:
        """What the last look stood on."""
        found = inputs_of(self.setting.garden, self.round_inputs or self._gathered(c, now))
        return replace(found, carried=self._carried)

    def little_things(
        self, inputs: OutlookInputs, trees: Sequence[TreeMargins], evening: date, now: datetime
    ) -> dict[str, list[LittleThing]]:
        """What little can still be done for some trees tonight; every tick asks again, and many an answer."""
        hour = now.replace(minute=0, second=0, microsecond=0)
        asked = [evening, hour, *((one.tree.name, one.state_assumed, one.cover) for one in trees)]
        if self._things[0] is not self._carried:
            self._things = self._carried, []
        found = next((things for before, things in self._things[1] if before == asked), None)
        if found is None:
            found = little_things(inputs, trees, evening, now)
            self._things[1].append((asked, found))
        return found

    def look(self, now: datetime) -> None:
        """A new outlook, kept with its numbers, where it rests on something new, or the time for an act has passed.

        The clock alone asks for one every twelve hours.

        Looking ahead takes a while, so no transaction is open meanwhile: the inbox must never wait for it.
        """
        with self._looking:
            self._look_alone(now)

    def _look_alone(self, now: datetime) -> None:
        setting = self.setting
        with setting.logbook.begin() as c:
            records = self.kept_records.keep(c, setting.garden.name, now - RECORDS_READ)
            round_inputs = self._gathered(c, now, records)
        if not self._is_stale(round_inputs, now) and self.round_inputs is not None:
            looked_at = self.round_inputs  # its word stays, so that many small changes add up
            self.round_inputs = replace(
                round_inputs, forecast=looked_at.forecast, forecast_id=looked_at.forecast_id
            )  # readings that taught nothing new are kept at hand
            return
        tables = self._kept_tables(setting.garden)
        inputs = replace(inputs_of(setting.garden, round_inputs), tables=tables)
        seen, carried = outlook_carried(inputs, now, self._carried)
        document = outlook_document(seen).model_dump_json()
        with setting.logbook.begin() as c:
            round_id = note_round(c, setting.garden.name, now, round_inputs.forecast_id, document)
            keep_tables(c, setting.garden.name, tables, now)
        with self._changing:
            if setting is self.setting:  # else the file was changed meanwhile, and this was seen for the old garden
                self.round_inputs, self.seen, self._carried, self.round_id = round_inputs, seen, carried, round_id

    def _kept_tables(self, garden: Garden) -> dict[str, SeasonTable]:
        """What seasons past were worth to this garden's trees: read once, so that a new process need not reckon it."""
        if self._tables is None:
            with self.setting.logbook.begin() as c:
                self._tables = read_tables(c, garden.name)
        return self._tables

    def _gathered(self, c: Connection, now: datetime, records: Records | None = None) -> RoundInputs:
        records = records or self.records(c, now)
        return gather(c, self.setting.garden, now, self.setting.weather_of, self._learner, records)

    def _is_stale(self, round_inputs: RoundInputs, now: datetime) -> bool:
        if self.round_inputs is None or self.seen is None:
            return True
        before = self.round_inputs
        changed = _rests_on(self.setting.garden, round_inputs) != _rests_on(self.setting.garden, before)
        changed = changed or round_inputs.climate is not before.climate
        if round_inputs.forecast_id != before.forecast_id:
            changed = changed or not tells_the_same(round_inputs.forecast, before.forecast)
        missed = any(self.seen.now < act.by_utc <= now for act in self.seen.acts)  # what now, if it was not done?
        return changed or missed or not timedelta(0) <= now - self.seen.now < LOOK_EVERY


def _rests_on(garden: Garden, round_inputs: RoundInputs) -> tuple[object, ...]:
    """What a look ahead rests on; of readings what they taught, so that a sensor by day stirs nothing."""
    said = replace(round_inputs.records, readings=())
    taught = inputs_of(garden, round_inputs)
    learned = taught.offsets, taught.covers_read, taught.forecast_error, round_inputs.accepted
    return said, round_inputs.away, round_inputs.refused, *learned
