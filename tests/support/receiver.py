"""A real HTTP receiver on a free port: it records what is posted to it and misbehaves where a test asks it to."""

import json
import ssl
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from types import TracebackType
from typing import Any, Self

_DRIP_S = 0.02


class Manner(Enum):
    """How an answer is given."""

    PROPER = "status, headers and a short body at once"
    HANG = "the request is read and never answered; the connection is closed at the end"
    LATE = "a proper answer, but not before `release`"
    CLOSE_EARLY = "the request is read and the connection closed without an answer"
    DRIP_HEADERS = "an answer whose headers come byte by byte and do not end"
    DRIP_BODY = "a proper head and then a body that comes byte by byte and does not end"
    CUT_BODY = "a proper head that promises more body than follows"


@dataclass(frozen=True)
class Answer:
    """What to answer, and how."""

    status: int = 200
    headers: Mapping[str, str] = field(default_factory=dict)
    manner: Manner = Manner.PROPER


@dataclass(frozen=True)
class Received:
    """One request as it came. The names of `headers` are in small letters."""

    method: str
    path: str
    headers: Mapping[str, str]
    body: bytes
    at_s: float = field(default_factory=time.perf_counter)
    """when it came, on the clock of `time.perf_counter`"""

    def json(self) -> Any:
        """Give the body, read as JSON."""
        return json.loads(self.body)


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    receiver: "Receiver"

    def handle_error(self, request: object, client_address: object) -> None:
        """Say nothing: a client that has gone away is what some tests want."""


class _Handler(BaseHTTPRequestHandler):
    server: _Server

    def do_GET(self) -> None:
        self._handle()

    def do_POST(self) -> None:
        self._handle()

    def _handle(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        headers = {name.lower(): value for name, value in self.headers.items()}
        receiver = self.server.receiver
        answer = receiver.take(Received(self.command, self.path, headers, body))
        self.close_connection = True
        if answer.manner in {Manner.HANG, Manner.LATE}:
            receiver.released.wait()
        if answer.manner in {Manner.HANG, Manner.CLOSE_EARLY}:
            return
        content = b"" if answer.status in {204, 304} else b'{"received": true}'
        if receiver.send_own_date:
            self.send_response(answer.status)
        else:
            self.send_response_only(answer.status)
        for name, value in answer.headers.items():
            self.send_header(name, value)
        if answer.manner is Manner.DRIP_HEADERS:
            self.flush_headers()
            self._drip(b"X-More: ")
        elif answer.manner is Manner.DRIP_BODY:
            self.end_headers()
            self._drip(b"")
        else:
            more = 1000 if answer.manner is Manner.CUT_BODY else 0
            self.send_header("Content-Length", str(len(content) + more))
            self.end_headers()
            self.wfile.write(content)

    def _drip(self, first: bytes) -> None:
        """Write a byte now and then until the client is gone or the receiver stops."""
        self.wfile.write(first)
        while not self.server.receiver.released.wait(_DRIP_S):
            self.wfile.write(b"x")

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name is the base class's
        pass


class Receiver:
    """A server that a test starts, asks what came, and stops. Works as a context manager."""

    def __init__(self, port: int = 0) -> None:
        self._server = _Server(("127.0.0.1", port), _Handler)
        self._server.receiver = self
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,), name="receiver", daemon=True)
        self._changed = threading.Condition()
        self._answers: list[Answer] = [Answer()]
        self._received: list[Received] = []
        self.released = threading.Event()
        self.send_own_date = True
        self.port: int = self._server.server_address[1]

    def url(self, path: str = "/", scheme: str = "http", user: str = "") -> str:
        """Make the address of the receiver; `user` may be `name:password`."""
        return f"{scheme}://{user + '@' if user else ''}127.0.0.1:{self.port}{path}"

    def secure(self, context: ssl.SSLContext) -> None:
        """Speak TLS from now on."""
        self._server.socket = context.wrap_socket(self._server.socket, server_side=True)

    def answer_with(self, *answers: Answer) -> None:
        """Give these answers from now on, in this order; the last one is repeated."""
        with self._changed:
            self._answers = list(answers)

    def take(self, request: Received) -> Answer:
        """Note a request and choose its answer; called by the handler."""
        with self._changed:
            self._received.append(request)
            self._changed.notify_all()
            return self._answers.pop(0) if len(self._answers) > 1 else self._answers[0]

    @property
    def received(self) -> tuple[Received, ...]:
        """The requests so far."""
        with self._changed:
            return tuple(self._received)

    def wait_for(self, count: int, seconds: float = 15.0) -> tuple[Received, ...]:
        """Give the requests, once there are at least `count` of them; fails when the time is up."""
        with self._changed:
            if not self._changed.wait_for(lambda: len(self._received) >= count, seconds):
                raise AssertionError(f"waited {seconds:g} s for {count} requests; there were {len(self._received)}")
            return tuple(self._received)

    def start(self) -> Self:
        """Begin to answer."""
        self._thread.start()
        return self

    def release(self) -> None:
        """Let every hanging or dripping answer end, now and later."""
        self.released.set()

    def stop(self) -> None:
        """End, with whatever still hangs."""
        self.release()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()
