"""Who may do what: an owner changes the garden and lets people in and out, everyone else answers and asks."""

from bot.answers.desk import Answer, Desk
from bot.logbook import Person, garden_of_chat, list_people
from bot.settings import Role
from bot.wording.people import household as say


def is_owner(desk: Desk) -> bool:
    """Whether the person who wrote is an owner; in a group by who wrote, not by what the group may do."""
    person: Person | None = desk.person
    if desk.incoming.is_group:
        sender = desk.incoming.sender_id
        person = garden_of_chat(desk.c, sender) if sender is not None else None
    return person is not None and person.garden == desk.garden.name and person.role == Role.OWNER


def owners_only(desk: Desk) -> list[Answer]:
    """What somebody else hears of an owner's word."""
    owners = [person.name for person in list_people(desk.c, desk.garden.name) if person.role == Role.OWNER]
    return [Answer(text=say.owners_only(list(dict.fromkeys(owners))))]
