"""Whether the logbook's file is sound: looked at when a program starts and once a day, and its owners are told."""

import logging
from datetime import UTC, date, datetime

from bot.logbook import LogbookError
from bot.rounds.file_trouble import tell_of_trouble
from bot.rounds.setting import Setting

log = logging.getLogger(__name__)


class Soundness:
    """The daily look at one garden's logbook; the first is due at once."""

    def __init__(self) -> None:
        self._looked: date | None = None

    def look(self, setting: Setting, now: datetime) -> None:
        """Look, if that was not done today already."""
        today = now.astimezone(UTC).date()
        if self._looked == today:
            return
        self._looked = today
        damage = setting.logbook.damage()
        if damage:
            log.error("the logbook is damaged: %s", damage)
            _tell(setting, damage, now)


def _tell(setting: Setting, damage: str, now: datetime) -> None:
    words = (
        f"My logbook is damaged, so what I remember may be wrong or missing. On my machine, stop me and put the newest "
        f"backup in its place. ({damage})"
    )
    try:
        with setting.logbook.begin() as c:
            tell_of_trouble(c, setting.garden.name, words, now)
    except LogbookError as error:
        log.error("the owners can't be told: %s", error)  # noqa: TRY400 - the sentence says it all
