"""How a number, a time, a chance and a list of names are written for this grower."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from rules.garden.units import CM_PER_INCH, M_S_PER_KM_H, M_S_PER_MPH, f_from_c
from rules.weather.hourly import tonight

MINUS = "−"
ONE = 0.95  # from here on it is written as 1, not as 1.0


def time_of_day(local: time, *, fahrenheit: bool) -> str:
    """A time on the grower's clock; who reads Fahrenheit reads am and pm.

    >>> time_of_day(time(16, 50), fahrenheit=False), time_of_day(time(0, 5), fahrenheit=True)
    ('16:50', '12:05 am')
    """
    if not fahrenheit:
        return f"{local:%H:%M}"
    return f"{local.hour % 12 or 12}:{local:%M} {'am' if local.hour < 12 else 'pm'}"


@dataclass(frozen=True, kw_only=True)
class Style:
    """The grower's units, clock and zone: all that turns a value into words.

    `wind` is one of "km/h", "mph", "m/s"; `length` one of "cm", "in". Growers who read Fahrenheit read a 12-hour
    clock, the others a 24-hour one. With `decimal_comma` tenths follow a comma.
    """

    zone: ZoneInfo
    fahrenheit: bool = False
    wind: str = "km/h"
    length: str = "cm"
    decimal_comma: bool = False

    def number(self, written: str) -> str:
        """A number as it was written, with the grower's decimal sign.

        >>> Style(zone=ZoneInfo("UTC"), decimal_comma=True).number("6.5")
        '6,5'
        """
        return written.replace(".", ",") if self.decimal_comma else written

    def degrees(self, celsius: float, *, tenths: bool = False, unit: bool = True) -> str:
        """A temperature in the grower's scale, with a true minus sign.

        >>> Style(zone=ZoneInfo("UTC")).degrees(-8.2)
        '−8 °C'
        >>> Style(zone=ZoneInfo("UTC"), fahrenheit=True).degrees(-8.0)
        '18 °F'
        """
        shown = f_from_c(celsius) if self.fahrenheit else celsius
        number = f"{shown:.1f}" if tenths else f"{shown:.0f}"
        number = self.number({"-0": "0", "-0.0": "0.0"}.get(number, number).replace("-", MINUS))
        return f"{number} {'°F' if self.fahrenheit else '°C'}" if unit else number

    def step(self, kelvin: float) -> str:
        """A difference of temperature, without sign.

        >>> Style(zone=ZoneInfo("UTC"), fahrenheit=True).step(1.0)
        '1.8 °F'
        """
        shown = abs(kelvin) * (1.8 if self.fahrenheit else 1.0)
        return f"{self.number(f'{shown:.1f}')} {'°F' if self.fahrenheit else '°C'}"

    def speed(self, m_s: float) -> str:
        """A wind speed in the grower's unit.

        >>> Style(zone=ZoneInfo("UTC")).speed(10.0)
        '36 km/h'
        """
        per = {"km/h": M_S_PER_KM_H, "mph": M_S_PER_MPH, "m/s": 1.0}[self.wind]
        return f"{m_s / per:.0f} {self.wind}"

    def size(self, metres: float) -> str:
        """A length in the grower's unit.

        >>> Style(zone=ZoneInfo("UTC"), length="in").size(0.508)
        '20 in'
        >>> Style(zone=ZoneInfo("UTC"), length="in").size(0.018)
        '0.7 in'
        """
        shown = metres * 100 / (CM_PER_INCH if self.length == "in" else 1.0)
        return f"{self.number(f'{shown:.1f}') if 0 < shown < ONE else f'{shown:.0f}'} {self.length}"

    def clock(self, moment: datetime) -> str:
        """The time of day on the grower's clock.

        >>> from datetime import UTC
        >>> Style(zone=ZoneInfo("America/Denver")).clock(datetime(2026, 1, 14, 23, 50, tzinfo=UTC))
        '16:50'
        >>> Style(zone=ZoneInfo("UTC"), fahrenheit=True).clock(datetime(2026, 1, 14, 16, 50, tzinfo=UTC))
        '4:50 pm'
        """
        return time_of_day(moment.astimezone(self.zone).time(), fahrenheit=self.fahrenheit)

    def round_clock(self, moment: datetime) -> str:
        """The time of day to the nearest half hour, for what is only roughly known."""
        local = moment.astimezone(self.zone)
        shift = (local.minute + 15) // 30 * 30 - local.minute
        return self.clock(moment + timedelta(minutes=shift, seconds=-local.second))

    def day(self, moment: datetime | date, now: datetime) -> str:
        """A day as people say it: today, tomorrow, a weekday, else weekday and date.

        >>> from datetime import UTC
        >>> Style(zone=ZoneInfo("UTC")).day(date(2026, 1, 15), datetime(2026, 1, 14, 9, tzinfo=UTC))
        'tomorrow'
        """
        day = moment.astimezone(self.zone).date() if isinstance(moment, datetime) else moment
        ahead = (day - now.astimezone(self.zone).date()).days
        names = {-1: "yesterday", 0: "today", 1: "tomorrow"}
        if ahead in names:
            return names[ahead]
        return f"{day:%A}" if 1 < ahead < 7 else f"{day:%a} {self.short_date(day)}"

    def short_date(self, day: date) -> str:
        """A date without its year; who reads Fahrenheit reads the month first.

        >>> Style(zone=ZoneInfo("UTC")).short_date(date(2026, 1, 4))
        '4 Jan'
        >>> Style(zone=ZoneInfo("UTC"), fahrenheit=True).short_date(date(2026, 1, 4))
        'Jan 4'
        """
        return f"{day:%b} {day.day}" if self.fahrenheit else f"{day.day} {day:%b}"

    def long_date(self, day: date) -> str:
        """The same with the month's whole name.

        >>> Style(zone=ZoneInfo("UTC")).long_date(date(2027, 4, 26))
        '26 April'
        """
        return f"{day:%B} {day.day}" if self.fahrenheit else f"{day.day} {day:%B}"

    def evening(self, now: datetime) -> date:
        """The evening of the night people call tonight."""
        return tonight(now, self.zone)

    def night(self, evening: date, now: datetime) -> str:
        """A night as people say it, named by its evening; at two in the morning "tonight" is still going on.

        >>> from datetime import UTC
        >>> Style(zone=ZoneInfo("UTC")).night(date(2026, 1, 14), datetime(2026, 1, 15, 2, tzinfo=UTC))
        'tonight'
        """
        ahead = (evening - self.evening(now)).days
        names = {-1: "last night", 0: "tonight", 1: "tomorrow night"}
        return names.get(ahead, f"{evening:%A} night" if 1 < ahead < 7 else f"the night of {self.short_date(evening)}")


def names(things: Sequence[str]) -> str:
    """A list of names as people say it.

    >>> names(["Porch", "Wall", "Kaki"])
    'Porch, Wall and Kaki'
    """
    if len(things) < 2:
        return "".join(things)
    return f"{', '.join(things[:-1])} and {things[-1]}"


def chance(share: float) -> str:
    """A chance as people say it; never "sure", since no forecast is.

    >>> chance(0.68), chance(0.03), chance(0.995)
    ('7 in 10', 'under 1 in 20', 'almost certain')
    """
    if share < 0.05:
        return "under 1 in 20"
    if share < 0.075:
        return "1 in 20"
    if share > 0.95:
        return "almost certain"
    return f"{max(1, round(share * 10))} in 10"


def too_cold(share: float) -> str:
    """A chance of too cold a night, in words that stand alone.

    >>> too_cold(0.68), too_cold(0.995)
    ('7 in 10 that it gets too cold', 'almost certainly too cold')
    """
    return "almost certainly too cold" if share > 0.95 else f"{chance(share)} that it gets too cold"


def minutes(count: float) -> str:
    """A working time, to five minutes.

    >>> minutes(70), minutes(3), minutes(150)
    ('70 minutes', '5 minutes', '2½ hours')
    """
    rounded = max(5, round(count / 5) * 5)
    if rounded < 120:
        return f"{rounded} minutes"
    halves = round(rounded / 30)
    return f"{halves // 2}{'½' if halves % 2 else ''} hours"


def five_minutes(moment: datetime) -> datetime:
    """The full five minutes before: nobody counts single minutes with a coat on."""
    return moment.replace(minute=moment.minute - moment.minute % 5)


def sentence(text: str) -> str:
    """The text with its first letter large and a full stop at its end."""
    text = text.strip()
    return (text[:1].upper() + text[1:]).rstrip(".") + "." if text else ""


def counted(number: float, thing: str) -> str:
    """A number of things.

    >>> counted(1, "night"), counted(3, "night")
    ('1 night', '3 nights')
    """
    return f"{number:g} {thing}{'' if number == 1 else 's'}".replace("-", MINUS)
