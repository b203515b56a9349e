"""TLS towards a broker: the certificate and the name in it are always checked, and what fails is said in words."""

import ssl
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

_OTHER_AUTHORITY = frozenset({18, 19, 20, 21})
_OTHER_NAME = frozenset({62, 64})
_NOT_YET, _RUN_OUT = 9, 10
"""Numbers of the X.509 verification that openssl gives, as in its page openssl-verification-options."""
_NO_TLS = ("WRONG_VERSION_NUMBER", "UNEXPECTED_EOF_WHILE_READING", "RECORD_LAYER_FAILURE", "HTTP_REQUEST")
_LOOK = "look at the port, and whether tls = true is meant"


class Tls(NamedTuple):
    """Which authority a broker's certificate has to come from (None: those of the system), and our own certificate."""

    authority: Path | None = None
    certificate: Path | None = None
    key: Path | None = None


def context(tls: Tls) -> ssl.SSLContext:
    """Read the files. Raises OSError (`ssl.SSLError` is one) where that cannot be done."""
    made = ssl.create_default_context(cafile=None if tls.authority is None else str(tls.authority))
    made.minimum_version = ssl.TLSVersion.TLSv1_2
    if tls.certificate is not None:
        # Without an answer of its own, openssl would ask for a passphrase at a terminal that nobody sits at.
        made.load_cert_chain(tls.certificate, tls.key, password=lambda: "")
    return made


def connection_failed(error: OSError, host: str, port: int, *, working: bool) -> str:
    """Say that a connection failed and why; a `working` one has shown that host, port and TLS are right."""
    if working:
        return f"the connection to {host}:{port} ended: {_why_it_ended(error)}"
    return f"cannot reach {host}:{port} ({why(error, host)})"


def _why_it_ended(error: OSError) -> str:
    if isinstance(error, ssl.SSLEOFError):
        return "the other side hung up"
    if isinstance(error, ssl.SSLError):
        reason = getattr(error, "reason", None) or "no reason given"
        return f"TLS failed ({reason.replace('_', ' ').lower()})"
    return (error.strerror or str(error)).lower()


def why(error: OSError, host: str) -> str:
    """Say why a connection failed, as a part of a sentence, and what to do where that can be known."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return _certificate(error, host)
    if isinstance(error, ConnectionResetError):
        return f"{(error.strerror or 'connection reset').lower()}; one side may speak TLS and the other not: {_LOOK}"
    if isinstance(error, ssl.SSLError):
        if any(reason in (error.reason or "") for reason in _NO_TLS):
            return f"whoever answers there does not speak TLS: {_LOOK}"
        return f"TLS failed: {(error.reason or str(error)).replace('_', ' ').lower()}"
    return error.strerror or str(error)


def _certificate(error: ssl.SSLCertVerificationError, host: str) -> str:
    number = error.verify_code
    if number in _OTHER_NAME:
        return f"the certificate of the broker is not for {host}; write host as a name that is in it, or have one made"
    if number in _OTHER_AUTHORITY:
        return "the certificate of the broker is not from the authority in ca_file; copy ca.pem from the broker anew"
    if number == _RUN_OUT:
        return "the certificate of the broker has run out, or the clock here is wrong; have a new one made"
    if number == _NOT_YET:
        return "the certificate of the broker is not valid yet: the clock here is wrong, or not set yet"
    return f"the certificate of the broker is not accepted: {error.verify_message}"


def ends_s(connection: object) -> int | None:
    """Give the second since 1970, UTC, at which the broker's certificate runs out; None where there is no TLS."""
    # By its name and not its class: the service has a wrapper of its own around the socket.
    ask: Callable[[], dict[str, object] | None] | None = getattr(connection, "getpeercert", None)
    end = None if ask is None else (ask() or {}).get("notAfter")
    return ssl.cert_time_to_seconds(end) if isinstance(end, str) else None
