"""Sends the readings of one probe to the broker: SenML (RFC 8428) over MQTT, from a queue in memory."""

import json
import logging
import math
import threading
from collections.abc import Mapping, Sequence
from typing import Any, Literal

from sensors.secured import Tls
from sensors.sender import Sender

log = logging.getLogger("clutchwarden.probe")

_DROPS_PER_LINE = 1_000


def senml_pack(
    measured_at_ms: int, values: Mapping[str, tuple[float, str]], beside: Sequence[Mapping[str, Any]] = ()
) -> bytes:
    """Write one moment's values as a SenML JSON pack, RFC 8428: base time in seconds, then name, unit and value.

    `values` gives value and SenML unit by channel name; `beside` are whole records that follow. Raises ValueError for
    no values, and for one that is not a finite number: JSON has no way to write it (RFC 8259 section 6).
    """
    if not values:
        raise ValueError("there is no value to send; a pack has at least one record (RFC 8428 section 5)")
    for name, (value, _) in values.items():
        if not math.isfinite(value):
            raise ValueError(f"the value of {name} is {value}, which SenML cannot carry; leave the channel out instead")
    records: list[dict[str, Any]] = [{"n": name, "u": unit, "v": value} for name, (value, unit) in values.items()]
    records[0] = {"bt": measured_at_ms / 1000, **records[0]}
    return json.dumps([*records, *beside], separators=(",", ":"), allow_nan=False).encode()


class MemoryLine:
    """Waits in order in a bounded queue. When it is full the oldest is given up, counted in `dropped` and logged."""

    def __init__(self, probe_id: str, limit: int) -> None:
        self.waiting: dict[int, bytes] = {}
        self.dropped = 0
        self._probe_id = probe_id
        self._limit = limit
        self._newest = 0
        self._sent = 0
        self._changed = threading.Condition()

    def put(self, payload: bytes) -> None:
        """Queue one message."""
        with self._changed:
            if len(self.waiting) >= self._limit:
                self._give_up_oldest()
            # In this order: the sending thread looks up to `_newest` and takes what is not there for given up.
            self.waiting[self._newest + 1] = payload
            self._newest += 1

    def emptied(self, timeout_s: float) -> bool:
        """Wait until nothing waits; False where the time was too short."""
        with self._changed:
            return self._changed.wait_for(lambda: not self.waiting, timeout_s)

    def rewind(self) -> None:
        """Begin again with the oldest that is not acknowledged."""
        with self._changed:
            self._sent = next(iter(self.waiting), self._newest + 1) - 1

    def next(self) -> tuple[int, bytes] | None:
        """Give what comes next."""
        while self._sent < self._newest:
            self._sent += 1
            payload = self.waiting.get(self._sent)
            if payload is not None:
                return self._sent, payload
        return None

    def acknowledge(self, number: int) -> None:
        """The broker has it."""
        with self._changed:
            self.waiting.pop(number, None)
            self._changed.notify_all()

    def told(self) -> str:
        """Say how many wait, as a part of a sentence."""
        return f"{len(self.waiting)} readings wait, {self.dropped} were given up"

    def _give_up_oldest(self) -> None:
        del self.waiting[next(iter(self.waiting))]
        self.dropped += 1
        if self.dropped % _DROPS_PER_LINE == 1:
            log.warning(
                "Probe %s: no broker for so long that %d of the oldest readings had to be given up; "
                "the queue holds %d. Check the broker.",
                self._probe_id,
                self.dropped,
                self._limit,
            )


class ProbePublisher(Sender):
    """Publishes one probe from memory: readings wait there, in order, until the broker has acknowledged them."""

    def __init__(
        self,
        probe_id: str,
        host: str,
        port: int,
        *,
        username: str | None = None,
        password: str | None = None,
        protocol: Literal["5", "3.1.1"] = "5",
        prefix: str = "clutchwarden",
        queue_limit: int = 10_000,
        tls: Tls | None = None,
        pause_s: tuple[float, float] = (1.0, 30.0),
    ) -> None:
        self._queue = MemoryLine(probe_id, queue_limit)
        self._waiting = self._queue.waiting
        super().__init__(
            self._queue,
            probe_id,
            host,
            port,
            username=username,
            password=password,
            protocol=protocol,
            prefix=prefix,
            tls=tls,
            pause_s=pause_s,
        )

    @property
    def waiting(self) -> int:
        """Readings that the broker has not acknowledged."""
        return len(self._waiting)

    @property
    def dropped(self) -> int:
        """Readings that were given up because the queue was full."""
        return self._queue.dropped

    def publish(self, measured_at_ms: int, values: Mapping[str, tuple[float, str]]) -> None:
        """Queue the values of one moment (UTC milliseconds since the epoch). Raises ValueError as `senml_pack` does."""
        self._queue.put(senml_pack(measured_at_ms, values))
        self.wake()

    def flush(self, timeout_s: float) -> bool:
        """Wait until the broker has acknowledged everything; False where the time was too short."""
        return self._queue.emptied(timeout_s)

    def stop(self) -> None:
        """Say `offline` and leave in good order. What is not acknowledged by now is lost: `flush` first."""
        super().stop()
        if self._waiting:
            log.warning("Probe %s stopped with %d readings not sent.", self.probe_id, len(self._waiting))
