"""Who may do what: an owner changes the garden and lets people in and out, everyone else answers and asks."""

from bot.answers.exchange import Answer, Exchange
from bot.logbook import Person, garden_of_chat, list_people
from bot.settings import Role
from bot.wording.people import household as say


def is_owner(exchange: Exchange) -> bool:
    """Whether the person who wrote is an owner; in a group by who wrote, not by what the group may do."""
    person: Person | None = exchange.person
    if exchange.incoming.is_group:
        sender = exchange.incoming.sender_id
        person = garden_of_chat(exchange.c, sender) if sender is not None else None
    return person is not None and person.garden == exchange.garden.name and person.role == Role.OWNER


def owners_only(exchange: Exchange) -> list[Answer]:
    """What somebody else hears of an owner's word."""
    owners = [person.name for person in list_people(exchange.c, exchange.garden.name) if person.role == Role.OWNER]
    return [Answer(text=say.owners_only(list(dict.fromkeys(owners))))]
