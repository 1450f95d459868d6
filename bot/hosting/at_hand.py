"""What an answer stands on and takes too long for inside a transaction: made between two, then all is answered anew."""

from collections.abc import Callable
from functools import partial
from typing import Any

from bot.inbox import NotAtHandError


class AtHand:
    """What was made for the answer to one update, by a name of it; of the update before nothing is kept."""

    def __init__(self) -> None:
        self._made: dict[tuple[int, str], Any] = {}

    def made(self, update_id: int, what: str, make: Callable[[], Any]) -> Any:
        """What `make` gave, or raises what it raised, once.

        Raises
        ------
        NotAtHandError
            It is to be made first.
        """
        key = update_id, what
        if key not in self._made:
            raise NotAtHandError(partial(self._make, key, make))
        if isinstance(self._made[key], Exception):
            raise self._made.pop(key)
        return self._made[key]

    def _make(self, key: tuple[int, str], make: Callable[[], Any]) -> None:
        try:
            found = make()
        except Exception as error:  # noqa: BLE001 - raised where it is asked for
            found = error
        self._made = {other: one for other, one in self._made.items() if other[0] == key[0]} | {key: found}
