"""A wire between bot and emulator that breaks on request, and writes down what was really accepted."""

import json
import re
import select
import socket
import struct
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes
from enum import Enum
from http.client import HTTPConnection
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qsl, urlencode

Answer = tuple[int, bytes]
TOPIC = re.compile(rb"\bmessage_thread_id=\d+&?")
RESET_AT_ONCE = struct.pack("ii", 1, 0)  # SO_LINGER on, 0 s: close() sends RST instead of FIN


class Break(Enum):
    """Where the wire breaks."""

    RESET_BEFORE = "reset before the server took it"
    RESET_AFTER = "reset after the server took it"
    LATE = "the server takes it, and answers when told to, or never"
    GARBAGE = "the server takes it, and a gateway answers with HTML"
    ANSWER = "an answer of ours, and the server never hears of it"


@dataclass
class Fault:
    """One way in which calls of a method fail, so many times, where these fields have these values.

    `status` is that of an ANSWER or of a gateway's GARBAGE. A LATE answer comes once `released` is set.
    """

    method: str
    kind: Break
    times: int = 1
    status: int = 502
    body: Mapping[str, Any] | bytes = b"<html>Bad Gateway</html>"
    matching: Mapping[str, str] = field(default_factory=dict)
    released: threading.Event = field(default_factory=threading.Event)


def refusal(method: str, status: int, description: str, times: int = 1, **parameters: Any) -> Fault:
    """The server's own way of saying no."""
    body = {"ok": False, "error_code": status, "description": description, "parameters": parameters}
    return Fault(method, Break.ANSWER, times, status, body)


@dataclass
class Call:
    """One call of a method: what was asked and what the server made of it; `result` is None while it took nothing."""

    token: str
    method: str
    fields: dict[str, str]
    status: int | None = None
    result: Any = None


NOT_MODELLED = b"link_preview_options"
# what stands in for the real server's behaviour where the emulator differs: (call, ask the emulator) -> its answer
Mend = Callable[[Call, Callable[[], Answer]], Answer]


@dataclass
class Wire:
    """The state of the wire: what it was told to do and what it has seen."""

    emulator_port: int
    mend: Mend
    address: str = ""
    down: bool = False
    faults: list[Fault] = field(default_factory=list)
    calls: list[Call] = field(default_factory=list)
    lock: threading.RLock = field(default_factory=threading.RLock)

    def breaks(self, *faults: Fault) -> None:
        with self.lock:
            self.faults += faults

    def accepted(self, *methods: str, chat_id: int | None = None) -> list[Call]:
        """The calls the server took, in order: the only honest count of deliveries."""
        with self.lock:
            taken = [call for call in self.calls if call.result is not None and call.method in methods]
        return [call for call in taken if chat_id is None or call.fields.get("chat_id") == str(chat_id)]

    def asked(self, *methods: str) -> list[Call]:
        with self.lock:
            return [call for call in self.calls if call.method in methods]

    def fault_for(self, call: Call) -> Fault | None:
        with self.lock:
            self.calls.append(call)
            for fault in self.faults:
                fits = all(call.fields.get(name) == value for name, value in fault.matching.items())
                if fault.method == call.method and fault.times > 0 and fits:
                    fault.times -= 1
                    return fault
        return None


def _modelled(body: bytes) -> bytes:
    """Quirk: a real option that the emulator does not know is refused by it. A test of ours looks at what was asked."""
    if NOT_MODELLED not in body or b"\r\n" in body:
        return body
    return urlencode([one for one in parse_qsl(body.decode(), True) if one[0] != NOT_MODELLED.decode()]).encode()


class HungUpError(Exception):
    """The bot has gone, or the wire went down, while a long poll was waiting."""


class _Wire(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    wire: Wire

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        if len(body) < int(self.headers["Content-Length"]):
            return None  # the bot died while asking
        token, _, method = self.path.removeprefix("/bot").partition("/")
        call = Call(token, method, fields_of(self.headers["Content-Type"] or "", body))
        if self.wire.down:
            return self._reset()
        fault = self.wire.fault_for(call)
        kind = fault.kind if fault else None
        if fault is not None and kind is Break.ANSWER:
            call.status = fault.status
            given = fault.body if isinstance(fault.body, bytes) else json.dumps(fault.body).encode()
            return self._answer(fault.status, given)
        if kind is Break.RESET_BEFORE:
            return self._reset()
        try:
            status, answer = self.wire.mend(call, lambda: self._forward(call, body))
        except HungUpError:
            return self._reset()
        call.status = status
        call.result = json.loads(answer).get("result")
        if kind is Break.RESET_AFTER:
            return self._reset()
        if fault is not None and kind is Break.LATE and not self._released(fault):
            return self._reset()
        if fault is not None and kind is Break.GARBAGE:
            return self._answer(fault.status, b"<html>Bad Gateway</html>")
        return self._answer(status, answer)

    def _released(self, fault: Fault) -> bool:
        while not fault.released.is_set():
            if select.select([self.connection], [], [], 0.02)[0]:
                return False  # readable: the bot has hung up
        return True

    def _forward(self, call: Call, body: bytes) -> Answer:
        emulator = HTTPConnection("127.0.0.1", self.wire.emulator_port, timeout=60)
        known = TOPIC.sub(b"", _modelled(body))  # quirk: the emulator refuses this one field of the Bot API
        emulator.request("POST", self.path, known, {"Content-Type": self.headers["Content-Type"] or ""})
        try:
            while call.method == "getUpdates":  # without this a ghost of the poll answers 409 to the next start
                ready, _, _ = select.select([emulator.sock, self.connection], [], [], 0.02)
                if emulator.sock in ready:
                    break
                if ready or self.wire.down:
                    raise HungUpError
            answer = emulator.getresponse()
            return answer.status, answer.read()
        finally:
            emulator.close()

    def _answer(self, status: int, body: bytes) -> None:
        self.send_response(status)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def _reset(self) -> None:
        self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESET_AT_ONCE)
        self.close_connection = True

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002, ARG002 - the library's names
        return


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    wire: Wire

    def shutdown_request(self, request: Any) -> None:
        self.close_request(request)  # not shutdown() first, which would send FIN before the RST

    def handle_error(self, request: Any, client_address: Any) -> None:
        if not isinstance(sys.exc_info()[1], ConnectionError):  # a killed bot does not listen to the answer
            super().handle_error(request, client_address)


@contextmanager
def proxied(emulator_port: int, mend: Mend) -> Iterator[Wire]:
    """A wire to the emulator on a free port of this machine."""
    wire = Wire(emulator_port, mend)
    server = _Server(("127.0.0.1", 0), type("Handler", (_Wire,), {"wire": wire}))
    wire.address = f"http://127.0.0.1:{server.server_port}"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    try:
        yield wire
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def fields_of(content_type: str, body: bytes) -> dict[str, str]:
    """The fields of a form; of an uploaded file its size in bytes."""
    if not content_type.startswith("multipart/"):
        return dict(parse_qsl(body.decode(), keep_blank_values=True))
    parts = message_from_bytes(f"Content-Type: {content_type}\r\n\r\n".encode() + body).get_payload()
    found = {}
    for part in parts if isinstance(parts, list) else []:
        name = str(part.get_param("name", header="content-disposition"))  # type: ignore[union-attr]
        content = part.get_payload(decode=True)  # type: ignore[union-attr]
        assert isinstance(content, bytes)
        found[name] = content.decode() if part.get_filename() is None else str(len(content))  # type: ignore[union-attr]
    return found
