"""What of the broker's settings works and should not stay so. Pure."""

from collections.abc import Iterator
from typing import Protocol

from config.errors import Mistake
from config.public_url import LOOPBACK

DAEMON_ACCOUNT, PROBES_PORT = "clutchwarden", 8883
"""The daemon's own user name, and the port that probes come to by TLS, as `deploy/mosquitto` has them."""


class Stated(Protocol):
    """The part of the settings that this looks at."""

    @property
    def host(self) -> str:
        """Where the broker is, or the inner one listens."""

    @property
    def port(self) -> int:
        """Its port."""

    @property
    def username(self) -> str | None:
        """Who the daemon is there."""

    @property
    def tls(self) -> bool:
        """True where nobody on the way can read along."""

    @property
    def embedded(self) -> bool:
        """True for the inner broker, which knows no TLS."""


def broker_cautions(broker: Stated, file: str) -> Iterator[Mistake]:
    """Find a password that goes through a network for everybody in it to read, and the door that is for probes."""
    if broker.tls and broker.username == DAEMON_ACCOUNT and broker.port == PROBES_PORT:
        reason = "at the broker of deploy/mosquitto this port is for probes: a second connection ends the first"
        hint = "Use port 1883 on the broker's machine, or the port for a daemon elsewhere, as its README says."
        yield Mistake(file, "broker.port", reason, hint, "warning")
    if broker.username is None or broker.tls or broker.host in LOOPBACK:
        return
    if broker.embedded:
        reason = "the inner broker speaks no TLS: the passwords of probes can be read by everybody in the network"
        hint = "Keep it to a network where you trust everybody, or use the broker of deploy/mosquitto."
    else:
        reason = f"the password goes to {broker.host} as it is, for everybody in the network to read"
        hint = "Say tls = true and ca_file, with the port for it, or let the broker run on this machine."
    yield Mistake(file, "broker.tls", reason, hint, "warning")
