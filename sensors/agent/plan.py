"""What the agent is to do, as its file states it. Pure."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, NamedTuple

from sensors.linux.addresses import Address


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


@dataclass(frozen=True, slots=True)
class ChannelPlan:
    """One channel of a probe: its name, as in the site file, and where its value is to be had."""

    name: str
    address: Address


@dataclass(frozen=True, slots=True)
class ProbePlan:
    """One probe, as in the site file: what is measured at one place, how often."""

    id: str
    interval_ms: int
    channels: tuple[ChannelPlan, ...]


@dataclass(frozen=True, slots=True)
class AgentPlan:
    """The whole file. `own_clock`: a battery keeps the clock of this board, so that nobody else has to vouch for it."""

    broker: BrokerPlan
    folder: Path
    bounds: Bounds
    own_clock: bool
    sysfs: Path
    probes: tuple[ProbePlan, ...]
