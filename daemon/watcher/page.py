"""The watcher's own port: how it stands, a page with a button to answer, and the way in for heartbeats.

Plain pages without scripts. A GET changes nothing: mail and chat programs open links before a person does.
"""

import hmac
import html
import logging
from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs

from pydantic import SecretStr

from daemon.watcher.health_answer import LARGEST_BYTES, judge_heartbeat
from daemon.watcher.rules import Event, PersonAnswers

log = logging.getLogger("clutchwarden.watcher")

LONGEST_NAME = 40
_SLOWEST_S = 10.0
_FORM = """<form method="post">
<label>Your name <input name="who" maxlength="40" required autocomplete="name"></label>
<button>I look after it</button>
</form>"""
_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>{title}</title>
<style>
:root {{ color-scheme: light dark; font: 1.15rem/1.5 sans-serif }}
body {{ max-width: 36rem; margin: 1rem auto; padding: 0 1rem }}
input, button {{ font: inherit; padding: .6rem; margin: .4rem 0; display: block; width: 100%; box-sizing: border-box }}
</style></head>
<body><h1>{title}</h1><p>{said}</p>{form}
<p>This watcher only tells. It is not a safety device.</p></body></html>
"""


@dataclass(frozen=True, slots=True)
class Doors:
    """What the port lets in: `take` an event and give the reason; `standing` in words; the `token` of what is open."""

    take: Callable[[Event], str]
    standing: Callable[[], str]
    token: Callable[[], str | None]
    heartbeat_token: SecretStr | None
    name: str


class Port(ThreadingHTTPServer):
    """One port. Raises OSError where it cannot be had."""

    daemon_threads = True

    def __init__(self, host: str, port: int, doors: Doors) -> None:
        self.doors = doors
        super().__init__((host, port), _Handler)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say little: a visitor that breaks off is nothing to wake anybody for."""
        del request, client_address


class _Handler(BaseHTTPRequestHandler):
    server: Port
    timeout = _SLOWEST_S
    server_version = "clutchwarden"
    sys_version = ""

    def do_GET(self) -> None:
        """Show a page; nothing changes."""
        doors = self.server.doors
        if self.path == "/":
            self._page(HTTPStatus.OK, doors.standing())
        elif self.path.startswith("/answer/"):
            if self._is_open():
                self._page(HTTPStatus.OK, doors.standing(), _FORM)
            else:
                self._page(HTTPStatus.GONE, f"This link is about an earlier silence. Now: {doors.standing()}")
        elif self.path.startswith("/heartbeat/"):
            self._page(HTTPStatus.METHOD_NOT_ALLOWED, 'A heartbeat is a POST: set method = "POST" in [heartbeat].')
        else:
            self._page(HTTPStatus.NOT_FOUND, "There is no such page.")

    def do_POST(self) -> None:
        """Take an answer or a heartbeat."""
        body = self._body()
        if body is None:
            self._page(HTTPStatus.BAD_REQUEST, "That request is too large or has no length.")
        elif self.path.startswith("/answer/"):
            self._answer(body)
        elif self.path.startswith("/heartbeat/"):
            self._heartbeat(body)
        else:
            self._page(HTTPStatus.NOT_FOUND, "There is no such page.")

    def _answer(self, body: bytes) -> None:
        who = " ".join(parse_qs(body.decode("utf-8", "replace")).get("who", [""])[0].split())[:LONGEST_NAME]
        if not who or not who.isprintable():
            self._page(HTTPStatus.BAD_REQUEST, "Say who you are, so that the others know who goes.", _FORM)
            return
        was_open = self._is_open()
        said = self.server.doors.take(PersonAnswers(self.path.removeprefix("/answer/"), who))
        self._page(HTTPStatus.OK if was_open else HTTPStatus.GONE, said)

    def _heartbeat(self, body: bytes) -> None:
        expected = self.server.doors.heartbeat_token
        given = self.path.removeprefix("/heartbeat/")
        if expected is None or not _same(given, expected.get_secret_value()):
            self._page(HTTPStatus.NOT_FOUND, "There is no such page.")
            return
        event = judge_heartbeat(body)
        if event is None:
            self._page(HTTPStatus.BAD_REQUEST, "That is not a heartbeat of clutchwarden.")
            return
        self.server.doors.take(event)
        self._page(HTTPStatus.OK, "Heard.")

    def _is_open(self) -> bool:
        token = self.server.doors.token()
        return token is not None and _same(self.path.removeprefix("/answer/"), token)

    def _body(self) -> bytes | None:
        stated = self.headers.get("Content-Length") or "0"
        length = int(stated) if stated.isascii() and stated.isdigit() else LARGEST_BYTES + 1
        return self.rfile.read(length) if length <= LARGEST_BYTES else None

    def _page(self, status: HTTPStatus, said: str, form: str = "") -> None:
        self.close_connection = True
        title = html.escape(f"Watcher of {self.server.doors.name}")
        content = _PAGE.format(title=title, said=html.escape(said), form=form).encode()
        self.send_response(status)
        for name, value in (
            ("Content-Type", "text/html; charset=utf-8"),
            ("Content-Length", str(len(content))),
            ("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'"),
            ("Cache-Control", "no-store"),
            ("Referrer-Policy", "no-referrer"),
            ("X-Content-Type-Options", "nosniff"),
            ("X-Frame-Options", "DENY"),
        ):
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name is the base class's
        """Write no line for a request: its path holds a token."""


def _same(given: str, expected: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "replace"), expected.encode())
