"""Which of several programs may ask the messenger for updates: the one that holds a lock in the database."""

from contextlib import suppress

import sqlalchemy as sa

from bot.logbook.database.files import LogbookError
from bot.logbook.database.opening import Logbook


class Leadership:
    """A lock that ends with the connection it was taken on, so that a program that dies leaves none behind.

    In a session of its own. It does not work through a pooler that shares sessions (pgbouncer in transaction mode).
    On SQLite there is no such lock and everyone leads: there the messenger's 409 keeps a second poller out.
    """

    def __init__(self, logbook: Logbook, what: str) -> None:
        self._logbook = logbook
        self._what = what
        self._session: sa.Connection | None = None
        self._leads = False

    def holds(self) -> bool:
        """Whether we lead now; tried anew at each call, and false as soon as the session is lost."""
        if not self._logbook.is_server:
            return True
        try:
            self._session = self._session or self._logbook.session()
            self._leads = self._answers(self._session) if self._leads else self._try_lock(self._session)
        except (sa.exc.DBAPIError, LogbookError):
            self._end()
        return self._leads

    def _try_lock(self, session: sa.Connection) -> bool:
        return bool(session.scalar(sa.select(sa.func.pg_try_advisory_lock(self._key()))))

    def _answers(self, session: sa.Connection) -> bool:
        """The session answers, so the lock it took is still held."""
        return session.scalar(sa.select(sa.literal(1))) == 1

    def _key(self) -> sa.ColumnElement[int]:
        return sa.func.hashtextextended(self._what, 0)

    def let_go(self) -> None:
        """Let another program lead, from now on and not only when the server has seen the session end."""
        if self._session is not None and self._leads:
            with suppress(sa.exc.DBAPIError):
                self._session.scalar(sa.select(sa.func.pg_advisory_unlock(self._key())))
        self._end()

    def _end(self) -> None:
        """The session over, and whatever it held; of one that was lost nothing more is asked."""
        session, self._session, self._leads = self._session, None, False
        if session is not None:
            with suppress(sa.exc.DBAPIError):
                session.close()


def poller_of(token: str) -> str:
    """What whoever asks the messenger for a bot's updates holds: named by the bot's number, never by its secret.

    >>> poller_of("12345678:AAinvented")
    'poller:12345678'
    """
    return f"poller:{token.partition(':')[0]}"
