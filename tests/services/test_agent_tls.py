"""The agent of a board at the broker of a house, over TLS with a password of its own: in the end nothing is missing."""

import logging
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from sensors import sender
from sensors.board import board_state
from sensors.board_state import CERTIFICATE_SOON_S, BoardState
from sensors.publisher import ProbePublisher
from sensors.secured import Tls
from tests.sensors.agent.boards import board
from tests.sensors.agent.listening import number_of
from tests.sensors.agent.test_agent import LARGEST_MB, resident_mb
from tests.services.test_house_broker import connected
from tests.support.certificates import end_of
from tests.support.enrolled import House, opened_house
from tests.support.house_broker import FILES
from tests.support.mqtt_client import LONG
from tests.support.processes import Service, wait_until

pytestmark = pytest.mark.services

MEASURE = "clutchwarden/north-air/measure"
PAUSE_S = (0.02, 0.1)
DAY_S = 86_400


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    with opened_house(tmp_path_factory.mktemp("house")) as house:
        yield house


def written(path: Path, text: str) -> None:
    """Write a file that only its user may read."""
    path.write_text(text, encoding="utf-8")
    path.chmod(0o600)


def at_the_broker(house: House, name: str, probe_id: str, pause_s: tuple[float, float] = PAUSE_S) -> ProbePublisher:
    """A probe that sends over TLS, signed in by this name."""
    return ProbePublisher(
        probe_id,
        "localhost",
        house.broker.tls_port,
        username=name,
        password=house.passwords[name],
        tls=Tls(house.broker.authority),
        pause_s=pause_s,
    )


def test_a_board_with_a_wrong_authority_and_an_old_password_loses_nothing(tmp_path: Path, house: House) -> None:
    more = 'host = "localhost"\ntls = true\nca_file = "ca.pem"'
    file = board(tmp_path, house.broker.tls_port, interval_s=0.2)
    text = file.read_text().replace('host = "127.0.0.1"', more)
    file.write_text(text.replace('id = "north-air"', 'id = "north-air"\npassword_file = "password"'))
    written(tmp_path / "password", house.passwords["north-air"])
    # An authority of somebody else, as after the broker has moved to another machine.
    make = ["sh", str(FILES / "make-certificates.sh"), str(tmp_path / "other"), "localhost"]
    subprocess.run(make, check=True, capture_output=True)
    written(tmp_path / "ca.pem", (tmp_path / "other" / "ca.pem").read_text())
    agent = Service([sys.executable, "-P", "-m", "sensors.agent", str(file)], tmp_path / "agent.log")
    agent.start()
    try:
        with connected(house, "clutchwarden") as daemon:
            daemon.hear("clutchwarden/#")
            wait_until(lambda: "not from the authority in ca_file" in agent.output(), agent.output(), LONG)
            assert daemon.heard == []
            written(tmp_path / "ca.pem", house.broker.authority.read_text())
            wait_until(lambda: len(numbers(daemon.heard)) >= 5, "readings over TLS", LONG)
            assert ("clutchwarden/north-air/status", b"online") in daemon.heard
            ends_s = end_of(house.broker.authority.parent / "server.pem")
            wait_until(lambda: ends_s in certificate_ends(daemon.heard), "the end of the broker's certificate", LONG)
            assert agent.process is not None
            assert resident_mb(agent.process.pid) <= LARGEST_MB
            house.enrol("north-air", "--again")
            wait_until(
                lambda: "the broker refused the connection: not authorized" in agent.output(), "the refusal", LONG
            )
            assert agent.stop() == 0
            written(tmp_path / "password", house.passwords["north-air"])
            before = len(numbers(daemon.heard))
            agent.start()
            wait_until(lambda: len(numbers(daemon.heard)) > before + 5, "readings with the new password", LONG)
            assert agent.stop() == 0
            found = list(dict.fromkeys(numbers(daemon.heard)))
    finally:
        agent.stop()
    assert found == list(range(1, len(found) + 1))
    assert "Check user name and password: clutchwarden probe enroll --again" in agent.output()
    assert not any(password in agent.output() for password in house.passwords.values())


