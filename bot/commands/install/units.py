"""`bedstraw unit`: the systemd unit of one garden, or of many, printed, to be kept where systemd looks."""

from pathlib import Path
from typing import Final

UNIT: Final = Path(__file__).parent / "bedstraw.service"
ONE: Final = "ExecStart=/opt/bedstraw/bin/bedstraw serve /var/lib/bedstraw/my_garden.toml"
MANY: Final = "ExecStart=/opt/bedstraw/bin/bedstraw serve-many /var/lib/bedstraw/gardens"
AFTER: Final = "After=network-online.target time-sync.target"


def unit(*, many: bool = False) -> str:
    """The unit's text, without its last line end."""
    text = UNIT.read_text(encoding="utf-8").rstrip("\n")
    if many:
        text = text.replace(ONE, MANY).replace(AFTER, f"{AFTER} postgresql.service")
    return text
