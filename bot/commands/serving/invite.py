"""`bedstraw invite`: invitations by which people begin gardens of their own, where one bot serves many."""

from datetime import datetime, timedelta
from pathlib import Path

from bot.answers.household.letting_in import deep_link
from bot.commands.opening import logbook_place
from bot.commands.serving.deep_link import opened_by
from bot.commands.serving.one_garden import utc_now
from bot.logbook import Logbook, open_logbook
from bot.logbook.garden.invitations import Invitation, list_invitations, make_invitation, revoke_invitation
from bot.settings import SecretsError, read_secrets
from bot.wording.formats import counted


def invite(gardens: int, days: int, *, in_letters: bool = False, picture: Path | None = None) -> str:
    """A new invitation: code, link, how long it lasts; `in_letters` draws its QR code, `picture` saves it."""
    logbook = _of_many()
    try:
        with logbook.begin() as c:
            number, code = make_invitation(c, utc_now(), timedelta(days=days), gardens)
            link = deep_link(c, code)
    finally:
        logbook.close()
    return (
        f"{code}\nInvitation {number}: whoever sends this to the bot begins a garden of their own in the chat. "
        f"It is good for {counted(gardens, 'garden')}, {counted(days, 'day')} long. "
        f"Take it back: bedstraw invite --revoke {number}"
        f"{opened_by(link, in_letters=in_letters, picture=picture)}"
    )


def invitations() -> str:
    """All there are, one a line."""
    logbook, now = _of_many(), utc_now()
    try:
        with logbook.begin() as c:
            lines = [_line(one, now) for one in list_invitations(c)]
    finally:
        logbook.close()
    return "\n".join(lines) or "There are no invitations. Make one: bedstraw invite"


def _line(one: Invitation, now: datetime) -> str:
    if one.is_revoked:
        state = "taken back"
    elif one.expires_utc <= now:
        state = "out of date"
    else:
        state = f"good for {counted(one.uses_left, 'garden')} more, until {one.expires_utc:%Y-%m-%d %H:%M} UTC"
    return f"Invitation {one.number}: {state}."


def revoke(number: int) -> str:
    """Take an invitation back; gardens that began with it stay."""
    logbook = _of_many()
    try:
        with logbook.begin() as c:
            was_there = revoke_invitation(c, number, utc_now())
    finally:
        logbook.close()
    if was_there:
        return f"Invitation {number} is taken back. Gardens that began with it stay."
    return f"There is no invitation {number} to take back. See: bedstraw invite --list"


def _of_many() -> Logbook:
    logbook = open_logbook(logbook_place(read_secrets()))
    if logbook.is_server:
        return logbook
    logbook.close()
    raise SecretsError(
        "Invitations are for a bot of many gardens, whose logbook is on a PostgreSQL server (BEDSTRAW_LOGBOOK). "
        "For one garden: bedstraw serve GARDEN --new"
    )
