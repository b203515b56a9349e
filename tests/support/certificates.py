"""Certificates for a test, made by openssl: an authority, and one for localhost and 127.0.0.1."""

import shutil
import subprocess
from datetime import datetime
from pathlib import Path

from tests.conftest import require


def make_certificates(folder: Path) -> Path:
    """Write ca.pem, server.pem and server.key, and locked.key (with a passphrase), into a new folder; gives it."""
    openssl = require(shutil.which("openssl"), "openssl")
    folder.mkdir()
    (folder / "names").write_text("subjectAltName=DNS:localhost,IP:127.0.0.1\n")
    for arguments in (
        "req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=authority -keyout ca.key -out ca.pem",
        "req -newkey rsa:2048 -nodes -subj /CN=localhost -keyout server.key -out server.csr",
        "x509 -req -in server.csr -CA ca.pem -CAkey ca.key -CAcreateserial -days 2 -extfile names -out server.pem",
        "rsa -in server.key -aes128 -passout pass:word -out locked.key",
    ):
        subprocess.run([openssl, *arguments.split()], cwd=folder, check=True, capture_output=True)
    return folder


def end_of(certificate: Path) -> int:
    """When a certificate runs out, in seconds since 1970 UTC, as openssl says it."""
    command = [require(shutil.which("openssl"), "openssl"), "x509", "-in", str(certificate), "-noout", "-enddate"]
    said = subprocess.run([*command, "-dateopt", "iso_8601"], check=True, capture_output=True, text=True).stdout
    return int(datetime.fromisoformat(said.removeprefix("notAfter=").strip()).timestamp())
