"""Settings changed in the chat: units, quiet hours, worth, whose way, services; the file keeps its remarks."""

from collections.abc import Sequence
from dataclasses import replace

from bot.answers.exchange import Answer, Exchange, context_of
from bot.answers.household.my_settings import tell_settings
from bot.answers.rights import is_owner, owners_only
from bot.replies import Meaning
from bot.replies.phrases.setting_phrases import Setting, read_settings
from bot.settings import Garden, GardenError
from bot.settings.editing import edited_garden, setting_values
from bot.wording.people import garden as say
from bot.wording.people.settings import changed


def set_or_show(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """The settings changed as asked, or all of them shown."""
    wanted = read_settings(meaning.text, context_of(exchange))
    if not wanted:
        return tell_settings(exchange, meaning)
    if not is_owner(exchange):
        return owners_only(exchange)
    if exchange.home is None:
        return [Answer(text=say.no_file())]
    garden = _changed(exchange, wanted)
    return [Answer(text=garden if isinstance(garden, str) else changed(exchange.garden, garden, wanted))]


def _changed(exchange: Exchange, wanted: Sequence[Setting]) -> Garden | str:
    """The garden after the change, or the sentences why it was refused."""
    if exchange.home is None:
        return say.no_file()
    try:
        edits = [(one.table, one.tree, one.key, list(one.value) if isinstance(one.value, tuple) else one.value)
                 for one in wanted]  # fmt: skip
        return edited_garden(exchange.home.garden_file, setting_values(edits), exchange.today)
    except GardenError as error:
        return say.refused([replace(problem, line=None) for problem in error.problems])
