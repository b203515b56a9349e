"""The whole daemon in one process, on a fast clock where waiting is part of the matter."""

import json
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from daemon.clock import AcceleratedClock, SystemClock
from daemon.clutches.register import add_clutch
from daemon.commands.site_folder import read_site
from daemon.embedded import EmbeddedBroker, EmbeddedBrokerError
from daemon.service import Service, ServiceError, Stated
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.publisher import ProbePublisher
from tests.support.household import DAY_MS, QUIET_CALENDAR, a_clutch, now_ms, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import free_port, wait_until
from tests.support.receiver import Receiver

RATE = 40.0
Starter = Callable[[Path, float], Service]


def stated(folder: Path) -> Stated:
    site = read_site(folder)
    return Stated(site.folder, site.site, site.settings, site.profiles)


@pytest.fixture
def start() -> Iterator[Starter]:
    running: list[Service] = []

    def started(folder: Path, rate: float = 1.0) -> Service:
        whole = stated(folder)
        with Journal.open(whole.settings.storage.journal) as journal:
            journal.write(lambda conn: add_clutch(conn, a_clutch(now_ms() - 10 * DAY_MS), "test", now_ms()))
        clock = SystemClock() if rate == 1.0 else AcceleratedClock(now_ms(), rate)
        service = Service(whole, clock, sign_in=False)
        service.start()
        running.append(service)
        return service

    yield started
    for service in running:
        service.stop()


@pytest.mark.services
def test_silence_of_a_lost_broker_is_an_alarm_and_its_return_ends_it(
    tmp_path: Path, mosquitto: Mosquitto, start: Starter
) -> None:
    with Receiver() as receiver:
        # Told well before the silence of the probe is noticed, which follows from it; and over before that too, since
        # a silence that outlasts the return of the broker is an alarm of its own.
        more = "[alarm.broker-lost]\non_delay_s = 10\n" + QUIET_CALENDAR
        folder = write_site(tmp_path / "site", mosquitto.port, receiver.url("/phone"), more)
        site = folder / "site.toml"
        site.write_text(site.read_text().replace("interval_s = 60\n", "interval_s = 3600\n"))
        service = start(folder, RATE)
        wait_until(lambda: service.broker_state.connected, "the broker")
        clock = AcceleratedClock(service.overview().now_ms, RATE)

        def speak(until: Callable[[], bool]) -> None:
            probe = ProbePublisher("north-air", "127.0.0.1", mosquitto.port)
            probe.start()

            def once_more() -> bool:
                probe.publish(clock.now_ms(), {"air": (28.5, "Cel"), "rh": (70.0, "%RH")})
                return probe.flush(5) and until()

            wait_until(once_more, "the readings to have their effect", 40)
            probe.stop()

        speak(lambda: service.overview().samples_stored > 0)
        mosquitto.stop()
        wait_until(lambda: len(receiver.received) >= 1, "the alarm", 30)
        [alarm] = [row.json() for row in receiver.received]
        # One incident, one message: that no readings come follows from the broker.
        assert (alarm["alarm"], alarm["headline"]) == ("broker-lost", "URGENT Test house: broker lost")
        assert not service.overview().broker_connected

        mosquitto.start()
        wait_until(lambda: service.broker_state.connected, "the broker", 90)

        def kinds() -> list[str]:
            return [row.json()["kind"] for row in receiver.received]

        speak(lambda: "cleared" in kinds())
        # On a clock this fast the broker is away for long enough to be reminded of it.
        first, *between, last = kinds()
        assert (first, last) == ("alarm", "cleared")
        assert set(between) <= {"reminder"}


