"""TLS towards a broker, hand to hand in memory: who is believed, and in which words the others are refused."""

import contextlib
import shutil
import ssl
import subprocess
import time
from pathlib import Path

import pytest

from sensors.secured import Tls, connection_failed, context, why
from tests.conftest import require
from tests.support.certificates import end_of

ROOT = Path(__file__).parents[2]
DAY_S = 86_400.0


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two authorities, a certificate for `broker.example` of the first, and one of it that has run out."""
    folder = tmp_path_factory.mktemp("certificates")
    openssl = require(shutil.which("openssl"), "openssl")
    for name in ("own", "other"):
        make = [
            "sh",
            str(ROOT / "deploy" / "mosquitto" / "make-certificates.sh"),
            name,
            "broker.example",
            "192.168.1.20",
        ]
        subprocess.run(make, cwd=folder, check=True, capture_output=True)
    (folder / "names").write_text("subjectAltName=DNS:broker.example\n")
    for command in (
        "req -new -key own/server.key -subj /CN=old -out old.csr",
        "x509 -req -in old.csr -CA own/ca.pem -CAkey own/ca.key -set_serial 1 -days -1 -extfile names -out old.pem",
    ):
        subprocess.run([openssl, *command.split()], cwd=folder, check=True, capture_output=True)
    return folder


def shaken(certificate: Path, key: Path, authority: Path, host: str) -> OSError | None:
    """Shake hands in memory; gives what the side of the probe says against it."""
    server_side = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server_side.load_cert_chain(certificate, key)
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    server = server_side.wrap_bio(to_server, to_client, server_side=True)
    client = context(Tls(authority)).wrap_bio(to_client, to_server, server_hostname=host)
    for _ in range(4):
        try:
            client.do_handshake()
        except ssl.SSLWantReadError:
            pass
        except OSError as error:
            return error
        else:
            return None
        with contextlib.suppress(ssl.SSLWantReadError):
            server.do_handshake()
    raise AssertionError("the handshake has no end")


@pytest.mark.parametrize(
    ("certificate", "authority", "host", "said"),
    [
        ("own/server.pem", "own", "broker.example", ""),
        ("own/server.pem", "own", "192.168.1.20", ""),
        ("own/server.pem", "own", "attic.example", "is not for attic.example"),
        ("own/server.pem", "own", "192.168.1.21", "is not for 192.168.1.21"),
        ("own/server.pem", "other", "broker.example", "is not from the authority in ca_file; copy ca.pem"),
        ("old.pem", "own", "broker.example", "has run out, or the clock here is wrong"),
    ],
)
def test_who_is_believed(folder: Path, certificate: str, authority: str, host: str, said: str) -> None:
    error = shaken(folder / certificate, folder / "own" / "server.key", folder / authority / "ca.pem", host)
    if not said:
        assert error is None
        return
    assert error is not None
    assert said in why(error, host)


def test_whoever_speaks_no_tls_is_told_apart(folder: Path) -> None:
    incoming, outgoing = ssl.MemoryBIO(), ssl.MemoryBIO()
    client = context(Tls(folder / "own" / "ca.pem")).wrap_bio(incoming, outgoing, server_hostname="broker.example")
    with pytest.raises(ssl.SSLWantReadError):
        client.do_handshake()
    incoming.write(b"HTTP/1.1 400 Bad Request\r\n\r\n")
    with pytest.raises(ssl.SSLError) as found:
        client.do_handshake()
    assert "does not speak TLS" in why(found.value, "broker.example")


def test_nothing_older_than_tls_1_2_is_spoken(folder: Path) -> None:
    assert context(Tls(folder / "own" / "ca.pem")).minimum_version == ssl.TLSVersion.TLSv1_2


def test_certificates_are_made_once_and_renewed_from_the_same_authority(folder: Path) -> None:
    script = str(ROOT / "deploy" / "mosquitto" / "make-certificates.sh")
    own = folder / "own"
    authority, before = (own / "ca.pem").read_text(), (own / "server.pem").read_text()
    again = subprocess.run(["sh", script, str(own), "broker.example"], capture_output=True, text=True, check=False)
    assert again.returncode == 2
    assert "has an authority already, which the boards know; nothing was changed" in again.stderr
    renewed = subprocess.run(["sh", script, "--renew", str(own)], capture_output=True, text=True, check=True)
    assert "for: broker.example 192.168.1.20" in renewed.stdout
    assert (own / "ca.pem").read_text() == authority
    assert (own / "server.pem").read_text() != before
    assert shaken(own / "server.pem", own / "server.key", own / "ca.pem", "broker.example") is None
    secret = [path.name for path in own.iterdir() if path.stat().st_mode & 0o077 == 0]
    assert sorted(secret) == ["ca.key", "passwords", "server.key"]
    certificate = ssl._ssl._test_decode_cert(str(own / "server.pem"))  # type: ignore[attr-defined]
    assert 800 < (ssl.cert_time_to_seconds(certificate["notAfter"]) - time.time()) / DAY_S < 830
    wrong = subprocess.run(["sh", script, str(folder / "new"), "a name"], capture_output=True, text=True, check=False)
    assert (wrong.returncode, (folder / "new").exists()) == (2, False)


def made(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run make-certificates.sh; gives how it ended and what it said."""
    script = str(ROOT / "deploy" / "mosquitto" / "make-certificates.sh")
    return subprocess.run(["sh", script, *map(str, words)], capture_output=True, text=True, check=False)


