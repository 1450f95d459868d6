"""What each command takes on the command line."""

from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path


def garden(own: ArgumentParser) -> None:
    own.add_argument("garden", type=Path, metavar="GARDEN", help="the garden file, such as my_garden.toml")


def its_garden(own: ArgumentParser) -> None:
    own.add_argument("garden", type=Path, metavar="GARDEN", help="the garden file")


def demo(own: ArgumentParser) -> None:
    own.add_argument("--year", action="store_true", help="a whole invented year instead; takes minutes")


def talking(own: ArgumentParser) -> None:
    garden(own)
    own.add_argument("--new", action="store_true", help="begin a garden that has no file yet")


def let_in(own: ArgumentParser) -> None:
    garden(own)
    own.add_argument("--owner", action="store_true", help="the phone of one more owner")
    own.add_argument("--picture", type=Path, metavar="FILE", help="save the link as a QR code (png, svg or pdf)")


def invite(own: ArgumentParser) -> None:
    own.add_argument("--gardens", type=count, default=1, metavar="N", help="how many may begin with it (1)")
    own.add_argument("--days", type=count, default=14, metavar="N", help="how long it lasts (14)")
    own.add_argument("--picture", type=Path, metavar="FILE", help="save the link as a QR code (png, svg or pdf)")
    own.add_argument("--list", action="store_true", help="the invitations there are")
    own.add_argument("--revoke", type=int, metavar="NUMBER", help="take one back")


def count(text: str) -> int:
    """A whole number of 1 to 1000."""
    if not text.isdecimal() or not 1 <= int(text) <= 1000:
        raise ArgumentTypeError(f"is {text}, it must be a whole number of 1 to 1000")
    return int(text)


def try_alarm(own: ArgumentParser) -> None:
    garden(own)
    own.add_argument("--person", metavar="NAME", help="only this person's addresses")


def _at_another_time(own: ArgumentParser) -> None:
    own.add_argument("--forecast", type=Path, metavar="FILE", help="a saved forecast instead of the services")
    own.add_argument("--now", metavar="TIME", help="pretend it is this time, such as 2026-01-14T16:00")


def outlook(own: ArgumentParser) -> None:
    garden(own)
    _at_another_time(own)
    own.add_argument("--json", action="store_true", help="print the documented JSON instead of a table")


def page(own: ArgumentParser) -> None:
    its_garden(own)
    own.add_argument("--out", type=Path, metavar="FILE", help="where to write it; beside the garden file if left out")
    _at_another_time(own)


def unit(own: ArgumentParser) -> None:
    own.add_argument("--many", action="store_true", help="for serve-many, to be kept as bedstraw@.service")


def completion(own: ArgumentParser) -> None:
    own.add_argument("shell", choices=("bash", "zsh", "tcsh"), help="which shell")


def serve_many(own: ArgumentParser) -> None:
    own.add_argument("folder", type=Path, metavar="FOLDER", help="the folder of the garden files (*.toml)")
    own.add_argument("--rounds-only", action="store_true", help="help with rounds and answers, never ask the messenger")


def backup(own: ArgumentParser) -> None:
    its_garden(own)
    own.add_argument("copy", type=Path, metavar="COPY", help="where the copy shall lie")


def move(own: ArgumentParser) -> None:
    own.add_argument("source", metavar="FROM", help="a garden file (its logbook), a logbook file, or an address")
    own.add_argument("target", metavar="TO", help="a new file, or the address of an empty database")


def export(own: ArgumentParser) -> None:
    its_garden(own)
    own.add_argument("--to", type=Path, metavar="FILE", help="where to write it; else it is printed")


def readings(own: ArgumentParser) -> None:
    its_garden(own)
    own.add_argument("table", type=Path, metavar="FILE", help="a CSV file: time, tree, air_c or air_f, place, low")


def season(own: ArgumentParser) -> None:
    its_garden(own)
    own.add_argument("--csv", type=Path, metavar="FILE", help="write all records as a table")
    own.add_argument("--folder", type=Path, metavar="DIR", help="write table, garden file and photos into a folder")


def chart(own: ArgumentParser) -> None:
    its_garden(own)
    own.add_argument("picture", choices=("week", "season", "section", "freezes", "supplies", "twins"))
    own.add_argument("--tree", metavar="NAME", help="whose week, season or cover; the first tree if left out")
    own.add_argument("--out", type=Path, metavar="FILE", help="where to save it; beside the garden file if left out")
    own.add_argument("--now", metavar="TIME", help="pretend it is this time")
    own.add_argument("--dark", action="store_true", help="light lines on dark")


def replay(own: ArgumentParser) -> None:
    its_garden(own)
    own.add_argument("--winters", type=Path, metavar="FILE", help="daily minima and maxima: date,min_c,max_c")
    own.add_argument("--seed", type=int, default=1, help="which draw of errors and doubts (default 1)")
    own.add_argument("--shift", type=float, default=0.0, metavar="C", help="make the climate milder by so many °C")
    own.add_argument("--picture", type=Path, metavar="FILE", help="also save the comparison as a picture")
