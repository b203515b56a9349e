"""What passes between the listener and ingest, and what may be said of the connection."""

from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from sensors.reading import Decoded


class Arrival(NamedTuple):
    """A message as it came, with what it was found to be."""

    topic: str
    payload: bytes
    retained: bool
    received_at_ms: int
    decoded: Decoded
    message_id: int
    qos: int


class Handler(Protocol):
    """What the listener needs from ingest."""

    def decode(self, topic: str, payload: bytes, retained: bool, received_at_ms: int) -> Decoded:
        """Understand one message; never raises."""

    def commit(self, arrivals: Sequence[Arrival]) -> "Future[None]":
        """Have a batch stored for good; a failure in the future means that it is kept and tried again."""


@dataclass(frozen=True, slots=True)
class BrokerState:
    """What a page or a check may say of the connection. `ever`: it was there at least once since the start.

    `certificate_ends_ms`: until when the broker's certificate is good, UTC ms; None for a connection without one.
    """

    connected: bool
    detail: str
    since_ms: int
    ever: bool = False
    certificate_ends_ms: int | None = None
