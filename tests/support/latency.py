"""How long a confirmed condition takes to a phone: 64 probes at one reading a second, a real broker and receiver.

Each round takes one incubator beyond its limit. The condition is confirmed by the second reading beyond it, as its
on-delay of half a second is over then; from the moment at which that reading is handed to the broker to the moment at
which the receiver has the alert is what is measured. Between rounds the clock goes on, so that each alarm is the
first one of its minute and no flood.
"""

import itertools
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Self

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from config.check import check_site
from daemon.desk_work import DeskWork
from daemon.storage.journal import Journal
from tests.support.clocked import ClockedHouse
from tests.support.household import DAY_MS, PERSON, a_clutch, now_ms, pack
from tests.support.mosquitto import Mosquitto
from tests.support.processes import free_port, wait_until
from tests.support.receiver import Receiver

PROBES = 64
SITE = '[site]\nname = "Latency"\ntime_zone = "Europe/Madrid"\n[alarm.temperature-high]\non_delay_s = 0.5\n'
INCUBATOR = """
[[incubator]]
id = "i{n}"
name = "Cabinet {n}"
[[incubator.zone]]
id = "z"
name = "shelf"
damping_min = 0
[[incubator.zone.box]]
id = "B"
[[probe]]
id = "p{n}"
place = "i{n}/z"
interval_s = 120
[[probe.channel]]
name = "air"
quantity = "air_temperature"
"""
CALM_C, WARM_C = 29.4, 30.1
NEXT_ROUND_MS = 210_000


def latencies_s(folder: Path, broker: Mosquitto, rounds: int) -> list[float]:
    """Seconds from the confirming reading to the receiver, one for each round."""
    with Receiver() as receiver:
        _write(folder, broker.port, receiver.url("/ana"))
        house = ClockedHouse(folder, 1.0)
        house.clock.set_to(now_ms())
        for number in range(PROBES):
            house.enter(a_clutch(now_ms() - 10 * DAY_MS, f"C{number}", f"i{number}/z/B"))
        house.start()
        try:
            with _Sending(broker.port, house) as sending:
                return [_round(number % PROBES, sending, house, receiver) for number in range(rounds)]
        finally:
            house.service.stop()


def _write(folder: Path, port: int, url: str) -> None:
    folder.mkdir(parents=True)
    incubators = "".join(INCUBATOR.format(n=number) for number in range(PROBES))
    (folder / "site.toml").write_text(SITE + incubators + PERSON.format(url=url), encoding="utf-8")
    (folder / "settings.toml").write_text(f"[broker]\nport = {port}\n[web]\nport = {free_port()}\n", encoding="utf-8")


class _Sending:
    """All probes, once a second, in a thread of its own; `warm` is the one that is beyond its limit."""

    def __init__(self, port: int, house: ClockedHouse) -> None:
        self.warm: int | None = None
        self.sent_warm: list[float] = []
        self.turns = 0
        self._house = house
        self._client = paho.Client(CallbackAPIVersion.VERSION2, client_id="probes")
        self._client.max_inflight_messages_set(200)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        self._thread.join()
        self._client.disconnect()
        self._client.loop_stop()

    def _run(self) -> None:
        started = time.monotonic()
        for turn in itertools.count(1):
            warm = self.warm
            for number in range(PROBES):
                value = (WARM_C if number == warm else CALM_C) + turn % 5 / 100
                payload = pack(self._house.clock.now_ms(), {"air": value})
                if number == warm:
                    self.sent_warm.append(time.perf_counter())
                self._client.publish(f"clutchwarden/p{number}/measure", payload, qos=1)
            self.turns = turn
            if self._ended.wait(max(0.0, started + turn - time.monotonic())):
                return


def _round(number: int, sending: _Sending, house: ClockedHouse, receiver: Receiver) -> float:
    house.clock.set_to(house.clock.now_ms() + NEXT_ROUND_MS)
    with _one_warm(sending, number):
        wait_until(lambda: _arrived(receiver, number) is not None, f"the alert of cabinet {number}", 30)
    arrived = _arrived(receiver, number)
    assert arrived is not None
    _acknowledge(house)
    return arrived - sending.sent_warm[1]


@contextmanager
def _one_warm(sending: _Sending, number: int) -> Iterator[None]:
    turns = sending.turns
    wait_until(lambda: sending.turns > turns + 1, "a turn after the clock was set")
    sending.sent_warm.clear()
    sending.warm = number
    yield
    sending.warm = None


def _arrived(receiver: Receiver, number: int) -> float | None:
    """When the alert of a cabinet came."""
    of_cabinet = (
        each.at_s
        for each in list(receiver.received)
        if each.json()["kind"] == "alarm" and each.json()["place"].startswith(f"Cabinet {number},")
    )
    return next(of_cabinet, None)


def _acknowledge(house: ClockedHouse) -> None:
    checked = check_site(house.folder)
    assert checked.site is not None
    work = DeskWork(checked.site, checked.profiles)
    with Journal.open(house.journal_path) as journal:
        journal.write(
            lambda conn: work.acknowledge(conn, list(work.read(conn).entries), "ana", "", house.clock.now_ms())
        )
