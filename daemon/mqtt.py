"""The connection to the broker: one thread that reads, has batches committed, and acknowledges only what is committed.

The thread runs paho's loop itself instead of `loop_start()`: an exception in a callback would end paho's own thread in
silence while `is_connected()` went on saying yes. Here whatever goes wrong ends one session, is said once, and the next
session starts after a random pause. What was not acknowledged the broker keeps (MQTT 5.0, clause 4.1 and 4.4).
"""

import contextlib
import logging
import random
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from config.settings import BrokerSettings
from daemon.arrival import Arrival, BrokerState, Handler
from daemon.broker_words import not_allowed, refused, taken_over
from daemon.buffered_client import BufferedClient, introduce
from sensors.secured import connection_failed, ends_s

log = logging.getLogger("clutchwarden.broker")

LARGEST_BATCH = 2_000
LARGEST_UNCOMMITTED = 50_000
RECEIVE_MAXIMUM = 5_000
SESSION_TAKEN_OVER = 0x8E
"""MQTT 5.0, table 2-6."""
CONNECT_SECONDS = 10.0
SUBSCRIBE_SECONDS = 2.0
PAUSE_SECONDS = (1.0, 15.0)
"""Between two tries to reach the broker, the first and the longest: what it has kept may have to be told at once."""
COMMIT_PAUSE_SECONDS = 1.0
COMMIT_LOOK_SECONDS = 0.002
"""How often a commit under way is looked at while nothing arrives; the next messages are read meanwhile."""


class _SessionEndedError(Exception):
    """The connection is gone or was refused; the text says why, for a keeper."""


