"""Ingest against its limit: a paho consumer that does nothing.

Both take the same queued messages from the same broker over a kept session at QoS 1, each in a process of its own. The
consumer acknowledges on arrival. The daemon decodes, judges, commits to disk (synchronous=FULL), acknowledges, and
evaluates in its other threads. Rounds of the two alternate; the ratio is that of the medians.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import Future
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from daemon import service
from daemon.arrival import Arrival
from daemon.clock import SystemClock
from daemon.commands.site_folder import read_site
from daemon.ingest import Ingest
from daemon.mqtt import RECEIVE_MAXIMUM
from sensors.reading import Decoded
from tests.support import mosquitto as support
from tests.support.household import DAY_MS, MEASURE, House, a_clutch, now_ms, pack, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until

MESSAGES = 20_000
ROUNDS = 5
CLIENT_ID = "clutchwarden"


def _session(port: int) -> paho.Client:
    """A client with the daemon's kept session."""
    client = paho.Client(CallbackAPIVersion.VERSION2, client_id=CLIENT_ID, protocol=MQTTProtocolVersion.MQTTv5)
    properties: Any = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    properties.SessionExpiryInterval = 86_400
    properties.ReceiveMaximum = RECEIVE_MAXIMUM
    client.connect("127.0.0.1", port, clean_start=False, properties=properties)
    return client


def _leave_a_subscription(port: int) -> None:
    client = _session(port)
    subscribed: list[int] = []
    client.on_subscribe = lambda *_: subscribed.append(1)
    client.on_connect = lambda one, *_: one.subscribe("clutchwarden/+/measure", 1)
    client.loop_start()
    wait_until(lambda: bool(subscribed), "the subscription")
    client.disconnect()
    client.loop_stop()


def _fill(port: int, start_ms: int) -> None:
    client = paho.Client(CallbackAPIVersion.VERSION2, client_id="filler")
    client.max_inflight_messages_set(500)
    client.max_queued_messages_set(0)
    client.connect("127.0.0.1", port)
    client.loop_start()
    sent = [
        client.publish(MEASURE, pack(start_ms + n * 1000, {"air": 28 + n % 7 / 100, "rh": 70 + n % 11 / 10}), qos=1)
        for n in range(MESSAGES)
    ]
    for one in sent:
        one.wait_for_publish(120)
    client.disconnect()
    client.loop_stop()


def consume_nothing(port: int) -> float:
    """Seconds from the first to the last of the queued messages, doing nothing with them."""
    client = _session(port)
    moments: list[float] = []
    client.on_message = lambda *_: moments.append(time.perf_counter())
    client.loop_start()
    wait_until(lambda: len(moments) >= MESSAGES, "all messages", 120)
    client.disconnect()
    client.loop_stop()
    return moments[-1] - moments[0]


class _Timed(Ingest):
    """Notes when the first message came and when the last one was committed."""

    moments: list[float] = []  # noqa: RUF012 - one process measures once
    committed = 0

    def decode(self, topic: str, payload: bytes, retained: bool, received_at_ms: int) -> Decoded:
        if not self.moments:
            self.moments.append(time.perf_counter())
        return super().decode(topic, payload, retained, received_at_ms)

    def commit(self, arrivals: Sequence[Arrival]) -> "Future[None]":
        stored = super().commit(arrivals)
        stored.add_done_callback(lambda _: self.note(len(arrivals)))
        return stored

    def note(self, count: int) -> None:
        _Timed.committed += count
        if _Timed.committed >= MESSAGES:
            self.moments.append(time.perf_counter())


def consume_as_the_daemon_does(folder: Path) -> float:
    """Seconds from the first message to the commit of the last, in the whole daemon."""
    service.Ingest = _Timed  # type: ignore[attr-defined]
    site = read_site(folder)
    daemon = service.Service(service.Stated(site.folder, site.site, site.settings, site.profiles), SystemClock())
    daemon.start()
    wait_until(lambda: len(_Timed.moments) == 2, "all messages", 120)
    daemon.stop()
    return _Timed.moments[1] - _Timed.moments[0]


def _measure(*arguments: str) -> float:
    command = [sys.executable, "-m", "tests.bench.ingest", *arguments]
    return float(subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()[-1])


def ingest_ratio() -> tuple[float, float]:
    """Rate of the daemon over the rate of a consumer that does nothing; and the daemon's messages per second."""
    program = support.program()
    if program is None:
        raise SystemExit("Mosquitto is not installed; deploy/test-services.sh brings it")
    times: dict[str, list[float]] = {"nothing": [], "daemon": []}
    with tempfile.TemporaryDirectory() as folder:
        broker = Mosquitto(Path(folder) / "broker", program)
        broker.start()
        try:
            house = House(write_site(Path(folder) / "site", broker.port))
            house.enter(a_clutch(now_ms() - 10 * DAY_MS))
            _leave_a_subscription(broker.port)
            for round_ in range(ROUNDS):
                for who, seconds in times.items():
                    _fill(broker.port, now_ms() - (round_ + 2) * MESSAGES * 1000)
                    where = str(broker.port) if who == "nothing" else str(house.folder)
                    seconds.append(_measure(who, where))
        finally:
            broker.stop()
    nothing, daemon = (statistics.median(measured) for measured in times.values())
    return nothing / daemon, MESSAGES / daemon


if __name__ == "__main__":
    if sys.argv[1] == "nothing":
        print(consume_nothing(int(sys.argv[2])))
    else:
        print(consume_as_the_daemon_does(Path(sys.argv[2])))