def test_with_an_embedded_broker_one_machine_is_enough(tmp_path: Path, start: Starter) -> None:
    folder = write_site(tmp_path / "site", free_port())
    settings = folder / "settings.toml"
    (folder / "password").write_text("a word of passage\n")
    inner = 'embedded = true\nprotocol = "3.1.1"\nusername = "probes"\npassword_file = "password"\n[web]'
    settings.write_text(settings.read_text().replace("[web]", inner))
    service = start(folder, 1.0)
    wait_until(lambda: service.broker_state.connected, "the inner broker")
    port = stated(folder).settings.broker.port

    def publisher(password: str) -> ProbePublisher:
        return ProbePublisher("north-air", "127.0.0.1", port, username="probes", password=password, protocol="3.1.1")

    stranger = publisher("guessed")
    stranger.start()
    stranger.publish(now_ms(), {"air": (99.0, "Cel")})
    assert not stranger.flush(1.0)
    stranger.stop()
    probe = publisher("a word of passage")
    probe.start()
    probe.publish(now_ms(), {"air": (28.5, "Cel")})
    assert probe.flush(10)
    probe.stop()

    def stored() -> list[float]:
        with service.journal.read() as conn:
            return [row.value for row in samples.after(conn, 0, 10)]

    wait_until(lambda: stored() == [28.5], "the reading, and no other")


def test_an_inner_broker_without_a_free_port_says_what_to_do() -> None:
    port = free_port()
    first = EmbeddedBroker("127.0.0.1", port)
    first.start()
    try:
        with pytest.raises(EmbeddedBrokerError, match="choose another port"):
            EmbeddedBroker("127.0.0.1", port).start()
    finally:
        first.stop()


def test_a_second_daemon_on_one_journal_is_refused(tmp_path: Path, start: Starter) -> None:
    folder = write_site(tmp_path / "site", free_port())
    start(folder, 1.0)
    second = Service(stated(folder), SystemClock())
    with pytest.raises(ServiceError, match="already runs"):
        second.start()


def test_a_page_that_is_asked_for_while_the_daemon_starts_is_answered(
    tmp_path: Path, start: Starter, monkeypatch: pytest.MonkeyPatch
) -> None:
    pages: list[str] = []
    begin = Service._start_evaluation

    def ask_first(service: Service, ending: object) -> None:
        with urllib.request.urlopen(str(service.page_url), timeout=10) as answer:
            pages.append(answer.read().decode())
        begin(service, ending)  # type: ignore[arg-type]

    monkeypatch.setattr(Service, "_start_evaluation", ask_first)
    start(write_site(tmp_path / "site", free_port()), 1.0)
    assert "Clutchwarden is starting" in pages[0]
    assert "in range" not in pages[0]


def test_what_is_wrong_with_the_daemon_itself_is_on_the_page_and_in_health(
    tmp_path: Path, start: Starter, monkeypatch: pytest.MonkeyPatch
) -> None:
    service = start(write_site(tmp_path / "site", free_port()), 1.0)
    # The evaluation takes back what it says once it works; so it must not come to that.
    monkeypatch.setattr(service._evaluation, "_evaluate", lambda: None)
    monkeypatch.setattr(service._evaluation, "trouble", "Readings are not evaluated: the disk is full.")
    assert service.page_url is not None
    with urllib.request.urlopen(service.page_url, timeout=10) as answer:
        page = answer.read().decode()
    assert "Readings are not evaluated: the disk is full" in page
    assert "in range" not in page
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(f"{service.page_url}health", timeout=10)
    assert refused.value.code == 503
    assert "Readings are not evaluated: the disk is full." in json.loads(refused.value.read())["reasons"]


def test_an_error_in_evaluation_is_said_and_over_when_its_cause_is(
    tmp_path: Path, start: Starter, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("daemon.evaluation.RETRY_S", 0.05)
    service = start(write_site(tmp_path / "site", free_port()), 1.0)

    def broken(_: object) -> tuple[int, bool]:
        raise ZeroDivisionError

    with monkeypatch.context() as patch:
        patch.setattr(service._evaluation._evaluator, "step", broken)
        service._committed.set()
        wait_until(lambda: any("not evaluated" in trouble for trouble in service.troubles()), "the trouble")
    wait_until(lambda: service.troubles() == (), "the end of it")
