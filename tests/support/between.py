"""What stands between a phone and the service: passes on by http, and lets a test cut, hold, refuse or change answers.

It answers one request for each connection. What a test sets counts from the next request on.
"""

import base64
import contextlib
import http.client
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import ClassVar, cast

_HOP = ("connection", "transfer-encoding", "content-length", "accept-encoding", "if-none-match", "if-modified-since")
"""What is between two ends alone, and what would have an answer from before its change taken for the same."""
_CHANGED = ("text/html", "text/javascript")
_CHUNK_BYTES = 65_536
_LONGEST_HELD_S = 120.0
USER, PASSWORD = "house", "eight quiet hens"


@dataclass
class Between:
    """How it behaves: by paths, without what stands behind their question marks."""

    pages_port: int
    port: int = 0
    is_cut: bool = False
    asks_password: bool = False
    refused: dict[str, int] = field(default_factory=dict)
    """Answered with this status instead of being passed on."""
    held: set[str] = field(default_factory=set)
    """Not passed on for as long as they stand here."""
    change: Callable[[str, str], str] = lambda _path, text: text
    """What becomes of a page or a script."""
    asked: list[str] = field(default_factory=list)
    answered: list[str] = field(default_factory=list)
    waiting: list[str] = field(default_factory=list)
    """What was asked for while it was held."""
    moved: threading.Condition = field(default_factory=threading.Condition)

    @property
    def url(self) -> str:
        """The address that a browser uses."""
        return f"http://127.0.0.1:{self.port}"

    def hold(self, *paths: str) -> None:
        """Keep requests for these waiting."""
        self.held.update(paths)

    def let_go(self) -> None:
        """Pass on whatever waits."""
        with self.moved:
            self.held.clear()
            self.moved.notify_all()

    def wait_while_held(self, path: str) -> None:
        """Return once it is to be passed on."""
        with self.moved:
            if path in self.held:
                self.waiting.append(path)
            self.moved.wait_for(lambda: path not in self.held, _LONGEST_HELD_S)


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    between: Between


class _Handler(BaseHTTPRequestHandler):
    allowed: ClassVar[str] = "Basic " + base64.b64encode(f"{USER}:{PASSWORD}".encode()).decode()

    def do_GET(self) -> None:
        between = cast("_Server", self.server).between
        path, change = self.path.partition("?")[0], between.change
        between.asked.append(path)
        between.wait_while_held(path)
        if between.is_cut:
            self.close_connection = True
        elif between.asks_password and self.headers.get("Authorization") != self.allowed:
            self._tell(401, {"WWW-Authenticate": 'Basic realm="house"'})
        elif path in between.refused:
            self._tell(between.refused[path], {})
        else:
            with contextlib.suppress(OSError, http.client.HTTPException):
                self._pass_on(between.pages_port, path, change)
                between.answered.append(path)

    def do_POST(self) -> None:
        self.do_GET()

    def _tell(self, status: int, headers: dict[str, str]) -> None:
        body = b"said by what stands between"
        self.send_response(status)
        for name, value in {**headers, "Content-Type": "text/plain", "Content-Length": str(len(body))}.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def _pass_on(self, pages_port: int, path: str, change: Callable[[str, str], str]) -> None:
        headers = {name: value for name, value in self.headers.items() if name.lower() not in _HOP}
        if headers.get("Authorization") == self.allowed:
            del headers["Authorization"]
        body = self.rfile.read(int(self.headers.get("Content-Length", "0")))
        inside = http.client.HTTPConnection("127.0.0.1", pages_port, timeout=_LONGEST_HELD_S)
        with contextlib.closing(inside):
            inside.request(self.command, self.path, body or None, headers)
            answer = inside.getresponse()
            self.send_response_only(answer.status)
            for name, value in answer.getheaders():
                if name.lower() not in _HOP:
                    self.send_header(name, value)
            self.end_headers()
            if answer.headers.get_content_type() in _CHANGED:
                self.wfile.write(change(path, answer.read().decode()).encode())
                return
            # A stream has no end, and each part of it is passed on as it comes.
            while part := answer.read1(_CHUNK_BYTES):
                self.wfile.write(part)

    def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
        """Say nothing."""


@contextmanager
def between(pages_port: int) -> Iterator[Between]:
    """One that runs in threads until the end."""
    with _Server(("127.0.0.1", 0), _Handler) as server:
        server.between = Between(pages_port, server.server_address[1])
        thread = threading.Thread(target=server.serve_forever, name="between")
        thread.start()
        try:
            yield server.between
        finally:
            server.between.let_go()
            server.shutdown()
            thread.join()
