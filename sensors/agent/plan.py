"""What the agent is to do, as its file states it. Pure."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, NamedTuple

from config.public_url import LOOPBACK
from sensors.linux.addresses import Address
from sensors.secured import Tls


class Bounds(NamedTuple):
    """How much a spool may hold: bytes, and milliseconds between the oldest line and now."""

    largest_bytes: int
    longest_ms: int


@dataclass(frozen=True, slots=True)
class BrokerPlan:
    """Where the broker is. The password comes from a file of its own."""

    host: str
    port: int
    username: str | None
    password: str | None = field(repr=False)
    protocol: Literal["5", "3.1.1"]
    prefix: str
    tls: Tls | None = None
    keep_alive_s: int = 30


@dataclass(frozen=True, slots=True)
class ChannelPlan:
    """One channel of a probe: its name, as in the site file, and where its value is to be had."""

    name: str
    address: Address


@dataclass(frozen=True, slots=True)
class ProbePlan:
    """One probe, as in the site file: what is measured at one place, how often.

    With a password of its own its user name is its id.
    """

    id: str
    interval_ms: int
    channels: tuple[ChannelPlan, ...]
    password: str | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class AgentPlan:
    """The whole file. `own_clock`: a battery keeps the clock of this board, so that nobody else has to vouch for it."""

    broker: BrokerPlan
    folder: Path
    bounds: Bounds
    own_clock: bool
    sysfs: Path
    probes: tuple[ProbePlan, ...]

    def signs_in(self, probe: ProbePlan) -> tuple[str | None, str | None]:
        """Give user name and password of a probe at the broker."""
        own = probe.password is not None
        return (probe.id, probe.password) if own else (self.broker.username, self.broker.password)

    def cautions(self) -> tuple[str, ...]:
        """Say what works and should not stay so."""
        broker, found = self.broker, []
        secret = any(self.signs_in(probe)[1] is not None for probe in self.probes)
        if secret and broker.tls is None and broker.host not in LOOPBACK:
            found.append(
                f"The password goes to {broker.host} as it is, for everybody in that network to read. Say tls = true "
                "and ca_file in [broker]; the broker's README says how."
            )
        if secret and broker.protocol == "3.1.1":
            found.append(
                "By MQTT 3.1.1 a broker takes a reading that this user name may not send, and throws it away without a "
                'word. Say protocol = "5" in [broker] where the broker knows it.'
            )
        return tuple(found)
