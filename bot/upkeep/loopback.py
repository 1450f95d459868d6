"""A server on loopback that answers in JSON: for sensors, the watchdog and the webhook. Only the standard library."""

import json
import logging
import socket
import sys
import threading
from collections.abc import Mapping
from contextlib import suppress
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Final

LOOPBACK: Final = "127.0.0.1"
POLL_S: Final = 0.1  # how soon a server ends when told to
MOST_AT_ONCE: Final = 64  # callers; a garden has some ten sensors, and of updates four are brought at a time. Assumed
SLOWEST_S: Final = 10.0  # a caller who sends nothing for so long is let go

log = logging.getLogger(__name__)


class CallError(Exception):
    """A call that cannot be taken, with its status and its sentence."""

    def __init__(self, status: HTTPStatus, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status


def length_told(header: str, most: int) -> int:
    """The length of a body to read [bytes], from the header that tells it.

    Raises
    ------
    CallError
        No length, or more than `most`.
    """
    if not (header.isascii() and header.isdigit()):
        raise CallError(HTTPStatus.LENGTH_REQUIRED, "The length of the body is not told.")
    if int(header) > most:
        raise CallError(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"At most {most} bytes at once.")
    return int(header)


class JsonRequests(BaseHTTPRequestHandler):
    """Requests answered with a JSON document; nothing of them is logged."""

    timeout = SLOWEST_S

    def answer(self, status: int, document: Mapping[str, Any], **headers: str) -> None:
        """Send the document; a header's name is written with `_` for `-`."""
        self.answer_with(status, json.dumps(document).encode(), "application/json", **headers)

    def answer_with(self, status: int, body: bytes, kind: str, **headers: str) -> None:
        """Send a body of any kind."""
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the library's
        """Nothing: who calls from the machine itself is known."""


class FewAtOnce(ThreadingHTTPServer):
    """A server with a thread for each of MOST_AT_ONCE callers: one more, and the oldest is let go.

    So callers who say nothing use up neither threads nor files, and whoever has something to say comes in.
    """

    daemon_threads = True
    request_queue_size = 1024  # those who come while one is let in; a full queue costs a caller a second

    def __init__(self, address: tuple[str, int], requests: type[JsonRequests]) -> None:
        self._callers: dict[socket.socket, None] = {}  # in the order in which they came
        self._counting = threading.Lock()
        super().__init__(address, requests)

    def process_request(self, request: Any, client_address: Any) -> None:
        """Answer one caller in a thread of its own."""
        with self._counting:
            self._callers[request] = None
            if len(self._callers) > MOST_AT_ONCE:
                oldest = next(iter(self._callers))
                del self._callers[oldest]
                with suppress(OSError):  # it has gone by itself
                    oldest.shutdown(socket.SHUT_RDWR)
        super().process_request(request, client_address)

    def shutdown_request(self, request: Any) -> None:
        """One caller has been answered, or was let go."""
        with self._counting:
            self._callers.pop(request, None)
        super().shutdown_request(request)

    def handle_error(self, request: Any, client_address: Any) -> None:  # noqa: ARG002 - the library's
        """A caller who hung up is no fault of ours; anything else is told in one line, without what was sent."""
        error = sys.exc_info()[1]
        if not isinstance(error, ConnectionError):
            log.error("a call on loopback failed: %s", type(error).__name__)


class LoopbackServer:
    """A server in a thread of its own, at a free port where it is 0; nobody outside this machine reaches it.

    Unless `address` is another of this machine's than loopback: then its network does.
    """

    def __init__(self, requests: type[JsonRequests], port: int, name: str, address: str = LOOPBACK) -> None:
        self._server = FewAtOnce((address, port), requests)
        self._thread = threading.Thread(target=self._server.serve_forever, args=(POLL_S,), daemon=True, name=name)

    @property
    def port(self) -> int:
        """The port it listens at."""
        return int(self._server.server_address[1])

    def start(self) -> None:
        """Begin to listen."""
        self._thread.start()

    def stop(self) -> None:
        """End, once it has seen that it is to."""
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()
