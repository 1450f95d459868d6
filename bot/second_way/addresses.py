"""Where each person is reached besides the messenger; the library knows some hundred kinds of address."""

import logging
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Final

from apprise import Apprise, NotifyFormat

from bot.settings.environment.private_files import SecondWays

LIBRARY: Final = logging.getLogger("apprise")


class WayError(Exception):
    """An address that cannot be used; the sentence never holds it."""


class Ways:
    """The addresses of all people, each checked once.

    Raises
    ------
    WayError
        The library cannot make sense of one of them.
    """

    def __init__(self, addresses: SecondWays) -> None:
        LIBRARY.setLevel(logging.CRITICAL)  # its lines may hold what stands in an address
        self._of = addresses
        for garden, people in addresses.items():
            for person, own in people.items():
                for number, address in enumerate(own, start=1):
                    with _opened(address, f"Address {number} of {person} in {garden}"):
                        pass

    def of(self, garden: str, person: str) -> Sequence[str]:
        """The addresses of one person; none where the file names none."""
        return self._of.get(garden, {}).get(person, ())

    def people(self, garden: str) -> Sequence[str]:
        """Whom the file names in a garden."""
        return tuple(self._of.get(garden, {}))


def send(address: str, title: str, text: str) -> bool:
    """Whether the message was taken at the other end. It waits for that, as long as the library's own patience."""
    with _opened(address, "The address") as way:
        return bool(way.notify(title=title, body=text, body_format=NotifyFormat.TEXT))


def shown(address: str) -> str:
    """An address without its secrets, such as "mailto://…@example.org"."""
    with _opened(address, "The address") as way:
        own: Any = way[0]  # its types are incomplete
        return str(own.url(privacy=True)).partition("?")[0]


@contextmanager
def _opened(address: str, name: str) -> Iterator[Apprise]:
    way = Apprise()
    if not way.add(address):
        raise WayError(f"{name} is none that the library knows: see the forms it lists, such as mailtos://…")
    yield way
