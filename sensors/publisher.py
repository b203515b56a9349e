"""Sends the readings of one probe to the broker: SenML over MQTT, acknowledged, in order, with a Last Will.

One probe, one connection: a Last Will belongs to a connection, and each probe has to have its own. The thread runs
paho's reading and writing itself, so that a fault ends one session and not the sending. Standards: MQTT 5.0 and 3.1.1
(OASIS), SenML (RFC 8428).
"""

import contextlib
import json
import logging
import math
import random
import select
import socket
import threading
import time
from collections.abc import Mapping
from typing import Any, Literal

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

log = logging.getLogger("clutchwarden.probe")

CONNECT_SECONDS = 10.0
KEEP_ALIVE_SECONDS = 30
GOODBYE_SECONDS = 2.0
LARGEST_WINDOW = 10
"""Messages under way without an acknowledgement; brokers commonly allow 20."""
_HOUSEKEEPING_SECONDS = 1.0
_DROPS_PER_LINE = 1_000


def senml_pack(measured_at_ms: int, values: Mapping[str, tuple[float, str]]) -> bytes:
    """Write one moment's values as a SenML JSON pack, RFC 8428: base time in seconds, then name, unit and value.

    `values` gives value and SenML unit by channel name. Raises ValueError for no values, and for one that is not a
    finite number: JSON has no way to write it (RFC 8259 section 6).
    """
    if not values:
        raise ValueError("there is no value to send; a pack has at least one record (RFC 8428 section 5)")
    for name, (value, _) in values.items():
        if not math.isfinite(value):
            raise ValueError(f"the value of {name} is {value}, which SenML cannot carry; leave the channel out instead")
    records: list[dict[str, Any]] = [{"n": name, "u": unit, "v": value} for name, (value, unit) in values.items()]
    records[0] = {"bt": measured_at_ms / 1000, **records[0]}
    return json.dumps(records, separators=(",", ":"), allow_nan=False).encode()


class _SessionEndedError(Exception):
    """The connection is gone or was refused; the text says why."""


