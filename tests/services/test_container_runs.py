"""What of the containers can be run without an engine: settings, prepared secrets, broker, health check."""

import os
import shutil
import ssl
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import paho.mqtt.client as paho
import pytest
import yaml
from paho.mqtt.enums import CallbackAPIVersion

from config.settings import load_settings
from config.site import STARTER
from dashboards.api_values import HealthJson
from tests.conftest import require
from tests.support import mosquitto as mosquitto_support
from tests.support.certificates import make_certificates
from tests.support.processes import Service, answers, free_port, wait_until

ROOT = Path(__file__).parent.parent.parent
CONTAINER = ROOT / "deploy" / "container"


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of `deploy` on which prepare.sh has been run, twice: the second time changes nothing."""
    deploy = tmp_path_factory.mktemp("prepared") / "deploy"
    shutil.copytree(ROOT / "deploy", deploy, ignore=shutil.ignore_patterns("private"))
    require(mosquitto_support.program(), "Mosquitto")
    texts = []
    for _ in range(2):
        command = ["/bin/sh", str(deploy / "container" / "prepare.sh"), "127.0.0.1"]
        subprocess.run(command, check=True, capture_output=True, timeout=60)
        private = deploy / "container" / "private"
        texts.append({path: path.read_bytes() for path in private.rglob("*") if path.is_file()})
    assert texts[0] == texts[1]
    return deploy


def environment(prepared: Path) -> dict[str, str]:
    """What compose.yaml gives to the daemon, with secrets where prepare.sh has put them."""
    compose = yaml.safe_load((CONTAINER / "compose.yaml").read_text(encoding="utf-8"))
    files = {name: prepared / "container" / each["file"] for name, each in compose["secrets"].items()}
    stated = compose["services"]["daemon"]["environment"]
    return {
        key: str(files[value.removeprefix("/run/secrets/")]) if value.startswith("/run/secrets/") else value
        for key, value in stated.items()
    }


@pytest.mark.services
def test_the_secrets_are_for_nobody_else_on_the_machine(prepared: Path) -> None:
    private = prepared / "container" / "private"
    assert private.stat().st_mode & 0o777 == 0o700
    assert (private / "broker" / "ca.key").stat().st_mode & 0o077 == 0
    password = (private / "broker-password").read_text().strip()
    assert len(password) == 48
    assert password not in (private / "broker" / "passwords").read_text()


@pytest.mark.services
def test_boards_are_told_the_name_of_the_machine_and_not_that_of_a_container(prepared: Path) -> None:
    names = (prepared / "container" / "private" / "broker" / "names").read_text().splitlines()
    assert names == ["127.0.0.1", "broker"]  # the first one is told by `probe enroll`


@pytest.mark.services
def test_what_compose_says_counts_over_what_a_new_site_begins_with(
    prepared: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(STARTER, tmp_path / "site")
    for name, value in environment(prepared).items():
        monkeypatch.setenv(name, value)
    settings = load_settings(tmp_path / "site")
    assert not settings.broker.embedded
    assert (settings.broker.host, settings.broker.port, settings.broker.tls) == ("broker", 8884, True)
    assert settings.broker.protocol == "5"
    assert settings.web.host == "0.0.0.0"
    assert settings.mirror.enabled
    assert settings.mirror.reveal_token() is not None


@pytest.fixture
def broker(prepared: Path, tmp_path: Path) -> Iterator[int]:
    """Mosquitto as the container runs it, with the places inside the container led to those of the test."""
    port, mounts = free_port(), tmp_path / "etc"
    shutil.copytree(prepared / "mosquitto" / "conf.d", mounts / "conf.d")
    (tmp_path / "data").mkdir()
    places = {
        "/etc/mosquitto/clutchwarden": str(prepared / "container" / "private" / "broker"),
        "/etc/mosquitto/conf.d": str(mounts / "conf.d"),
        "/mosquitto/data/": f"{tmp_path}/data/",
        "listener 8884": f"listener {port} 127.0.0.1",
        "listener 8883": f"listener {free_port()} 127.0.0.1",
        "listener 1883 127.0.0.1": f"listener {free_port()} 127.0.0.1",
    }
    main = mounts / "mosquitto.conf"
    shutil.copy(prepared / "container" / "mosquitto.conf", main)
    for path in (main, mounts / "conf.d" / "clutchwarden.conf"):
        text = path.read_text()
        for inside, outside in places.items():
            text = text.replace(inside, outside)
        path.write_text(text)
    # Started by root it would become a user who may not look into the folder of a test.
    main.write_text(f"{main.read_text()}\nuser {os.environ.get('USER', 'root')}\n")
    executable = require(mosquitto_support.program(), "Mosquitto")
    service = Service([executable, "-c", str(main)], tmp_path / "broker.log")
    service.start()
    try:
        wait_until(lambda: answers(port), f"Mosquitto; it said: {service.output()}", seconds=30)
        yield port
    finally:
        service.stop()


@pytest.mark.services
def test_the_daemon_gets_in_by_what_compose_gives_it_and_nobody_else(prepared: Path, broker: int) -> None:
    given = environment(prepared)
    name = given["CLUTCHWARDEN_BROKER__USERNAME"]
    password = Path(given["CLUTCHWARDEN_BROKER__PASSWORD_FILE"]).read_text().strip()
    authority = given["CLUTCHWARDEN_BROKER__CA_FILE"]
    assert _answer(broker, authority, name, password) == "Success"
    assert _answer(broker, authority, name, "guessed") == "Not authorized"
    assert _answer(broker, authority, None, None) == "Not authorized"


def _answer(port: int, authority: str, name: str | None, password: str | None) -> str:
    """What the broker answers to somebody who connects; the certificate has to be right for the address."""
    said: list[str] = []
    client = paho.Client(CallbackAPIVersion.VERSION2, client_id=name or "nobody", protocol=paho.MQTTv5)
    client.on_connect = lambda _client, _data, _flags, reason, _properties: said.append(str(reason))
    client.tls_set(ca_certs=authority, cert_reqs=ssl.CERT_REQUIRED)
    if name is not None:
        client.username_pw_set(name, password)
    client.connect("127.0.0.1", port, keepalive=10)
    client.loop_start()
    try:
        wait_until(lambda: bool(said), "an answer of the broker", seconds=30)
    finally:
        client.disconnect()
        client.loop_stop()
    return said[0]


class _Answers(ThreadingHTTPServer):
    told: tuple[int, str] = (200, "")


class _Handler(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        assert isinstance(self.server, _Answers)
        status, body = self.server.told
        self.send_response(status)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body.encode())

    def log_message(self, *_args: object) -> None:
        """Say nothing."""


@contextmanager
def _answering(address: str, secured: ssl.SSLContext | None = None) -> Iterator[_Answers]:
    with _Answers((address, 0), _Handler) as server:
        if secured is not None:
            server.socket = secured.wrap_socket(server.socket, server_side=True)
        threading.Thread(target=server.serve_forever).start()
        yield server
        server.shutdown()


@pytest.fixture
def pages() -> Iterator[_Answers]:
    with _answering("127.0.0.1") as server:
        yield server


def _health(reasons: list[str]) -> str:
    told = HealthJson(healthy=not reasons, reasons=reasons, broker_connected=True, newest_reading_age_s=None)
    return told.model_dump_json()


@pytest.mark.parametrize(
    ("told", "code", "said"),
    [
        ((200, _health([])), 0, ""),
        ((503, _health(["No reading has arrived yet."])), 1, "No reading has arrived yet."),
        ((200, '{"healthy": "yes"}'), 1, "It answers, and not that it is well."),
        ((200, "<html>"), 1, "No answer from"),
        ((502, "<html>"), 1, "It answers, and not that it is well."),
    ],
)
def test_the_health_check_passes_only_where_the_service_says_that_it_is_well(
    pages: _Answers, told: tuple[int, str], code: int, said: str
) -> None:
    pages.told = told
    done = _check(f"http://127.0.0.1:{pages.server_address[1]}/health")
    assert (done.returncode, said in done.stdout) == (code, True), done.stdout + done.stderr


def test_the_health_check_fails_where_nobody_answers() -> None:
    done = _check(f"http://127.0.0.1:{free_port()}/health")
    assert done.returncode == 1
    assert "No answer from" in done.stdout


@pytest.mark.services
@pytest.mark.parametrize(("address", "code", "said"), [("127.0.0.1", 0, ""), ("127.0.0.2", 1, "certificate")])
def test_the_health_check_takes_a_certificate_that_nobody_vouches_for_on_the_loopback_alone(
    tmp_path: Path, address: str, code: int, said: str
) -> None:
    made = make_certificates(tmp_path / "tls")
    secured = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    secured.load_cert_chain(made / "server.pem", made / "server.key")
    with _answering(address, secured) as server:
        server.told = (200, _health([]))
        done = _check(f"https://{address}:{server.server_address[1]}/health")
    assert (done.returncode, said in done.stdout) == (code, True), done.stdout


def _check(url: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-I", str(CONTAINER / "health.py")]
    # A proxy of the machine must not stand between.
    surroundings = {"HEALTH_URL": url, "http_proxy": "http://127.0.0.1:9"}
    return subprocess.run(command, env=surroundings, capture_output=True, text=True, check=False, timeout=60)