class Listener:
    """Keeps one subscription alive for as long as the daemon runs; `no_more` is what an earlier one may still have."""

    def __init__(
        self,
        broker: BrokerSettings,
        password: str | None,
        subscriptions: Sequence[str],
        handler: Handler,
        now_ms: Callable[[], int],
        no_more: Sequence[str] = (),
    ) -> None:
        self._broker = broker
        self._password = password
        self._subscriptions, self._no_more = [(topic, 1) for topic in subscriptions], list(no_more)
        self._handler = handler
        self._now_ms = now_ms
        self._pending: list[Arrival] = []
        self._storing: tuple[Future[None], list[Arrival]] | None = None
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="broker-listener", daemon=True)
        self._refused: str | None = None
        self._unheard = ""
        self._ever_connected = False
        self.dropped = 0
        self.store_error: BaseException | None = None
        """why readings that wait here cannot be stored; None while they can, or while none wait"""
        self.behind = False
        """more waits at the broker than one batch holds"""
        self.state = BrokerState(connected=False, detail="not connected yet", since_ms=now_ms())

    def start(self) -> None:
        """Begin to connect; returns at once, with or without a broker."""
        self._thread.start()

    def stop(self, seconds: float = 10.0) -> bool:
        """End the session in good order; True where the thread ended in time."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(seconds)
        return not self._thread.is_alive()

    @property
    def alive(self) -> bool:
        """True while the thread runs; a dead thread is a fault that health must report."""
        return self._thread.is_alive()

    def _run(self) -> None:
        pause = PAUSE_SECONDS[0]
        while not self._stop.is_set():
            try:
                self._session()
            except _SessionEndedError as ended:
                reason = str(ended)
            except OSError as error:
                reason = connection_failed(error, self._broker.host, self._broker.port, working=self.state.connected)
            except Exception as error:  # a fault of ours must not end listening for good
                log.exception("The broker session ended by a fault in the program; a new one follows.")
                reason = f"fault in the program: {type(error).__name__}"
            else:
                return
            pause = PAUSE_SECONDS[0] if self.state.connected else min(pause * 2, PAUSE_SECONDS[1])
            self._settle_uncommitted()
            self._say(connected=False, detail=reason)
            # A random share, so that many clients do not come back in the same moment.
            self._stop.wait(pause * (0.5 + random.random() / 2))  # noqa: S311 - no secret depends on it

    def _session(self) -> None:
        client = self._client()
        try:
            self._connect(client)
            while not self._stop.is_set():
                held = len(self._pending)
                self._turn(client, self._patience())
                self._acknowledge(client, wait=len(self._pending) >= LARGEST_BATCH)
                arrived = len(self._pending) - held
                if self._pending and self._storing is None and (not arrived or len(self._pending) >= LARGEST_BATCH):
                    self._store()
            self._acknowledge(client, wait=True)
            if self._pending:
                self._store()
                self._acknowledge(client, wait=True)
        finally:
            client.disconnect()

    def _patience(self) -> float:
        """How long to wait for the next message: not at all where some are waiting to be stored."""
        if self._storing is not None:
            return COMMIT_LOOK_SECONDS
        return 0.0 if self._pending else 0.25

    def _turn(self, client: BufferedClient, timeout: float) -> None:
        if client.pieces:
            client.pieces.settle()
        code = client.loop(timeout)
        while code is MQTTErrorCode.MQTT_ERR_SUCCESS and len(self._pending) < LARGEST_BATCH:
            # The library reads one packet for each look at the socket; what is there already needs no further look.
            held = len(self._pending)
            code = client.loop_read()
            if len(self._pending) == held:
                break
        if self._refused:
            raise _SessionEndedError(self._refused)
        if code is not MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise _SessionEndedError(paho.error_string(code).rstrip(".").lower())

    def _connect(self, client: BufferedClient) -> None:
        connected, subscribed = threading.Event(), threading.Event()
        self._refused, self._unheard = None, ""

        def on_connect(client: paho.Client, _: Any, flags: paho.ConnectFlags, reason: ReasonCode, _more: Any) -> None:
            if reason.is_failure:
                self._refused = refused(reason.getName())
                return
            if self._ever_connected and not flags.session_present:
                log.warning("The broker no longer knew this daemon: what was sent in between may be missing.")
            client.subscribe(self._subscriptions)
            if self._no_more:
                client.unsubscribe(self._no_more)
            connected.set()

        def on_disconnect(_client: paho.Client, _: Any, _flags: Any, reason: ReasonCode, _more: Any) -> None:
            if reason.value == SESSION_TAKEN_OVER:
                self._refused = taken_over(self._broker.client_id)

        def on_subscribe(_client: paho.Client, _: Any, _mid: int, reasons: list[ReasonCode], _more: Any) -> None:
            self._heed(reasons)
            subscribed.set()

        client.on_connect = on_connect
        client.on_disconnect = on_disconnect
        client.on_subscribe = on_subscribe
        options: dict[str, Any] = {}
        if self._broker.protocol == "5":
            properties: Any = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            properties.SessionExpiryInterval = int(self._broker.session_expiry_days * 86_400)
            properties.ReceiveMaximum = RECEIVE_MAXIMUM
            options = {"clean_start": False, "properties": properties}
        client.connect(self._broker.host, self._broker.port, int(self._broker.keep_alive_s), **options)
        if not self._turn_until(client, connected, CONNECT_SECONDS):
            raise _SessionEndedError("the broker accepted the connection but did not answer")
        # Whoever reads "connected" may send at once, and a broker keeps nothing for who has not subscribed yet.
        self._turn_until(client, subscribed, SUBSCRIBE_SECONDS)
        self._ever_connected = True
        end_s = ends_s(client.socket())
        detail = f"connected to {self._broker.host}:{self._broker.port}{self._unheard and f', but {self._unheard}'}"
        self._say(connected=True, detail=detail, ends_ms=None if end_s is None else end_s * 1000)

    def _heed(self, answers: Sequence[ReasonCode]) -> None:
        """Without anything to hear there is no session; with a part of it the session goes on."""
        refusals = [answer.getName() if answer.is_failure else "" for answer in answers]
        self._unheard = not_allowed([topic for topic, _ in self._subscriptions], refusals)
        if all(refusals):
            self._refused = self._unheard
        elif self._unheard:
            log.warning("Broker: %s", self._unheard)

    def _turn_until(self, client: BufferedClient, happened: threading.Event, seconds: float) -> bool:
        """Tell whether it happened in time."""
        deadline = time.monotonic() + seconds
        while not happened.is_set():
            self._turn(client, 0.25)
            if time.monotonic() > deadline or self._stop.is_set():
                return False
        return True

    def _client(self) -> BufferedClient:
        five = self._broker.protocol == "5"
        client = BufferedClient(
            CallbackAPIVersion.VERSION2,
            client_id=self._broker.client_id,
            clean_session=None if five else False,
            protocol=MQTTProtocolVersion.MQTTv5 if five else MQTTProtocolVersion.MQTTv311,
            manual_ack=True,
        )
        introduce(client, self._broker, self._password)

        def on_message(_client: paho.Client, _data: Any, message: paho.MQTTMessage) -> None:
            now_ms, payload = self._now_ms(), bytes(message.payload)
            decoded = self._handler.decode(message.topic, payload, message.retain, now_ms)
            self._pending.append(
                Arrival(message.topic, payload, message.retain, now_ms, decoded, message.mid, message.qos)
            )

        client.on_message = on_message
        return client

    def _store(self) -> None:
        """Have what arrived stored; reading goes on meanwhile."""
        batch, self._pending = self._pending, []
        self.behind = len(batch) >= LARGEST_BATCH
        self._storing = (self._handler.commit(batch), batch)

    def _acknowledge(self, client: BufferedClient, *, wait: bool) -> None:
        """Acknowledge a batch whose commit has ended. Without a commit nothing is: the broker keeps it."""
        if self._storing is None or not (wait or self._storing[0].done()):
            return
        future, batch = self._storing
        error = future.exception()
        self._storing = None
        if error is not None:
            self._pending = batch + self._pending
            self.store_error = error
            log.error("Readings could not be stored and stay with the broker: %s", error)
            self._hold_back(client)
            return
        self.store_error = None
        with client.pieces.together() if client.pieces else contextlib.nullcontext():
            for arrival in batch:
                if arrival.qos:
                    client.ack(arrival.message_id, arrival.qos)

    def _hold_back(self, client: BufferedClient) -> None:
        """Stay connected for a moment without storing, so that a full disk does not also cost the session."""
        until = time.monotonic() + COMMIT_PAUSE_SECONDS
        while time.monotonic() < until and not self._stop.is_set():
            self._turn(client, 0.1)
        if len(self._pending) > LARGEST_UNCOMMITTED:
            kept = [arrival for arrival in self._pending if arrival.qos]
            self.dropped += len(self._pending) - len(kept)
            log.error("%d messages sent without acknowledgement (QoS 0) were dropped: no room.", self.dropped)
            self._pending = kept
        if self._stop.is_set():
            raise _SessionEndedError("stopped with readings that could not be stored; the broker keeps them")

    def _settle_uncommitted(self) -> None:
        """After a lost session: store what is at hand. What the broker sends again is then a counted duplicate."""
        if self._storing is not None:
            (future, batch), self._storing = self._storing, None
            if future.exception() is not None:
                self._pending = batch + self._pending
        if self._pending:
            error = self._handler.commit(self._pending).exception()
            if error is not None:
                log.error("Readings could not be stored: %s", error)
            self._pending = [] if error is None else [arrival for arrival in self._pending if not arrival.qos]
        if not self._pending:
            # What the broker keeps is not ours to store as long as there is no broker.
            self.store_error = None

    def _say(self, *, connected: bool, detail: str, ends_ms: int | None = None) -> None:
        """Tell a change once, not every attempt."""
        changed = connected != self.state.connected or self.state.detail == "not connected yet"
        since_ms = self._now_ms() if changed else self.state.since_ms
        self.state = BrokerState(connected, detail, since_ms, self._ever_connected, ends_ms)
        if not changed:
            log.debug("Still no broker: %s", detail)
        elif connected:
            log.info("Broker: %s.", detail)
        else:
            log.warning("No broker: %s. Trying again until it is back; readings it keeps will follow.", detail)
