"""Sends what waits for the broker: one probe, one connection, acknowledged, in order, with a Last Will.

A Last Will belongs to a connection, and each probe has to have its own. The thread runs paho's reading and writing
itself, so that a fault ends one session and not the sending. What waits is kept elsewhere, in memory or on disk: a
`Line`. Standard: MQTT 5.0 and 3.1.1 (OASIS).
"""

import contextlib
import logging
import random
import select
import socket
import threading
import time
from datetime import UTC, datetime
from typing import Any, Literal, Protocol

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

from sensors.board_state import CERTIFICATE_SOON_S
from sensors.secured import Tls, connection_failed, context, ends_s
from sensors.topics import AGENT_ID

log = logging.getLogger("clutchwarden.probe")

CONNECT_SECONDS = 10.0
KEEP_ALIVE_SECONDS = 30
GOODBYE_SECONDS = 2.0
LARGEST_WINDOW = 10
"""Messages under way without an acknowledgement; brokers commonly allow 20."""
_HOUSEKEEPING_SECONDS = 1.0
_NAME_HINT = "Check user name and password: clutchwarden probe enroll --again makes a new one, where the broker is"
_SILENT_HINT = " before the broker said a word; where this port is for TLS, say tls = true"
_TOPIC_HINT = "What a probe may send goes by its user name, which has to be its id; nothing is lost"


class Line(Protocol):
    """What waits to be sent, in order. Asked by the sending thread alone."""

    def rewind(self) -> None:
        """Begin again with the oldest that is not acknowledged: a new session has begun."""

    def next(self) -> tuple[int, bytes] | None:
        """Give what comes next, by a number of its own; None for nothing now."""

    def acknowledge(self, number: int) -> None:
        """The broker has it."""

    def told(self) -> str:
        """Say how many wait and how many were given up, as a part of a sentence."""


class _SessionEndedError(Exception):
    """The connection is gone or was refused; the text says why."""


