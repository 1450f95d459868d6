"""The address that opens the messenger with a code already typed, as a picture to point at."""

import io
from pathlib import Path
from typing import Final

QUIET_ZONE: Final = 4  # modules of white around the code, as ISO/IEC 18004 asks for


def drawn_in_letters(link: str) -> str:
    """The QR code of an address, for a terminal, dark or light."""
    import segno  # here and below: a bot that serves draws none

    out = io.StringIO()
    segno.make(link, error="m", micro=False).terminal(out=out, border=QUIET_ZONE, compact=True)
    return out.getvalue()


def save_picture(link: str, path: Path) -> Path:
    """The QR code as a PNG, SVG or PDF, by the ending of the file's name; where it now lies."""
    import segno

    segno.make(link, error="m", micro=False).save(str(path), scale=8, border=QUIET_ZONE)
    return path


def opened_by(link: str, *, in_letters: bool, picture: Path | None) -> str:
    """The address, and the same to point a phone at."""
    if not link:
        return "\nOnce the bot has run, this command also shows a link that opens it with the code." if picture else ""
    lines = [f"Or open this on the phone: {link}", *([drawn_in_letters(link)] if in_letters else [])]
    return "\n" + "\n".join([*lines, *([str(save_picture(link, picture))] if picture else [])])
