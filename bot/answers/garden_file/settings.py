"""Settings changed in the chat: units, quiet hours, worth, whose way, services; the file keeps its remarks."""

from bot.answers.exchange import Answer, Exchange, context_of
from bot.answers.garden_file.writing import refusal, written
from bot.answers.household.my_settings import tell_settings
from bot.replies import Meaning
from bot.replies.phrases.setting_phrases import read_settings
from bot.settings.editing import setting_values
from bot.wording.people.settings import changed


def set_or_show(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """The settings changed as asked, or all of them shown."""
    wanted = read_settings(meaning.text, context_of(exchange))
    if not wanted:
        return tell_settings(exchange, meaning)
    if (refused := refusal(exchange)) is not None:
        return refused
    edits = [(one.table, one.tree, one.key, list(one.value) if isinstance(one.value, tuple) else one.value)
             for one in wanted]  # fmt: skip
    garden = written(exchange, setting_values(edits))
    return garden if isinstance(garden, list) else [Answer(text=changed(exchange.garden, garden, wanted))]
