"""A garden begun in the chat by the guided first evening, and the weeks lived through with it."""

from datetime import datetime, timedelta
from pathlib import Path

from bot.forecasts import Transport, dump_forecast
from bot.hosting.new_garden import NewGarden
from bot.hosting.one_garden import Watch
from bot.logbook import note_person, open_logbook
from bot.rounds import Setting
from bot.settings import Garden, read_garden
from tests.bot.migrated import new_file
from tests.bot.nine_trees import week
from tests.bot.talk import ROWAN, Talk

NAME = "Tanglewick"
# What a newcomer types and taps, tree by tree: typed as people type, and answered in words near the buttons.
FIRST_EVENING = (
    ("39.0, -109.0", "yep", "1620 m", "metric"),
    ("a fig called Well, in the open, planted 2017, double cage with straw and film", "not on yet", "a lot", "fewest"),
    ("add fig Gate planted 2018 in the lawn 220 cm tall, straw cage and film, top sticks out", "Gate", "no", "usual"),
    ("add a satsuma called Tub, in a pot, planted 2020, goes into the garage", "not on yet", "40"),
    ("add a fig called Ditch, in the open, planted 2019, bent down and mounded", "nope", "40"),
    (
        "add pomegranate called Barn, planted 2020, by the wall of the barn, straw cage with a moving blanket outside",
        "in the open", "off", "40",
    ),
    ("add a fig I don't know the kind of called Stray, in the open, planted 2021, burlap wrap", "not on", "40"),
    ("add fig called Trial, in the open, planted 2017, left bare on purpose, twin of Well", "10"),
    ("add a kaki called Crate, in the open, planted 2020, box with a lid filled with straw", "not yet", "40"),
    ("add satsuma called Patch, planted 2021, in the open, tent of film", "No", "a little"),
)  # fmt: skip


class BegunByChat(Talk):
    """One phone that begins a garden, then lives with it under a forecast made for the week."""

    def __init__(self, folder: Path, start: datetime, lows_c: list[float], gust_m_s: float) -> None:
        super().__init__(open_logbook(new_file(folder / "tanglewick.logbook")), start - timedelta(hours=1))
        self._folder, self.start = folder, start
        self._lows_c, self._gust_m_s = lows_c, gust_m_s
        self.path = folder / "tanglewick.toml"
        with self.logbook.begin() as c:
            note_person(c, NAME, ROWAN, "Rowan", "owner")
        nowhere = Transport(addresses={"open-meteo": "http://127.0.0.1:9"}, pause=lambda _: None)
        self.door = NewGarden(self.path, NAME, self.logbook, nowhere, self._watch)
        self.say("hello")
        for told in FIRST_EVENING:
            for words in told:
                self.say(words)
        self.evening, self.heard = [one.text for one in self.heard], []

    @property
    def said(self) -> list[str]:
        """All that came since the first evening."""
        return [one.text for one in self.heard]

    @property
    def garden(self) -> Garden:
        return read_garden(self.path)

    def _watch(self) -> Watch:
        text = self.path.read_text().replace(
            'services = ["open-meteo"]', 'services = ["saved"]\nsaved_forecasts = "forecast.json"'
        )
        self._forecast(0)
        self.path.write_text(text)
        garden = read_garden(self.path)
        transport = Transport(saved_path=garden.saved_forecasts)
        return Watch(Setting(garden=garden, logbook=self.logbook, transport=transport, path=self.path))

    def _forecast(self, day: int) -> None:
        rise_c = 14.0 if self.start.month == 4 else 10.0
        lows_c, now = self._lows_c, self.start + timedelta(days=day)
        made = week(now, lows_c[day:], past_c=lows_c[:day], rise_c=rise_c, gust_m_s=self._gust_m_s)
        (self._folder / "forecast.json").write_text(dump_forecast(made), encoding="utf-8")

    def day(self, day: int, hour: int) -> list[str]:
        """The clock at an hour of a day, with that day's forecast; what was said unasked."""
        self.now = self.start.replace(hour=hour, minute=30) + timedelta(days=day)
        self._forecast(day)
        return [one.text for one in self.tick()]
