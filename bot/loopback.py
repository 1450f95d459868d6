"""A server on loopback that answers in JSON: for sensors, the watchdog and the webhook. Only the standard library."""

import json
from collections.abc import Mapping
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Final

LOOPBACK: Final = "127.0.0.1"


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


def loopback_server(requests: type[JsonRequests], port: int) -> ThreadingHTTPServer:
    """A server that nobody outside this machine reaches, ready to serve; at a free port where it is 0."""
    server = ThreadingHTTPServer((LOOPBACK, port), requests)
    server.daemon_threads = True
    return server