def test_a_wrong_address_is_told_and_the_right_one_goes_on_from_there(tmp_path: Path) -> None:
    require(shutil.which("openssl"), "openssl")
    own = tmp_path / "own"
    wrong = made(own, "192.168.1")
    assert wrong.returncode == 2
    assert "bad ip address" in wrong.stderr, "the words of openssl itself"
    assert "If a name or address is wrong, correct it and try again." in wrong.stderr
    authority = (own / "ca.pem").read_text()
    assert sorted(each.name for each in own.iterdir()) == ["ca.key", "ca.pem"]
    assert "has no certificate yet; give the names" in made("--renew", own).stderr
    right = made(own, "192.168.1.20", "fd00::20", "broker.example")
    assert right.returncode == 0, right.stderr
    assert (own / "ca.pem").read_text() == authority
    for host in ("192.168.1.20", "fd00::20", "broker.example"):
        assert shaken(own / "server.pem", own / "server.key", own / "ca.pem", host) is None, host
    # A name that was refused is not among those of the certificate afterwards.
    before = (own / "server.pem").read_text()
    assert made("--renew", own, "192.168.1").returncode == 2
    assert (own / "server.pem").read_text() == before
    assert "for: 192.168.1.20 fd00::20 broker.example" in made("--renew", own).stdout
    assert sorted(each.name for each in own.iterdir()) == [
        *("ca.key", "ca.pem", "names", "passwords", "server.key", "server.pem")
    ]


def test_an_authority_that_was_half_made_is_made_anew(tmp_path: Path) -> None:
    require(shutil.which("openssl"), "openssl")
    own = tmp_path / "own"
    own.mkdir()
    # As a full disk leaves it.
    (own / "ca.key").touch()
    (own / "ca.pem").touch()
    begun = made(own, "broker.example")
    assert begun.returncode == 0, begun.stderr
    assert shaken(own / "server.pem", own / "server.key", own / "ca.pem", "broker.example") is None


@pytest.mark.parametrize("days", [40, -1])
def test_a_certificate_is_never_good_for_longer_than_its_authority(tmp_path: Path, days: int) -> None:
    openssl, own = require(shutil.which("openssl"), "openssl"), tmp_path / "own"
    assert made(own, "broker.example").returncode == 0
    (own / "extensions").write_text("basicConstraints=critical,CA:TRUE\n")
    for command in (
        "req -new -key ca.key -subj /CN=authority -out ca.csr",
        f"x509 -req -in ca.csr -signkey ca.key -set_serial 1 -days {days} -extfile extensions -out ca.pem",
    ):
        subprocess.run([openssl, *command.split()], cwd=own, check=True, capture_output=True)
    before = (own / "server.pem").read_text()
    renewed = made("--renew", own)
    if days < 0:
        assert "The authority (ca.pem) has run out, or does so today." in renewed.stderr
        assert (renewed.returncode, (own / "server.pem").read_text()) == (2, before)
        return
    assert renewed.returncode == 0, renewed.stderr
    assert "and so does this certificate. Before that begin a new authority" in renewed.stdout
    assert 0 <= end_of(own / "ca.pem") - end_of(own / "server.pem") <= DAY_S


@pytest.mark.parametrize("working", [False, True])
def test_a_connection_that_worked_needs_no_advice_about_tls(*, working: bool) -> None:
    reset = ConnectionResetError(104, "Connection reset by peer")
    said = connection_failed(reset, "broker.example", 1883, working=working)
    if working:
        assert said == "the connection to broker.example:1883 ended: connection reset by peer"
    else:
        assert said.startswith("cannot reach broker.example:1883 (connection reset by peer; one side may speak TLS")


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (ssl.SSLEOFError(8, "EOF occurred in violation of protocol (_ssl.c:2427)"), "the other side hung up"),
        (ssl.SSLError(1, "[SSL] something (_ssl.c:2580)"), "TLS failed (no reason given)"),
    ],
)
def test_an_end_of_tls_is_told_without_the_words_of_the_library(error: OSError, said: str) -> None:
    told = connection_failed(error, "broker.example", 8883, working=True)
    assert told == f"the connection to broker.example:8883 ended: {said}"
