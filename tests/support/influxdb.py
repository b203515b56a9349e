"""An InfluxDB of the test's own, and the small gateway through which influxdb-client reaches a 1.x engine.

Debian carries InfluxDB 1.6: it stores line protocol and answers InfluxQL, but has no `/api/v2/write`. The gateway
turns that path into `/write?db=BUCKET` and passes everything else on, so that the client library meets the real engine.
Where the engine asks who it is, the gateway turns `Token USER:PASSWORD` into what 1.6 understands, as 1.8 does itself.
"""

import base64
import http.client
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlencode, urlsplit

from tests.support.processes import Service, answers, free_port, wait_until

CONFIGURATION = """\
reporting-disabled = true
bind-address = "127.0.0.1:{rpc}"
[meta]
  dir = "{folder}/meta"
[data]
  dir = "{folder}/data"
  wal-dir = "{folder}/wal"
[http]
  bind-address = "127.0.0.1:{port}"
  log-enabled = false
  auth-enabled = {auth}
[logging]
  level = "error"
"""


@dataclass(frozen=True)
class Fault:
    """What the gateway answers in place of the engine; `hangs`: it reads the request and waits for that to be set."""

    status: int = 503
    body: bytes = b""
    headers: Mapping[str, str] = field(default_factory=dict)
    hangs: threading.Event | None = None


class _Gateway(BaseHTTPRequestHandler):
    """Rewrites the one path that the old engine does not know."""

    engine_port = 0
    asks_who = False
    fault: Fault | None = None
    diverted: str | None = None
    requests: list[tuple[str, str]]
    """path and Authorization of each request"""

    def _forward(self, method: str) -> None:
        self.requests.append((self.path, self.headers.get("Authorization") or ""))
        if self.fault is not None:
            self._fail(self.fault)
            return
        parts = urlsplit(self.path)
        target = self.path
        if parts.path == "/api/v2/write":
            query = parse_qs(parts.query)
            precision = query["precision"][0]
            asked = {"db": self.diverted or query["bucket"][0], "precision": "u" if precision == "us" else precision}
            target = f"/write?{urlencode(asked)}"
        length = int(self.headers.get("Content-Length") or 0)
        body = self.rfile.read(length) if length else None
        passed = {name: value for name, value in self.headers.items() if name.lower() == "content-encoding"}
        scheme, _, credentials = (self.headers.get("Authorization") or "").partition(" ")
        if self.asks_who and scheme == "Token":
            passed |= basic(credentials)
        upstream = http.client.HTTPConnection("127.0.0.1", self.engine_port, timeout=10)
        try:
            upstream.request(method, target, body, passed)
            answer = upstream.getresponse()
            content = answer.read()
        finally:
            upstream.close()
        self.send_response(answer.status)
        self.send_header("Content-Length", str(len(content)))
        self.send_header("Content-Type", answer.getheader("Content-Type") or "application/json")
        self.end_headers()
        self.wfile.write(content)

    def _fail(self, fault: Fault) -> None:
        self.rfile.read(int(self.headers.get("Content-Length") or 0))
        if fault.hangs is not None:
            fault.hangs.wait(30)
        self.send_response(fault.status)
        for name, value in {"Content-Length": str(len(fault.body)), **fault.headers}.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(fault.body)

    def do_GET(self) -> None:
        self._forward("GET")

    def do_POST(self) -> None:
        self._forward("POST")

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name is the base class's
        pass


class _Server(ThreadingHTTPServer):
    def handle_error(self, request: object, client_address: object) -> None:
        """Say nothing: an engine that is off, and a client that has gone away, are what some tests want."""


def basic(credentials: str) -> dict[str, str]:
    """The header of RFC 7617 for USER:PASSWORD."""
    return {"Authorization": f"Basic {base64.b64encode(credentials.encode()).decode()}"}


ADMIN = "admin:of-the-test"


class InfluxDb:
    """The engine and its gateway; `url` is what influxdb-client is given.

    With `asks_who` nobody may do anything without a user's name and password; `query` and `write` are an administrator.
    """

    def __init__(self, folder: Path, executable: str, host: str = "127.0.0.1", *, asks_who: bool = False) -> None:
        self.port = free_port()
        folder.mkdir(parents=True, exist_ok=True)
        configuration = folder / "influxdb.conf"
        configuration.write_text(
            CONFIGURATION.format(port=self.port, rpc=free_port(), folder=folder, auth=str(asks_who).lower())
        )
        self._service = Service([executable, "-config", str(configuration)], folder / "influxdb.log")
        self._handler: type[_Gateway] = type(
            "Gateway", (_Gateway,), {"engine_port": self.port, "requests": [], "asks_who": asks_who}
        )
        self._asks_who = asks_who
        self._headers = basic(ADMIN) if asks_who else {}
        self._gateway = _Server((host, 0), self._handler)
        self._gateway.daemon_threads = True
        self.url = f"http://{host}:{self._gateway.server_address[1]}"

    def start(self) -> None:
        """Start both, and wait until the engine answers."""
        self._service.start()
        wait_until(lambda: answers(self.port), f"InfluxDB on port {self.port}; it said: {self._service.output()}")
        threading.Thread(target=self._gateway.serve_forever, name="influxdb-gateway", daemon=True).start()
        if self._asks_who:
            user, _, password = ADMIN.partition(":")
            self.query(f"CREATE USER {user} WITH PASSWORD '{password}' WITH ALL PRIVILEGES")

    def query(self, text: str, database: str = "") -> bytes:
        """Ask the engine in InfluxQL and give its JSON answer."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        try:
            connection.request("POST", "/query?" + urlencode({"q": text, "db": database}), headers=self._headers)
            return connection.getresponse().read()
        finally:
            connection.close()

    def stop(self) -> None:
        """End both."""
        self._gateway.shutdown()
        self._gateway.server_close()
        self._service.stop()

    def write(self, database: str, lines: str) -> None:
        """Write lines with times in ms straight into the engine."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        try:
            connection.request("POST", f"/write?db={database}&precision=ms", lines.encode(), self._headers)
            answer = connection.getresponse()
            assert answer.status == 204, answer.read()
        finally:
            connection.close()

    def misbehave(self, fault: Fault | None) -> None:
        """Answer like that from now on, and with None as the engine does."""
        self._handler.fault = fault

    def divert(self, database: str | None) -> None:
        """Store what is written in this database from now on, and with None in the one that is named."""
        self._handler.diverted = database

    @property
    def requests(self) -> list[tuple[str, str]]:
        """Path and Authorization of each request so far."""
        return self._handler.requests

    def halt(self) -> None:
        """End the engine alone, as a machine that is switched off; the gateway then breaks each connection."""
        self._service.stop()

    def resume(self) -> None:
        """Start the engine again, with all that it held."""
        self._service.start()
        wait_until(lambda: answers(self.port), f"InfluxDB on port {self.port}; it said: {self._service.output()}")
