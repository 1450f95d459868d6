"""Network namespaces of their own for programs (Linux, as root): each reaches this machine over one wire."""

import ctypes
import subprocess
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Final, NamedTuple

NETWORK: Final = "10.77.0.0/16"
CLONE_NEWNET: Final = 0x40000000  # linux/sched.h


class Wire(NamedTuple):
    """A namespace, and the address at which it finds this machine."""

    name: str
    here: str


@contextmanager
def wires(count: int) -> Iterator[list[Wire]]:
    """So many, taken away at the end."""
    with ExitStack() as laid:
        yield [laid.enter_context(_wire(number)) for number in range(count)]


@contextmanager
def _wire(number: int) -> Iterator[Wire]:
    wire = Wire(f"bedstraw{number}", f"10.77.{number}.1")
    near, far = f"{wire.name}n", f"{wire.name}f"
    _ip(f"netns add {wire.name}")
    try:
        _ip(f"link add {near} type veth peer name {far} netns {wire.name}")
        _ip(f"address add {wire.here}/24 dev {near}")
        _ip(f"link set {near} up")
        _ip(f"-n {wire.name} address add 10.77.{number}.2/24 dev {far}")
        _ip(f"-n {wire.name} link set {far} up")
        yield wire
    finally:
        _ip(f"netns del {wire.name}")


def _ip(words: str) -> None:
    subprocess.run(["ip", *words.split()], check=True)


def enter(wire: Wire) -> None:
    """Go over to a namespace for good, this thread and all it begins."""
    library = ctypes.CDLL(None, use_errno=True)
    with Path("/run/netns", wire.name).open() as namespace:
        if library.setns(namespace.fileno(), CLONE_NEWNET):
            raise OSError(ctypes.get_errno(), f"namespace {wire.name} cannot be entered")
