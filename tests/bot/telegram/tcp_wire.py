"""A wire on loopback to a PostgreSQL server: by a seed it cuts connections, goes silent for a while, and refuses."""

import random
import selectors
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

CHUNK = 65_536


@dataclass
class TcpWire:
    """What becomes of the connections; troubles until told to be well again.

    At each chunk a connection is cut with `cut` of probability, or the whole wire stands still for up to `still_s`
    with `stall`; a new one is refused with `refuse`. `troubles` counts them by kind.
    """

    target: Path
    seed: int
    cut: float = 0.01
    stall: float = 0.004
    refuse: float = 0.2
    still_s: float = 3.0
    port: int = 0
    is_troubled: bool = False
    ends: bool = False
    troubles: dict[str, int] = field(default_factory=lambda: {"cut": 0, "stalled": 0, "refused": 0})

    def __post_init__(self) -> None:
        self._chance, self._lock, self._still_until_s = random.Random(self.seed), threading.Lock(), 0.0

    def befalls(self, kind: str, probability: float) -> bool:
        with self._lock:
            if not self.is_troubled or self._chance.random() >= probability:
                return False
            self.troubles[kind] += 1
            if kind == "stalled":
                self._still_until_s = time.monotonic() + self._chance.uniform(0.5, self.still_s)
        return True

    def stand_still(self) -> None:
        while (left_s := self._still_until_s - time.monotonic()) > 0 and not self.ends:
            threading.Event().wait(min(left_s, 0.05))

    def carry(self, here: socket.socket) -> None:
        """All that goes between one program and the server, until one of them ends it or the wire does."""
        with here, socket.socket(socket.AF_UNIX) as there, selectors.DefaultSelector() as ready:
            try:
                there.connect(str(self.target))
                for one, other in ((here, there), (there, here)):
                    ready.register(one, selectors.EVENT_READ, other)
                while not self.ends:
                    for key, _ in ready.select(0.1):
                        chunk = key.fileobj.recv(CHUNK)  # type: ignore[union-attr]  # sockets are registered
                        self.befalls("stalled", self.stall)
                        self.stand_still()
                        if not chunk or self.befalls("cut", self.cut):  # also after a commit went through
                            return
                        key.data.sendall(chunk)
            except OSError:
                return  # either end is gone

    def accept(self, door: socket.socket) -> None:
        door.settimeout(0.1)
        while not self.ends:
            try:
                here, _ = door.accept()
            except TimeoutError:
                continue
            if self.befalls("refused", self.refuse):
                here.close()
            else:
                here.settimeout(None)
                threading.Thread(target=self.carry, args=(here,), daemon=True).start()


@contextmanager
def tcp_wire(home: Path, seed: int) -> Iterator[TcpWire]:
    """A wire to the server whose socket lies in `home`, on a free port of this machine."""
    wire = TcpWire(next(path for path in home.glob(".s.PGSQL.*") if path.suffix != ".lock"), seed)
    with socket.create_server(("127.0.0.1", 0)) as door:
        wire.port = door.getsockname()[1]
        accepting = threading.Thread(target=wire.accept, args=(door,))
        accepting.start()
        try:
            yield wire
        finally:
            wire.ends = True
            accepting.join()
