"""A weather service on loopback that drips, swells, sends us elsewhere, and is never silent while it does."""

import gzip
import json
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from enum import Enum

STEP_S = 0.05  # between two drops: well within every patience for silence
SWOLLEN_BYTES = 1_500_000_000
PIECE = bytes(1_000_000)
DATA = b"Content-Type: application/json\r\n"


class Malice(Enum):
    """What it does to whoever asks."""

    DRIPPING_BODY = "a body byte by byte"
    DRIPPING_HEADERS = "headers byte by byte"
    DRIPPING_REDIRECT = "the body of a redirect byte by byte"
    ENDLESS_CONTINUE = "100 Continue without end"
    DRIPPING_TRAILER = "trailers of a chunked body without end"
    SWOLLEN_BODY = "a small zipped body that is 1.5 GB"
    SWOLLEN_ERROR = "the same with a 503"
    SWOLLEN_REDIRECT = "the same with a redirect"
    ENDLESS_BODY = "a body without end"
    ENDLESS_CHUNK_LINE = "the length of a chunk, without end"
    MANY_LISTS = "a document of nothing but empty lists"
    ELSEWHERE = "a redirect to another port of this machine"
    ROUND_AND_ROUND = "a redirect to itself"


DRIPS = (
    Malice.DRIPPING_BODY,
    Malice.DRIPPING_HEADERS,
    Malice.ENDLESS_CONTINUE,
    Malice.DRIPPING_TRAILER,
)


@dataclass
class HostileWeather:
    """The service; `led_to` counts the calls at the other port it sends people to."""

    malice: Malice
    address: str = ""
    calls: int = 0
    led_to: int = 0
    stop: threading.Event = field(default_factory=threading.Event)


def swollen() -> bytes:
    """1.5 GB of blanks, zipped into 1.5 MB."""
    packed = bytearray()
    whole = gzip.compress(b" " * 10_000_000)
    for _ in range(SWOLLEN_BYTES // 10_000_000):
        packed += whole  # members one after the other are one file (RFC 1952, 2.2)
    return bytes(packed)


@contextmanager
def hostile_weather(malice: Malice) -> Iterator[HostileWeather]:
    """The service on a free port of this machine, with another one beside it."""
    service = HostileWeather(malice)
    bomb = swollen() if "SWOLLEN" in malice.name else b""

    def answer(line: socket.socket) -> None:
        with line, suppress(OSError):  # whoever has hung up does not listen
            line.recv(65536)
            service.calls += 1
            _Call(line, service, other, bomb).be(malice)

    def count(line: socket.socket) -> None:
        with line, suppress(OSError):
            service.led_to += 1
            line.sendall(b"HTTP/1.1 200 OK\r\n" + DATA + b"Content-Length: 2\r\n\r\n{}")

    with _listening(count, service.stop) as other, _listening(answer, service.stop) as port:
        service.address = f"http://127.0.0.1:{port}"
        try:
            yield service
        finally:
            service.stop.set()


@contextmanager
def _listening(answer: Callable[[socket.socket], None], stop: threading.Event) -> Iterator[int]:
    with socket.create_server(("127.0.0.1", 0)) as listener:

        def accept() -> None:
            with suppress(OSError):
                while not stop.is_set():
                    line, _ = listener.accept()
                    threading.Thread(target=answer, args=(line,), daemon=True).start()

        thread = threading.Thread(target=accept, daemon=True)
        thread.start()
        yield listener.getsockname()[1]
        stop.set()
        with suppress(OSError):
            listener.shutdown(socket.SHUT_RDWR)
        thread.join(5)


@dataclass
class _Call:
    line: socket.socket
    service: HostileWeather
    other: int
    bomb: bytes

    def be(self, malice: Malice) -> None:
        moved = b"HTTP/1.1 302 Found\r\nLocation: /elsewhere\r\n"
        good, chunked = b"HTTP/1.1 200 OK\r\n" + DATA, b"Transfer-Encoding: chunked\r\n\r\n"
        match malice:
            case Malice.DRIPPING_BODY:
                self.drip(good + b"Content-Length: 100000\r\n\r\n", b" ")
            case Malice.DRIPPING_HEADERS:
                self.drip(b"HTTP/1.1 200 OK\r\nX: ", b"a")
            case Malice.DRIPPING_REDIRECT:
                self.drip(moved + b"Content-Length: 100000\r\n\r\n", b" ")
            case Malice.ENDLESS_CONTINUE:
                self.drip(b"", b"HTTP/1.1 100 Continue\r\n\r\n")
            case Malice.DRIPPING_TRAILER:
                self.drip(good + chunked + b"2\r\n{}\r\n0\r\n", b"X: y\r\n")
            case Malice.SWOLLEN_BODY:
                self.zipped(b"HTTP/1.1 200 OK\r\n" + DATA)
            case Malice.SWOLLEN_ERROR:
                self.zipped(b"HTTP/1.1 503 Busy\r\n" + DATA)
            case Malice.SWOLLEN_REDIRECT:
                self.zipped(moved)
            case Malice.ENDLESS_BODY:
                self.pour(good + b"\r\n", b" " * 1_000_000)
            case Malice.ENDLESS_CHUNK_LINE:
                self.pour(good + chunked, b"0" * 1_000_000)
            case Malice.MANY_LISTS:
                body = json.dumps([[]] * 1_200_000, separators=(",", ":")).encode()
                self.line.sendall(good + b"Content-Length: %d\r\n\r\n" % len(body) + body)
            case Malice.ELSEWHERE:
                to = b"Location: http://127.0.0.1:%d/\r\n" % self.other
                self.line.sendall(b"HTTP/1.1 302 Found\r\n" + to + b"Content-Length: 0\r\n\r\n")
            case Malice.ROUND_AND_ROUND:
                self.line.sendall(moved + b"Content-Length: 0\r\n\r\n")

    def drip(self, begin: bytes, drop: bytes) -> None:
        self.line.sendall(begin)
        while not self.service.stop.wait(STEP_S):
            self.line.sendall(drop)

    def pour(self, begin: bytes, water: bytes) -> None:
        self.line.sendall(begin)
        while not self.service.stop.is_set():
            self.line.sendall(water)

    def zipped(self, head: bytes) -> None:
        self.line.sendall(head + b"Content-Encoding: gzip\r\nContent-Length: %d\r\n\r\n" % len(self.bomb) + self.bomb)
