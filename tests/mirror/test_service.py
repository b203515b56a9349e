"""The daemon as a process with a mirror: what is on the broker is in the InfluxDB, over a kill and an outage."""

from pathlib import Path

import pytest

from config.check import check_site
from config.words import AlarmKind
from daemon.occupancy import Occupancy
from daemon.standing_sources.mirror import MirrorStanding
from daemon.standing_sources.source import Moment
from daemon.storage import mirror
from daemon.storage.journal import Journal
from daemon.storage.mirror import TargetState
from daemon.thermometers import AirChannels
from tests.mirror.house import HOUR_MS, TOKEN, Mirrored
from tests.support.household import House, Probe, now_ms
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until


@pytest.mark.services
def test_a_reading_on_the_broker_gets_to_the_mirror_over_a_kill_and_an_outage(
    house: Mirrored, mosquitto: Mosquitto
) -> None:
    house.journal.close()
    settings = house.folder / "settings.toml"
    settings.write_text(settings.read_text().replace("port = 1883", f"port = {mosquitto.port}"))
    daemon = House(house.folder)
    daemon.start()
    probe = Probe(mosquitto.port)
    start_ms = now_ms()
    try:
        probe.temperatures([(start_ms - 60_000, 28.25)])
        wait_until(lambda: len(house.ask("SELECT value FROM reading")) == 1, "the reading in the mirror", 40)
        daemon.service.kill()
        house.engine.halt()
        daemon.start()
        probe.temperatures([(start_ms - 30_000, 28.5)])
        daemon.settle(2)
        wait_until(lambda: "Nothing gets to the mirror" in daemon.service.output(), "the word of it in the log", 40)
        house.engine.resume()
        wait_until(lambda: len(house.ask("SELECT value FROM reading")) == 2, "both readings in the mirror", 60)
        scraped = daemon.read("/metrics").text
        assert "clutchwarden_mirror_parked_points" in scraped
        assert "clutchwarden_mirror_lag_seconds" in scraped
        assert TOKEN not in daemon.service.output()
    finally:
        probe.close()
        daemon.service.stop()


def test_the_alarm_is_judged_by_what_the_journal_says(house: Mirrored) -> None:
    house.store(0, 5)
    site = check_site(house.folder).site
    assert site is not None
    source, air = MirrorStanding(site, house.settings), AirChannels(site)
    occupancy: Occupancy = None  # type: ignore[assignment]

    def kinds(now: int) -> list[AlarmKind]:
        with house.journal.read() as conn:
            moment = Moment(conn, now, occupancy, air, lambda _kind, _subject: False)
            return [each.kind for each in source.found(moment)]

    with house.journal.read() as conn:
        stored_ms = mirror.backlog(conn, house.target).oldest_ms
    assert kinds(stored_ms + 5 * HOUR_MS) == []
    state = TargetState("10.0.0.5", stored_ms, stored_ms, "it is not ready", stored_ms)
    house.journal.write(lambda conn: mirror.keep_state(conn, house.target, state))
    assert kinds(stored_ms + HOUR_MS // 2) == []
    assert kinds(stored_ms + 5 * HOUR_MS) == [AlarmKind.MIRROR_BEHIND]
    house.journal.write(lambda conn: mirror.raise_cursors(conn, house.target, 10, 0))
    assert kinds(stored_ms + 5 * HOUR_MS) == []


def test_a_cursor_never_goes_back_and_each_target_has_its_own(tmp_path: Path) -> None:
    with Journal.open(tmp_path / "journal.sqlite3") as journal:
        journal.write(lambda conn: mirror.raise_cursors(conn, "a", 10, 2))
        journal.write(lambda conn: mirror.raise_cursors(conn, "a", 7, 3))
        with journal.read() as conn:
            assert mirror.cursors(conn, "a") == (10, 3)
            assert mirror.cursors(conn, "b") == (0, 0)