def certificate_ends(heard: list[tuple[str, bytes]]) -> list[float | None]:
    """Until when the certificate is good, by what the agent said of itself, in that order."""
    said = [board_state(payload, 0) for topic, payload in tuple(heard) if topic == "clutchwarden/north-air/agent"]
    return [each.certificate_ends_s for each in said if isinstance(each, BoardState)]


def numbers(heard: list[tuple[str, bytes]]) -> list[int]:
    """The numbers of the readings, in the order in which they came."""
    return [number_of(payload) for topic, payload in tuple(heard) if topic == MEASURE]


# The client library leaves a socket unclosed where the handshake fails; it goes with the next collection.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize(
    ("case", "said"),
    [
        ("another's name", "the broker refused a message: not authorized. What a probe may send goes by its user name"),
        ("a guessed password", "the broker refused the connection: not authorized. Check user name and password"),
        ("no tls there", "one side may speak TLS and the other not: look at the port"),
        ("tls missing here", "before the broker said a word; where this port is for TLS, say tls = true"),
        ("no authority", "cannot reach localhost"),
    ],
)
def test_what_is_refused_is_said_and_kept(
    house: House, caplog: pytest.LogCaptureFixture, tmp_path: Path, case: str, said: str
) -> None:
    caplog.set_level(logging.WARNING, "clutchwarden.probe")
    plain, name = case == "tls missing here", "north-lid" if case == "another's name" else "north-air"
    publisher = ProbePublisher(
        "north-air",
        "localhost",
        house.broker.port if case == "no tls there" else house.broker.tls_port,
        username=name,
        password="guessed" if case == "a guessed password" else house.passwords[name],
        tls=None if plain else Tls(tmp_path / "none.pem" if case == "no authority" else house.broker.authority),
        pause_s=PAUSE_S,
    )
    publisher.publish(1_780_000_000_000, {"t": (28.4, "Cel")})
    publisher.start()
    try:
        wait_until(lambda: said in caplog.text, said, LONG)
        assert publisher.waiting == 1
    finally:
        publisher.stop()
    assert caplog.text.count(said) == 1


def test_a_refused_message_is_said_once_and_tried_ever_more_rarely(
    house: House, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO, "clutchwarden.probe")
    publisher = at_the_broker(house, "north-lid", "north-air", (0.01, 60.0))
    publisher.publish(1_780_000_000_000, {"t": (28.4, "Cel")})

    def sessions() -> int:
        return house.broker.output().count(" as north-lid ")

    before, began_s = sessions(), time.monotonic()
    publisher.start()
    try:
        wait_until(lambda: sessions() >= before + 7, "seven sessions", LONG)
    finally:
        publisher.stop()
    # Six pauses, each twice as long as the one before, of which at least a half is waited: 0.01 to 0.63 s.
    assert time.monotonic() - began_s >= (0.02 + 0.04 + 0.08 + 0.16 + 0.32 + 0.64) / 2
    assert caplog.text.count("the broker refused a message") == 1
    assert caplog.text.count("is connected") == 1


# As above: the broker is killed in the middle of it.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_certificate_that_runs_out_soon_is_told_once(
    house: House, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.WARNING, "clutchwarden.probe")
    publisher = at_the_broker(house, "north-lid", "north-lid")
    publisher.start()
    try:
        # A connection made anew is no news of the certificate; that its end has come near is.
        for number, (ahead_s, told) in enumerate(((CERTIFICATE_SOON_S, 0), (1_000 * DAY_S, 1), (1_000 * DAY_S, 1))):
            monkeypatch.setattr(sender, "CERTIFICATE_SOON_S", ahead_s)
            house.broker.kill()
            house.broker.start()
            publisher.publish(1_780_000_000_000 + 60_000 * number, {"lid": (28.4, "Cel")})
            assert publisher.flush(LONG)
            assert caplog.text.count("The certificate of the broker localhost runs out on ") == told
    finally:
        publisher.stop()
