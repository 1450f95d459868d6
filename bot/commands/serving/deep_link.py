"""The address that opens the messenger at our bot with a code already typed, and the same as a picture to point at."""

import io
import json
from pathlib import Path
from typing import Final

import segno

from bot.logbook import Connection, read_state
from bot.logbook.garden.people import BOT_NAME
from bot.logbook.programs.last_heard import NOBODYS

LINK: Final = "https://t.me/{name}?start={code}"  # Bot API, "Deep linking": letters, figures, _ and -, 64 at most
QUIET_ZONE: Final = 4  # modules of white around the code, as ISO/IEC 18004 asks for


def deep_link(c: Connection, code: str) -> str:
    """The address; empty while the bot has never told us what it is called."""
    name = json.loads(read_state(c, NOBODYS, BOT_NAME) or "null")
    return LINK.format(name=name, code=code) if name else ""


def drawn_in_letters(link: str) -> str:
    """The QR code of an address, for a terminal, dark or light."""
    out = io.StringIO()
    segno.make(link, error="m", micro=False).terminal(out=out, border=QUIET_ZONE, compact=True)
    return out.getvalue()


def save_picture(link: str, path: Path) -> Path:
    """The QR code as a PNG, SVG or PDF, by the ending of the file's name; where it now lies."""
    segno.make(link, error="m", micro=False).save(str(path), scale=8, border=QUIET_ZONE)
    return path
