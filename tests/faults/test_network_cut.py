"""A network that is gone without a word, between board, broker, daemon and mirror: all of it comes, once and in order.

Each of them stands in a network namespace of its own; the router between them throws packets away. Nothing tells either
end, so that only the keep-alive of MQTT (5.0, clause 3.1.2.10) and the time-outs of the requests can notice.
"""

import json
import shutil
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from daemon.storage import samples, status
from daemon.storage.journal import Journal
from sensors.agent.lines import decode
from tests.conftest import require
from tests.mirror.house import Mirrored
from tests.sensors.agent.boards import board
from tests.support import mosquitto as mosquitto_support
from tests.support.household import House
from tests.support.influxdb import InfluxDb
from tests.support.mosquitto import Mosquitto
from tests.support.namespaces import HERE, STORE, Network
from tests.support.processes import Service, wait_until

BOARD, BARN = "board", "barn"
PATIENCE_S = 90.0
KEEP_ALIVE_S = 2


@pytest.fixture
def network() -> Iterator[Network]:
    found = Network([BOARD, BARN])
    found.start()
    yield found
    found.stop()


class Cut:
    """A board with its agent, a daemon with its mirror, broker and engine, each of the first two behind a cable."""

    def __init__(self, folder: Path, network: Network, ending: ExitStack) -> None:
        self.network, here = network, network.address(HERE)
        self.broker = Mosquitto(folder / "broker", require(mosquitto_support.program(), "Mosquitto"), here)
        engine = InfluxDb(folder / "influxdb", require(shutil.which("influxd"), "InfluxDB"), network.address(STORE))
        for each in (self.broker, engine):
            each.start()
            ending.callback(each.stop)
        self.mirrored = Mirrored(folder, engine)
        self.mirrored.journal.close()
        self._state(self.mirrored.folder / "settings.toml", here)
        self.house = House(self.mirrored.folder)
        self.house.service.command = network.command(BARN, self.house.service.command)
        self.spool = folder / "spool" / "north-air"
        file = board(folder, self.broker.port, interval_s=0.2)
        file.write_text(
            file.read_text()
            .replace('host = "127.0.0.1"', f'host = "{here}"\nkeep_alive_s = {KEEP_ALIVE_S}')
            .replace('name = "t"', 'name = "air"')
        )
        command = network.command(BOARD, [sys.executable, "-P", "-m", "sensors.agent", str(file)])
        self.agent = Service(command, folder / "agent.log")

    def _state(self, settings: Path, here: str) -> None:
        at = f'host = "{here}"\nport = {self.broker.port}\nkeep_alive_s = {KEEP_ALIVE_S}'
        settings.write_text(settings.read_text().replace("port = 1883", at) + "timeout_s = 1\n")

    def start(self, ending: ExitStack) -> None:
        self.house.start()
        ending.callback(self.house.service.stop)
        self.agent.start()
        ending.callback(self.agent.stop)
        self.journal = ending.enter_context(Journal.open(self.house.journal_path))
        self.mirrored.journal = self.journal

    def stored_ms(self) -> list[int]:
        """The moments of all readings in the order in which they were stored."""
        with self.journal.read() as conn:
            return [row.measured_at_ms for row in samples.after(conn, 0, 100_000)]

    def is_online(self) -> bool | None:
        """What the journal knows of the board."""
        with self.journal.read() as conn:
            said = status.probe_statuses(conn).get("north-air")
        return None if said is None else said[0]

    def grows(self, what: str) -> None:
        """Wait for readings of now."""
        before = len(self.stored_ms())
        wait_until(lambda: len(self.stored_ms()) >= before + 5, what, PATIENCE_S)

    def says(self, service: Service, what: str, times: int) -> None:
        """Wait until a log has a sentence so many times."""
        told = f"{what!r}, {times} times; {service.log}: {service.output()[-2000:]}"
        wait_until(lambda: service.output().count(what) >= times, told, PATIENCE_S)


@pytest.mark.services
def test_networks_that_vanish_lose_nothing_and_bring_nothing_twice(tmp_path: Path, network: Network) -> None:
    with ExitStack() as ending:
        cut = Cut(tmp_path, network, ending)
        cut.start(ending)
        daemon, agent = cut.house.service, cut.agent
        cut.grows("readings of the board")
        wait_until(lambda: cut.is_online() is True, "the board to be known as online", PATIENCE_S)

        network.cut(STORE)
        cut.says(daemon, "Nothing gets to the mirror", 1)
        network.heal(STORE)
        network.cut(BOARD)
        wait_until(lambda: cut.is_online() is False, "the Last Will of the board", PATIENCE_S)
        network.cut(BARN)
        cut.says(agent, "is not connected", 1)
        cut.says(daemon, "No broker: ", 1)
        network.heal(BOARD, BARN)
        cut.says(agent, "is connected; ", 2)
        cut.says(daemon, "Broker: connected", 2)
        wait_until(lambda: cut.is_online() is True, "the board to be online again", PATIENCE_S)
        cut.grows("readings of now")
        assert agent.stop() == 0, agent.output()

        [segment] = cut.spool.glob("*.spool")
        lines = [line for raw in segment.read_bytes().splitlines(keepends=True) if (line := decode(raw)) is not None]
        measured_ms = [line.moment_ms for line in lines]
        sent = json.loads((cut.spool / "spool.json").read_text())["acknowledged"]
        wait_until(lambda: len(cut.stored_ms()) >= sent, "all that was sent in the journal", PATIENCE_S)
        stored_ms = cut.stored_ms()
        assert [line.number for line in lines] == list(range(1, len(lines) + 1))
        assert stored_ms == measured_ms[: len(stored_ms)]
        wait_until(cut.mirrored.has_all, f"the mirror to have all; {daemon.output()[-1000:]}", PATIENCE_S)
        assert cut.mirrored.differing() == []
