"""When somebody can work, from words such as "saturdays" or "evenings after six"."""

import re
from typing import Final

from bot.replies.words.numbers import number_of
from rules.plan.grower.free_hours import ALL_DAY, DAYS

EVENING_H: Final = 17
NOON_H: Final = 12


def free_hours_said(text: str) -> dict[str, str]:
    """The hours of each weekday that words like "saturdays" or "evenings after six" leave free; of "any time" all.

    >>> free_hours_said("only saturdays"), free_hours_said("weekdays after six")["monday"]
    ({'saturday': 'all day'}, '18:00-')
    """
    days = [day for day in DAYS if day in text]
    days += list(DAYS[5:]) if "weekend" in text else []
    days += list(DAYS[:5]) if "weekday" in text or "workday" in text else []
    return dict.fromkeys(days or DAYS, _hours(text))


def _hours(text: str) -> str:
    found = re.search(r"(after|from|before|until|till) (\d{1,2}|[a-z]+)(?:[:.](\d\d))?(?: ?(am|pm))?", text)
    evening, morning = "evening" in text or "after work" in text, "morning" in text
    hour = (NOON_H if found[2] == "noon" else int(number_of(found[2]) or 0)) if found else 0
    if not found or not hour:
        return f"{EVENING_H}:00-" if evening else f"0:00-{NOON_H}:00" if morning else ALL_DAY
    minute = found[3] or "00"
    later = found[4] == "pm" or (found[4] is None and not morning and hour < 8 and found[1] in ("after", "from"))
    hour = hour + 12 if later and hour < 12 else hour
    return f"{hour}:{minute}-" if found[1] in ("after", "from") else f"0:00-{hour}:{minute}"


def names_hours(text: str) -> bool:
    """Whether words name a day of the week or hours at all: "tomorrow" is one day, not a habit."""
    return re.search(r"day|week|evening|morning|afternoon|night|time|after|before|from|until|till", text) is not None
