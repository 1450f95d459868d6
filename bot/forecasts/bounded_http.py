"""One exchange over HTTP, bounded whatever the other end does: in time, in bytes, and in where it may lead us."""

import socket
import zlib
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass
from threading import Lock, Thread
from typing import Any, Final
from urllib.parse import urljoin, urlsplit

import requests
import urllib3
from requests.adapters import HTTPAdapter

LARGEST_BYTES: Final = 3_000_000  # of a body, unpacked; the largest real answer takes about a third of it; no source
CHUNK_BYTES: Final = 65_536
MOST_REDIRECTS: Final = 3  # a place named with too many decimals takes one (api.weather.gov); no source beyond it
REDIRECTS: Final = {301, 302, 303, 307, 308}
GZIP: Final = 16 + zlib.MAX_WBITS  # as zlib names a gzip wrapper


class TooLateError(Exception):
    """The exchange did not end within its time."""


class TooLargeError(Exception):
    """The body is larger than any forecast."""


class LedAwayError(Exception):
    """The answer sends us to another host, or on and on."""


class BrokenOffError(Exception):
    """The body ended before its end, or is packed in a way we did not ask for."""


@dataclass(frozen=True, kw_only=True)
class Answered:
    """What came back: the status, the headers (found whatever their case) and the whole body, unpacked."""

    status: int
    headers: Mapping[str, str]
    body: bytes


def exchanged(url: str, headers: Mapping[str, str], silence_s: float, within_s: float) -> Answered:
    """The answer to a GET.

    Parameters
    ----------
    url, headers
        What is asked.
    silence_s
        Longest silence on the line [s].
    within_s
        Longest time for all of it [s]: finding the host, connecting, headers, redirects, body.

    Raises
    ------
    TooLateError, TooLargeError, LedAwayError, BrokenOffError
        As they are called.
    requests.RequestException
        No connection, or a silence.
    """
    line, came = _Line(), Future[Answered]()

    def ask() -> None:
        try:
            came.set_result(_asked(line, url, headers, silence_s))
        except Exception as error:  # noqa: BLE001 - carried over to whoever waits
            came.set_exception(error)

    Thread(target=ask, daemon=True, name="weather").start()  # a thread, since nothing else ends a name that isn't found
    try:
        return came.result(max(0.0, within_s))
    except TimeoutError:
        raise TooLateError from None
    finally:
        line.cut()  # what still drips ends now, and its thread with it


def _asked(line: "_Line", url: str, headers: Mapping[str, str], silence_s: float) -> Answered:
    own = {**headers, "Accept-Encoding": "gzip", "Connection": "close"}
    for _ in range(1 + MOST_REDIRECTS):
        with _Session(line) as session, session.get(url, headers=own, timeout=silence_s, stream=True) as response:
            if response.status_code not in REDIRECTS:
                return Answered(status=response.status_code, headers=response.headers, body=_body(response))
            url = _onward(url, response.headers.get("Location", ""))
    raise LedAwayError


def _onward(url: str, location: str) -> str:
    """Where a redirect leads, which is at the same host or nowhere; its body is never read."""
    onward = urljoin(url, location)
    here, there = urlsplit(url), urlsplit(onward)
    if not location or (there.scheme, there.netloc) != (here.scheme, here.netloc):
        raise LedAwayError
    return onward


def _body(response: requests.Response) -> bytes:
    """The body unpacked by ourselves: the library would unpack a small piece into any size."""
    unpack, body = _unpacking(response.headers.get("Content-Encoding", "")), bytearray()
    try:
        while piece := response.raw.read(CHUNK_BYTES, decode_content=False):
            for part in unpack(piece):
                body += part
                if len(body) > LARGEST_BYTES:
                    raise TooLargeError
        if not unpack.is_whole:
            raise BrokenOffError
    except (urllib3.exceptions.HTTPError, zlib.error, OSError) as error:
        raise BrokenOffError from error
    return bytes(body)


class _Plain:
    """A body that is not packed."""

    is_whole = True

    def __call__(self, piece: bytes) -> Iterator[bytes]:
        yield piece


class _Gzip:
    """A body packed with gzip, unpacked in small parts."""

    def __init__(self) -> None:
        self._one = zlib.decompressobj(GZIP)

    @property
    def is_whole(self) -> bool:
        return self._one.eof

    def __call__(self, piece: bytes) -> Iterator[bytes]:
        while piece and not self._one.eof:
            yield self._one.decompress(piece, CHUNK_BYTES)
            piece = self._one.unconsumed_tail


def _unpacking(encoding: str) -> _Plain | _Gzip:
    match encoding.strip().lower():
        case "" | "identity":
            return _Plain()
        case "gzip" | "x-gzip":
            return _Gzip()
        case _:
            raise BrokenOffError


class _Line:
    """The connections of one exchange, so that they can be cut whatever they are waiting for."""

    def __init__(self) -> None:
        self._ends: list[socket.socket] = []
        self._is_cut, self._lock = False, Lock()

    def opened(self, connection: socket.socket) -> None:
        """A hold of our own on a new connection, since TLS takes the first one over; raises OSError once it is cut."""
        with self._lock:
            if self._is_cut:
                connection.close()
                raise OSError("nobody waits for this any more")
            self._ends.append(connection.dup())

    def cut(self) -> None:
        """End all of them, and allow no more."""
        with self._lock:
            self._is_cut = True
            while self._ends:
                with self._ends.pop() as end, suppress(OSError):  # the other side may have hung up
                    end.shutdown(socket.SHUT_RDWR)


class _Session(requests.Session):
    """A session on a line that goes nowhere by itself: told not to follow, the library reads a redirect's body."""

    def __init__(self, line: _Line) -> None:
        super().__init__()
        for scheme in ("http://", "https://"):
            self.mount(scheme, _Adapter(line))

    def get_redirect_target(self, _: requests.Response) -> None:
        """Nowhere."""


class _Adapter(HTTPAdapter):
    """Connections that a line knows of, also those through a proxy."""

    def __init__(self, line: _Line) -> None:
        self._pools = _pools(line)
        super().__init__()

    def init_poolmanager(self, *sizes: Any, **options: Any) -> None:  # the library's signature varies by version
        super().init_poolmanager(*sizes, **options)
        self.poolmanager.pool_classes_by_scheme = self._pools

    def proxy_manager_for(self, *proxy: Any, **options: Any) -> Any:
        manager = super().proxy_manager_for(*proxy, **options)
        manager.pool_classes_by_scheme = self._pools
        return manager


def _pools(line: _Line) -> dict[str, Callable[..., Any]]:
    """The library's pools, whose connections tell the line of their socket as soon as there is one."""

    class Plain(urllib3.connection.HTTPConnection):
        def _new_conn(self) -> socket.socket:
            return _told(line, super()._new_conn())

    class Secure(urllib3.connection.HTTPSConnection):
        def _new_conn(self) -> socket.socket:
            return _told(line, super()._new_conn())

    class PlainPool(urllib3.HTTPConnectionPool):
        ConnectionCls = Plain

    class SecurePool(urllib3.HTTPSConnectionPool):
        ConnectionCls = Secure

    return {"http": PlainPool, "https": SecurePool}


def _told(line: _Line, connection: socket.socket) -> socket.socket:
    line.opened(connection)
    return connection
