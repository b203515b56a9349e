"""TLS and a password on the real broker: let in with the right ones, kept out with a clear word otherwise."""

import shutil
import subprocess
from pathlib import Path

import pytest

from config.settings import BrokerSettings
from daemon.ingest import Ingest
from daemon.mqtt import Listener
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from tests.conftest import require
from tests.daemon.test_service import stated
from tests.support.certificates import end_of
from tests.support.household import write_site
from tests.support.journals import new_journal
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until

pytestmark = pytest.mark.services


@pytest.fixture
def certificates(tmp_path: Path) -> Path:
    """An authority and a certificate for localhost, made by openssl for this test."""
    openssl = require(shutil.which("openssl"), "openssl")
    folder = tmp_path / "certificates"
    folder.mkdir(mode=0o755)
    (folder / "names").write_text("subjectAltName=DNS:localhost,IP:127.0.0.1\n")
    for arguments in (
        "req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=authority -keyout ca.key -out ca.pem",
        "req -newkey rsa:2048 -nodes -subj /CN=localhost -keyout server.key -out server.csr",
        "x509 -req -in server.csr -CA ca.pem -CAkey ca.key -CAcreateserial -days 2 -extfile names -out server.pem",
    ):
        subprocess.run([openssl, *arguments.split()], cwd=folder, check=True, capture_output=True)
    (folder / "server.key").chmod(0o644)
    return folder


@pytest.fixture
def broker(mosquitto: Mosquitto, certificates: Path, tmp_path: Path) -> Mosquitto:
    """The broker with TLS and a password file."""
    mosquitto.stop()
    passwords = tmp_path / "mosquitto" / "passwords"
    program = require(shutil.which("mosquitto_passwd"), "mosquitto_passwd")
    subprocess.run(
        [program, "-c", "-b", str(passwords), "warden", "a word of passage"], check=True, capture_output=True
    )
    passwords.chmod(0o644)
    configuration = tmp_path / "mosquitto" / "mosquitto.conf"
    secured = configuration.read_text().replace("allow_anonymous true", "allow_anonymous false")
    files = f"cafile {certificates}/ca.pem\ncertfile {certificates}/server.pem\nkeyfile {certificates}/server.key\n"
    first, _, rest = secured.partition("\n")
    configuration.write_text(f"{first}\n{files}password_file {passwords}\n{rest}")
    for folder in tmp_path.parents[:3]:
        folder.chmod(folder.stat().st_mode | 0o011)
    mosquitto.start()
    return mosquitto


def listener(tmp_path: Path, journal: Journal, port: int, password: str, **options: object) -> Listener:
    decoder = Decoder(stated(write_site(tmp_path / "site", port)).site)
    settings = BrokerSettings.model_validate({"host": "localhost", "port": port, "username": "warden", **options})
    return Listener(settings, password, decoder.subscriptions, Ingest(decoder, journal, lambda: None), lambda: 1)


# The client library leaves a socket unclosed where the handshake fails; it goes with the next collection.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize(
    ("password", "trusted", "said"),
    [
        ("a word of passage", True, "connected to"),
        ("guessed", True, "Check username and password_file"),
        ("a word of passage", False, "certificate"),
    ],
)
def test_the_daemon_is_let_in_or_says_why_not(
    tmp_path: Path, broker: Mosquitto, certificates: Path, password: str, trusted: bool, said: str
) -> None:
    options: dict[str, object] = {"tls": True}
    if trusted:
        options["ca_file"] = certificates / "ca.pem"
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        link = listener(tmp_path, journal, broker.port, password, **options)
        link.start()
        wait_until(lambda: said in link.state.detail, f"{said}; it said: {link.state.detail}")
        assert link.state.connected is (said == "connected to")
        assert password not in link.state.detail
        ends_ms = end_of(certificates / "server.pem") * 1000 if link.state.connected else None
        assert link.state.certificate_ends_ms == ends_ms
        assert link.stop()
        with journal.read() as conn:
            assert samples.count(conn) == 0