class ProbePublisher:
    """Publishes one probe: readings to `<prefix>/<probe>/measure`, its retained status to `<prefix>/<probe>/status`.

    Readings wait in order in a bounded queue until the broker has acknowledged them (QoS 1: at least once). When the
    queue is full the oldest is given up, counted in `dropped` and logged. `pause_s` is the shortest and the longest
    pause between attempts to connect; a random share of it is waited.
    """

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
        pause_s: tuple[float, float] = (1.0, 30.0),
    ) -> None:
        self.probe_id = probe_id
        self.dropped = 0
        self._host, self._port = host, port
        self._username, self._password = username, password
        self._five = protocol == "5"
        self._measure_topic = f"{prefix}/{probe_id}/measure"
        self._status_topic = f"{prefix}/{probe_id}/status"
        self._queue_limit = queue_limit
        self._pause_s = pause_s
        self._waiting: dict[int, bytes] = {}
        self._newest = 0
        self._sent = 0
        self._under_way: dict[int, int] = {}
        self._changed = threading.Condition()
        self._stop = threading.Event()
        self._connected = False
        self._failure = ""
        self._told = ""
        self._wake_reader, self._wake_writer = socket.socketpair()
        for end in (self._wake_reader, self._wake_writer):
            end.setblocking(False)
        self._thread = threading.Thread(target=self._run, name=f"probe-{probe_id}", daemon=True)

    def start(self) -> None:
        """Begin to connect; returns at once, with or without a broker."""
        self._thread.start()

    @property
    def connected(self) -> bool:
        """True while the broker has accepted the connection."""
        return self._connected

    @property
    def waiting(self) -> int:
        """Readings that the broker has not acknowledged."""
        return len(self._waiting)

    def publish(self, measured_at_ms: int, values: Mapping[str, tuple[float, str]]) -> None:
        """Queue the values of one moment (UTC milliseconds since the epoch). Raises ValueError as `senml_pack` does."""
        payload = senml_pack(measured_at_ms, values)
        with self._changed:
            if len(self._waiting) >= self._queue_limit:
                self._give_up_oldest()
            # In this order: the sending thread looks up to `_newest` and takes what is not there for given up.
            self._waiting[self._newest + 1] = payload
            self._newest += 1
        self._wake()

    def flush(self, timeout_s: float) -> bool:
        """Wait until the broker has acknowledged everything; False where the time was too short."""
        with self._changed:
            return self._changed.wait_for(lambda: not self._waiting, timeout_s)

    def stop(self) -> None:
        """Say `offline` and leave in good order. What is not acknowledged by now is lost: `flush` first."""
        self._stop.set()
        self._wake()
        if self._thread.is_alive():
            self._thread.join(CONNECT_SECONDS + GOODBYE_SECONDS)
        if self._waiting:
            log.warning("Probe %s stopped with %d readings not sent.", self.probe_id, len(self._waiting))
        if not self._thread.is_alive():
            self._wake_reader.close()
            self._wake_writer.close()

    def _give_up_oldest(self) -> None:
        del self._waiting[next(iter(self._waiting))]
        self.dropped += 1
        if self.dropped % _DROPS_PER_LINE == 1:
            log.warning(
                "Probe %s: no broker for so long that %d of the oldest readings had to be given up; "
                "the queue holds %d. Check the broker.",
                self.probe_id,
                self.dropped,
                self._queue_limit,
            )

    def _wake(self) -> None:
        with contextlib.suppress(OSError):  # full: it wakes anyway; closed: nobody is left to wake
            self._wake_writer.send(b"w")

    def _run(self) -> None:
        pause_s = self._pause_s[0]
        while not self._stop.is_set():
            failure = self._attempt()
            pause_s = self._pause_s[0] if self._connected else min(pause_s * 2, self._pause_s[1])
            self._connected = False
            if failure:
                self._tell(failure)
                # A random share, so that many probes do not come back in the same moment.
                self._stop.wait(pause_s * (0.5 + random.random() / 2))  # noqa: S311 - no secret depends on it

    def _attempt(self) -> str:
        """Hold one session; gives why it ended, or nothing where it ended in good order."""
        client = self._client()
        try:
            self._session(client)
        except _SessionEndedError as ended:
            return str(ended)
        except OSError as error:
            return f"cannot reach {self._host}:{self._port} ({error.strerror or error})"
        except Exception as error:  # a fault of ours must not end sending for good
            log.exception("The session of probe %s ended by a fault in the program; a new one follows.", self.probe_id)
            return f"fault in the program: {type(error).__name__}"
        finally:
            _cut(client)
        return ""

    def _session(self, client: paho.Client) -> None:
        self._failure = ""
        self._under_way.clear()
        with self._changed:
            self._sent = next(iter(self._waiting), self._newest + 1) - 1
        client.connect(self._host, self._port, KEEP_ALIVE_SECONDS)
        deadline = time.monotonic() + CONNECT_SECONDS
        while not self._connected and not self._stop.is_set():
            self._turn(client)
            if time.monotonic() > deadline:
                raise _SessionEndedError(f"{self._host}:{self._port} accepted the connection but did not answer")
        if self._stop.is_set() and not self._connected:
            return
        self._tell("")
        client.publish(self._status_topic, b"online", qos=1, retain=True)
        while not self._stop.is_set():
            self._send(client)
            self._turn(client)
        self._leave(client)

    def _leave(self, client: paho.Client) -> None:
        goodbye = client.publish(self._status_topic, b"offline", qos=1, retain=True)
        deadline = time.monotonic() + GOODBYE_SECONDS
        while not goodbye.is_published() and time.monotonic() < deadline:
            self._turn(client)
        client.disconnect()

    def _send(self, client: paho.Client) -> None:
        """Hand over what is next in line, as far as the window allows."""
        while len(self._under_way) < LARGEST_WINDOW and self._sent < self._newest:
            self._sent += 1
            payload = self._waiting.get(self._sent)
            if payload is not None:
                info = client.publish(self._measure_topic, payload, qos=1)
                self._under_way[info.mid] = self._sent

    def _turn(self, client: paho.Client) -> None:
        """Wait for the network or a new reading, then read and write what is due."""
        connection: Any = client.socket()
        if connection is None:
            raise _SessionEndedError(self._failure or "the connection was lost")
        writing = [connection] if client.want_write() else []
        readable, writable, _ = select.select([connection, self._wake_reader], writing, [], _HOUSEKEEPING_SECONDS)
        if self._wake_reader in readable:
            self._wake_reader.recv(4096)
        codes = [client.loop_read() if connection in readable else MQTTErrorCode.MQTT_ERR_SUCCESS]
        if connection in writable:
            codes.append(client.loop_write())
        codes.append(client.loop_misc())
        failed = [code for code in codes if code is not MQTTErrorCode.MQTT_ERR_SUCCESS]
        if self._failure or failed:
            raise _SessionEndedError(self._failure or paho.error_string(failed[0]).rstrip(".").lower())

    def _client(self) -> paho.Client:
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"clutchwarden-probe-{self.probe_id}",
            protocol=MQTTProtocolVersion.MQTTv5 if self._five else MQTTProtocolVersion.MQTTv311,
        )
        if self._username is not None:
            client.username_pw_set(self._username, self._password)
        client.will_set(self._status_topic, b"offline", qos=1, retain=True)

        def on_connect(_client: paho.Client, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any) -> None:
            if reason.is_failure:
                self._failure = f"the broker refused the connection: {reason.getName().lower()}"
            else:
                self._connected = True

        def on_publish(_client: paho.Client, _data: Any, message_id: int, reason: ReasonCode, _properties: Any) -> None:
            if reason.is_failure:
                # Kept and sent again after a pause: a quota or a right may be put in order meanwhile.
                self._failure = f"the broker refused a message: {reason.getName().lower()}"
                return
            number = self._under_way.pop(message_id, None)
            if number is not None:
                with self._changed:
                    self._waiting.pop(number, None)
                    self._changed.notify_all()

        client.on_connect = on_connect
        client.on_publish = on_publish
        return client

    def _tell(self, failure: str) -> None:
        """Say a change once, not every attempt."""
        if failure and failure != self._told:
            log.warning("Probe %s is not connected: %s. Trying again until it is.", self.probe_id, failure)
        elif not failure:
            log.info(
                "Probe %s is connected; %d readings wait, %d were given up.", self.probe_id, self.waiting, self.dropped
            )
        self._told = failure


def _cut(client: paho.Client) -> None:
    """Close a connection that may be broken; a Last Will follows where no goodbye was said."""
    connection: Any = client.socket()
    if connection is not None:
        with contextlib.suppress(OSError):
            connection.close()
