"""An InfluxDB of the test's own, and the small gateway through which influxdb-client reaches a 1.x engine.

Debian carries InfluxDB 1.6: it stores line protocol and answers InfluxQL, but has no `/api/v2/write`. The gateway
turns that path into `/write?db=BUCKET` and passes everything else on, so that the client library meets the real engine.
"""

import http.client
import threading
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
[logging]
  level = "error"
"""


class _Gateway(BaseHTTPRequestHandler):
    """Rewrites the one path that the old engine does not know."""

    engine_port = 0

    def _forward(self, method: str) -> None:
        parts = urlsplit(self.path)
        target = self.path
        if parts.path == "/api/v2/write":
            query = parse_qs(parts.query)
            precision = query["precision"][0]
            asked = {"db": query["bucket"][0], "precision": "u" if precision == "us" else precision}
            target = f"/write?{urlencode(asked)}"
        length = int(self.headers.get("Content-Length") or 0)
        body = self.rfile.read(length) if length else None
        passed = {name: value for name, value in self.headers.items() if name.lower() == "content-encoding"}
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

    def do_GET(self) -> None:
        self._forward("GET")

    def do_POST(self) -> None:
        self._forward("POST")

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name is the base class's
        pass


class InfluxDb:
    """The engine and its gateway; `url` is what influxdb-client is given."""

    def __init__(self, folder: Path, executable: str) -> None:
        self.port = free_port()
        folder.mkdir(parents=True, exist_ok=True)
        configuration = folder / "influxdb.conf"
        configuration.write_text(CONFIGURATION.format(port=self.port, rpc=free_port(), folder=folder))
        self._service = Service([executable, "-config", str(configuration)], folder / "influxdb.log")
        handler = type("Gateway", (_Gateway,), {"engine_port": self.port})
        self._gateway = ThreadingHTTPServer(("127.0.0.1", 0), handler)
        self._gateway.daemon_threads = True
        self.url = f"http://127.0.0.1:{self._gateway.server_address[1]}"

    def start(self) -> None:
        """Start both, and wait until the engine answers."""
        self._service.start()
        wait_until(lambda: answers(self.port), f"InfluxDB on port {self.port}; it said: {self._service.output()}")
        threading.Thread(target=self._gateway.serve_forever, name="influxdb-gateway", daemon=True).start()

    def query(self, text: str, database: str = "") -> bytes:
        """Ask the engine in InfluxQL and give its JSON answer."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        try:
            connection.request("POST", "/query?" + urlencode({"q": text, "db": database}))
            return connection.getresponse().read()
        finally:
            connection.close()

    def stop(self) -> None:
        """End both."""
        self._gateway.shutdown()
        self._gateway.server_close()
        self._service.stop()