class Sender:
    """Publishes what is in a line to `<prefix>/<probe>/measure`, and the retained status to `<prefix>/<probe>/status`.

    A message is sent until the broker has acknowledged it (QoS 1: at least once). `pause_s` is the shortest and the
    longest pause between attempts to connect; a random share of it is waited. A network that is gone without a word is
    noticed within twice `keep_alive_s`, and by the broker, which then publishes the Last Will, within one and a half.
    """

    def __init__(
        self,
        line: Line,
        probe_id: str,
        host: str,
        port: int,
        *,
        username: str | None = None,
        password: str | None = None,
        protocol: Literal["5", "3.1.1"] = "5",
        prefix: str = "clutchwarden",
        tls: Tls | None = None,
        pause_s: tuple[float, float] = (1.0, 30.0),
        keep_alive_s: int = KEEP_ALIVE_SECONDS,
    ) -> None:
        self._keep_alive_s = keep_alive_s
        self.probe_id = probe_id
        self._line = line
        self._host, self._port = host, port
        self._username, self._password = username, password
        self._tls = tls
        self._five = protocol == "5"
        self._topic = f"{prefix}/{probe_id}/"
        self._pause_s = pause_s
        self._under_way: dict[int, int] = {}
        self._notice: tuple[str, bytes] | None = None
        self._notice_sent: tuple[str, bytes] | None = None
        self._stop = threading.Event()
        self._connected = False
        self._is_proven = self._was_cut_short = False
        self._failure = ""
        self._told = ""
        self.certificate_ends_s: int | None = None
        """until when the broker's certificate is good, as it was at the last connection; seconds since 1970 UTC"""
        self._end_told_s: int | None = None
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

    def notice(self, leaf: str, payload: bytes) -> None:
        """Have `<prefix>/<probe>/<leaf>` say this, retained, from now on or from the next connection on."""
        self._notice = (leaf, payload)
        self.wake()

    def wake(self) -> None:
        """Let the sending thread look at once whether there is something to send."""
        with contextlib.suppress(OSError):  # full: it wakes anyway; closed: nobody is left to wake
            self._wake_writer.send(b"w")

    def stop(self) -> None:
        """Say `offline` and leave in good order."""
        self._stop.set()
        self.wake()
        if self._thread.is_alive():
            self._thread.join(CONNECT_SECONDS + GOODBYE_SECONDS)
        if not self._thread.is_alive():
            self._wake_reader.close()
            self._wake_writer.close()

    def _run(self) -> None:
        pause_s = self._pause_s[0]
        while not self._stop.is_set():
            failure = self._attempt()
            pause_s = self._pause_s[0] if self._is_proven else min(pause_s * 2, self._pause_s[1])
            self._was_cut_short = self._connected and not self._is_proven
            self._connected = self._is_proven = False
            if failure:
                self._tell(failure)
                # A random share, so that many probes do not come back in the same moment.
                self._stop.wait(pause_s * (0.5 + random.random() / 2))  # noqa: S311 - no secret depends on it

    def _attempt(self) -> str:
        """Hold one session; gives why it ended, or nothing where it ended in good order."""
        client = self._client()
        try:
            if self._tls is not None:
                # Read for each session, so that a new certificate counts without a new start.
                client.tls_set_context(context(self._tls))
            self._session(client)
        except _SessionEndedError as ended:
            # A port for TLS hangs up on whoever comes without.
            silent = not (self._connected or self._failure or self._tls)
            return f"{ended}{_SILENT_HINT}" if silent else str(ended)
        except OSError as error:
            return connection_failed(error, self._host, self._port, working=self._connected)
        except Exception as error:  # a fault of ours must not end sending for good
            log.exception("The session of probe %s ended by a fault in the program; a new one follows.", self.probe_id)
            return f"fault in the program: {type(error).__name__}"
        finally:
            _cut(client)
        return ""

    def _session(self, client: paho.Client) -> None:
        self._failure = ""
        self._under_way.clear()
        self._notice_sent = None
        self._line.rewind()
        client.connect(self._host, self._port, self._keep_alive_s)
        deadline = time.monotonic() + CONNECT_SECONDS
        while not self._connected and not self._stop.is_set():
            self._turn(client)
            if time.monotonic() > deadline:
                raise _SessionEndedError(f"{self._host}:{self._port} accepted the connection but did not answer")
        if self._stop.is_set() and not self._connected:
            return
        if not self._was_cut_short:
            self._tell("")
        self._tell_end_of_certificate(client)
        client.publish(self._topic + "status", b"online", qos=1, retain=True)
        proven_s = time.monotonic() + self._pause_s[1]
        while not self._stop.is_set():
            self._send(client)
            self._turn(client)
            if not self._is_proven and time.monotonic() > proven_s:
                self._prove()
        self._leave(client)

    def _prove(self) -> None:
        """The session works: it has lasted, or the broker took a reading. Else the next one waits longer, unsaid.

        A message that is not allowed, or a second board of the same name, ends each session soon after it begins.
        """
        self._is_proven = True
        if self._told:
            self._tell("")

    def _leave(self, client: paho.Client) -> None:
        goodbye = client.publish(self._topic + "status", b"offline", qos=1, retain=True)
        deadline = time.monotonic() + GOODBYE_SECONDS
        while not goodbye.is_published() and time.monotonic() < deadline:
            self._turn(client)
        client.disconnect()

    def _send(self, client: paho.Client) -> None:
        """Hand over what is next in line, as far as the window allows."""
        while len(self._under_way) < LARGEST_WINDOW and (following := self._line.next()) is not None:
            number, payload = following
            info = client.publish(self._topic + "measure", payload, qos=1)
            self._under_way[info.mid] = number
        notice = self._notice
        if notice is not None and notice != self._notice_sent:
            client.publish(self._topic + notice[0], notice[1], qos=1, retain=True)
            self._notice_sent = notice

    def _turn(self, client: paho.Client) -> None:
        """Wait for the network or a new reading, then read and write what is due."""
        connection: Any = client.socket()
        if connection is None:
            raise _SessionEndedError(self._failure or "the connection was lost")
        writing = [connection] if client.want_write() else []
        # What TLS has read ahead no look at the socket would find.
        ahead = self._tls is not None and connection.pending() > 0
        wait_s = 0.0 if ahead else _HOUSEKEEPING_SECONDS
        readable, writable, _ = select.select([connection, self._wake_reader], writing, [], wait_s)
        if self._wake_reader in readable:
            self._wake_reader.recv(4096)
        codes = [client.loop_read() if ahead or connection in readable else MQTTErrorCode.MQTT_ERR_SUCCESS]
        if connection in writable:
            codes.append(client.loop_write())
        codes.append(client.loop_misc())
        failed = [code for code in codes if code is not MQTTErrorCode.MQTT_ERR_SUCCESS]
        if self._failure or failed:
            raise _SessionEndedError(self._failure or paho.error_string(failed[0]).rstrip(".").lower())

    def _client(self) -> paho.Client:
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"{AGENT_ID}{self.probe_id}",
            protocol=MQTTProtocolVersion.MQTTv5 if self._five else MQTTProtocolVersion.MQTTv311,
        )
        if self._username is not None:
            client.username_pw_set(self._username, self._password)
        client.will_set(self._topic + "status", b"offline", qos=1, retain=True)

        def on_connect(_client: paho.Client, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any) -> None:
            if reason.is_failure:
                self._failure = f"the broker refused the connection: {_refused(reason, _NAME_HINT)}"
            else:
                self._connected = True

        def on_publish(_client: paho.Client, _data: Any, message_id: int, reason: ReasonCode, _properties: Any) -> None:
            if reason.is_failure:
                # Kept and sent again after a pause: a quota or a right may be put in order meanwhile.
                self._failure = f"the broker refused a message: {_refused(reason, _TOPIC_HINT)}"
                return
            number = self._under_way.pop(message_id, None)
            if number is not None:
                self._line.acknowledge(number)
                if not self._is_proven:
                    self._prove()

        client.on_connect = on_connect
        client.on_publish = on_publish
        return client

    def _tell_end_of_certificate(self, client: paho.Client) -> None:
        """Say once for each certificate that it runs out soon: without it nothing is sent any more."""
        self.certificate_ends_s = end_s = ends_s(client.socket())
        if end_s is not None and end_s != self._end_told_s and end_s - time.time() <= CERTIFICATE_SOON_S:
            self._end_told_s = end_s
            day = f"{datetime.fromtimestamp(end_s, UTC):%Y-%m-%d %H:%M} UTC"
            log.warning("The certificate of the broker %s runs out on %s. Have a new one made.", self._host, day)

    def _tell(self, failure: str) -> None:
        """Say a change once, not every attempt."""
        if failure and failure != self._told:
            log.warning("Probe %s is not connected: %s. Trying again until it is.", self.probe_id, failure)
        elif not failure:
            log.info("Probe %s is connected; %s.", self.probe_id, self._line.told())
        self._told = failure


def _refused(reason: ReasonCode, hint: str) -> str:
    name = reason.getName().lower()
    return f"{name}. {hint}" if "authori" in name or "password" in name else name


def _cut(client: paho.Client) -> None:
    """Close a connection that may be broken; a Last Will follows where no goodbye was said."""
    connection: Any = client.socket()
    if connection is not None:
        with contextlib.suppress(OSError):
            connection.close()
