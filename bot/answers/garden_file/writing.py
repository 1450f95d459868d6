"""The garden file changed by what an owner says: whether they may, the change written, or the answer why it is not."""

from dataclasses import replace

from bot.answers.exchange import Answer, Exchange
from bot.answers.rights import is_owner, owners_only
from bot.settings import Garden, GardenError
from bot.settings.writing import Edit, edited_garden
from bot.wording.people import garden as say


def refusal(exchange: Exchange) -> list[Answer] | None:
    """The answer to somebody who may not change the file, or where there is none; None where it can be changed."""
    if not is_owner(exchange):
        return owners_only(exchange)
    return [Answer(text=say.no_file())] if exchange.home is None else None


def written(exchange: Exchange, edit: Edit) -> Garden | list[Answer]:
    """The garden after a change to its file, or the answer why it was refused."""
    if exchange.home is None:
        return [Answer(text=say.no_file())]
    try:
        return edited_garden(exchange.home.garden_file, edit, exchange.today)
    except GardenError as error:
        return mistaken(error)


def mistaken(error: GardenError) -> list[Answer]:
    """The mistakes of a change, without the lines of a file that nobody sees in the chat."""
    return [Answer(text=say.refused([replace(problem, line=None) for problem in error.problems]))]
