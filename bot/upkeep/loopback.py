"""A server on loopback that answers in JSON: for sensors, the watchdog and the webhook. Only the standard library."""

import json
import threading
from collections.abc import Mapping
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Final

LOOPBACK: Final = "127.0.0.1"
POLL_S: Final = 0.1  # how soon a server ends when told to


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

    def answer(self, status: int, document: Mapping[str, Any], **headers: str) -> None:
        """Send the document; a header's name is written with `_` for `-`."""
        body = json.dumps(document).encode()
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the library's
        """Nothing: who calls from the machine itself is known."""


class LoopbackServer:
    """A server that nobody outside this machine reaches, in a thread of its own; at a free port where it is 0."""

    def __init__(self, requests: type[JsonRequests], port: int, name: str) -> None:
        self._server = ThreadingHTTPServer((LOOPBACK, port), requests)
        self._server.daemon_threads = True
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
